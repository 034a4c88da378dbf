"""From found links to the placement task: sites with their sizes, candidates, works."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.links.chosen import camera_mbps, port_w
from estate.links.found import Found
from estate.links.prices import PriceBook
from estate.links.search import LinkSearch, kind_of
from estate.links.site import POWERED, SiteFacts
from estate.placement.room import areas, new_cables
from estate.placement.task import Cabinet, Candidate, PlacementTask, Section, Site, Switch
from estate.settings import DesignSection
from estate.survey.survey import Layer


def placement_task(
    search: LinkSearch,
    found: Sequence[Found],
    trunks: tuple[Section, ...],
    rooms: Mapping[int, float],
    limits: Mapping[int, float] = MappingProxyType({}),
) -> PlacementTask:
    """Return the task of choosing recorders, cabinets with uplinks in trunks, and one of the found links per camera.

    `rooms` has the segments whose room is known, `limits` what may still be laid where that is to be kept [mm²].
    """
    design = search.settings.design
    index = {camera.id: k for k, camera in enumerate(search.cameras)}
    candidates = tuple(_candidate(search, each, rooms) for each in found)
    works = sorted(
        {w for link in candidates for w in link.works} | {w for trunk in trunks for w in trunk.works}
    )
    recorders, cabinets = search.sites[: search.recorders], search.sites[search.recorders :]
    points = search.survey.points
    return PlacementTask(
        cameras=tuple(camera.id for camera in search.cameras),
        priorities=tuple(camera.priority for camera in search.cameras),
        sites=tuple(_site(site, points, search.catalogue, search.prices, design) for site in recorders),
        candidates=candidates,
        works_cost={segment: float(search.works[segment]) for segment in works},
        objective=design.objective,
        spare_percent=design.spare_percent,
        recorders_exactly=design.recorders_exactly,
        recorders_at_most=design.recorders_at_most,
        apart=tuple(tuple(index[c] for c in group) for group in design.apart),
        gap_percent=design.gap_percent,
        time_limit_s=design.time_limit_s,
        cabinets=tuple(cabinet(search, site) for site in cabinets),
        sections=trunks,
        fill_limits=dict(limits),
        segment_ids={s: str(search.network.segment_id[s]) for s in limits},
        spare_ports_percent=design.spare_percent,
        diverse_uplinks=design.diverse_uplinks,
    )


def _candidate(search: LinkSearch, found: Found, rooms: Mapping[int, float]) -> Candidate:
    """Return one found link as the program sees it."""
    camera = search.cameras[found.camera]
    at_cabinet = search.sites[found.site].is_cabinet
    drawn = [line.value for line in found.lines if line.quantity == "PoE port power"]
    return Candidate(
        camera=found.camera,
        site=-1 if at_cabinet else found.site,
        port=kind_of(found.scheme, search, discouraged=found.discouraged)[0],
        cost=found.own_cost,
        cable_m=found.new_cable_m,
        verify=found.verdict is Verdict.VERIFY,
        discouraged=found.discouraged,
        mbps=camera_mbps(camera, search.catalogue),
        poe_w=port_w(found, search.catalogue),
        works=tuple(sorted({s for s in found.segments if search.works[s] > 0})),
        cabinet=found.site - search.recorders if at_cabinet else -1,
        draw_w=max(drawn, default=0.0),
        fill=areas(new_cables(found), search.catalogue, rooms),
        spares=found.spares,
    )


def cabinet(search: LinkSearch, site: SiteFacts) -> Cabinet:
    """Return a patch point as a cabinet: its own switch where it says what that has, else any of the catalogue.

    The two fibre modules of its uplink, or the four of two ways, are paid with the switch.
    """
    points, catalogue, prices = search.survey.points, search.catalogue, search.prices

    def number(column: str) -> float:
        return float(points[column][site.row])

    modules = 4 if search.settings.design.diverse_uplinks else 2
    uplink = modules * prices.item(catalogue.items["fibre-module"]).value
    if not np.isnan(number("ports")):
        watts = None if np.isnan(number("poe_w")) else number("poe_w")
        switches: tuple[Switch, ...] = (
            Switch(int(number("ports")), watts, 0.0, "existing", existing=True, uplink_cost=uplink),
        )
    else:
        switches = tuple(
            Switch(int(i.number("ports")), i.number("poe_w"), prices.item(i).value, i.id, uplink_cost=uplink)
            for i in catalogue.items.values()
            if i.kind == "switch"
        )
    return Cabinet(
        id=site.id,
        cost=cabinet_money(search, site)[0],
        power_cost=cabinet_money(search, site)[1],
        switches=switches,
        uplink_mbps=catalogue.signals["ethernet-1g"].number("line_mbps"),
    )


def cabinet_money(search: LinkSearch, site: SiteFacts) -> tuple[float, float]:
    """Return the money of a cabinet itself and of bringing power to it, 0 for what is there [currency]."""
    points = search.survey.points
    own, power = (float(points[column][site.row]) for column in ("cost", "power_cost"))
    listed = search.prices.item(search.catalogue.items["cabinet"]).value
    cost = 0.0 if site.existing else (listed if np.isnan(own) else own)
    return cost, 0.0 if points["power"][site.row] in POWERED else power


def _site(
    site: SiteFacts, points: Layer, catalogue: Catalogue, prices: PriceBook, design: DesignSection
) -> Site:
    """Return one recorder site with the sizes it can have."""

    def at_most(column: str) -> float | None:
        value = float(points[column][site.row])
        return None if np.isnan(value) else value

    def count(column: str) -> int | None:
        value = at_most(column)
        return None if value is None else int(value)

    return Site(
        id=site.id,
        existing=site.existing,
        sizes=site_sizes(site, points, catalogue, prices),
        channels_analogue=count("channels_analogue"),
        channels_network=count("channels_network"),
        mbps_max=at_most("mbps_max"),
        poe_ports=count("poe_ports"),
        poe_w=at_most("poe_w"),
        keep=site.id in design.keep_recorders,
        forbid=site.id in design.forbid_recorders,
    )


def site_sizes(
    site: SiteFacts, points: Layer, catalogue: Catalogue, prices: PriceBook
) -> tuple[tuple[int, float, str], ...]:
    """Return (channels, cost, model): the device given with `channels`, else every size of the catalogue.

    An existing recorder costs nothing; one without `channels` is taken as the largest size and said so elsewhere.
    """
    catalogue_sizes = [int(size) for size in catalogue.rules["recorder"]["sizes"].value]
    channels, cost = float(points["channels"][site.row]), float(points["cost"][site.row])
    given = None if np.isnan(channels) else int(channels)
    if site.existing:
        return ((given if given is not None else max(catalogue_sizes), 0.0, "existing"),)
    sizes = catalogue_sizes if given is None else [given]

    def money(size: int) -> float:
        return prices.rate("recorder", str(size)).value if np.isnan(cost) else cost

    return tuple(
        (size, float(money(size)), f"recorder-{size}" if given is None else "given") for size in sizes
    )
