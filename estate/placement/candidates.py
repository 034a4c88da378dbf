"""From found links to the placement task: sites with their sizes, candidates, works."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
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
from estate.placement.unknown_power import power_lines
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
    points, fibre = search.survey.points, search.catalogue.rules["fibre"]
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
        spare_cores=int(fibre["spare_cores"].value),
        spare_cores_percent=float(fibre["spare_cores_percent"].value),
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
        verify=found.verdict is Verdict.VERIFY or bool(power_lines(search, found)),
        discouraged=found.discouraged,
        mbps=camera_mbps(camera, search.catalogue),
        poe_w=port_w(found, search.catalogue),
        works=() if found.kept else tuple(sorted({s for s in found.segments if search.works[s] > 0})),
        cabinet=found.site - search.recorders if at_cabinet else -1,
        draw_w=max(drawn, default=0.0),
        fill=areas(new_cables(found), search.catalogue, rooms),
        spares=taken(search, found),
    )


def taken(search: LinkSearch, found: Found) -> tuple[str, ...]:
    """Return the installed cables that a link takes, those that may be cut by their parts."""
    known = {spare.id: spare.taken for spare in search.spares} if found.spares else {}
    return tuple(part for name in found.spares for part in known.get(name, (name,)))


def cabinet(search: LinkSearch, site: SiteFacts) -> Cabinet:
    """Return a patch point as a cabinet with the switches it could have.

    The two fibre modules of its uplink, or the four of two ways, are paid with the switch.
    """
    modules = 4 if search.settings.design.diverse_uplinks else 2
    uplink = modules * search.prices.item(search.catalogue.items["fibre-module"]).value
    cost, power_cost = cabinet_money(search, site)
    return Cabinet(
        id=site.id,
        cost=cost,
        power_cost=power_cost,
        switches=tuple(replace(each, uplink_cost=uplink) for each in _switches(search, site)),
        uplink_mbps=search.catalogue.signals["ethernet-1g"].number("line_mbps"),
    )


def _switches(search: LinkSearch, site: SiteFacts) -> list[Switch]:
    """Return the switch that stands in a cabinet, else those of the catalogue that are what is asked for.

    `ports` of a cabinet that stands are those of its own switch; of a candidate, how many ports its switch is to have,
    and `poe_w` the power for them: the least device of the catalogue that has both, counted with no more than these.
    """
    points, prices = search.survey.points, search.prices
    ports, watts = (float(points[column][site.row]) for column in ("ports", "poe_w"))
    if site.existing and not np.isnan(ports):
        return [Switch(int(ports), None if np.isnan(watts) else watts, 0.0, "existing", existing=True)]
    listed = [
        Switch(int(item.number("ports")), item.number("poe_w"), prices.item(item).value, item.id)
        for item in search.catalogue.items.values()
        if item.kind == "switch"
    ]
    fitting = [
        each for each in listed if not (each.ports < ports or (each.poe_w is not None and each.poe_w < watts))
    ]
    if np.isnan(ports) or not fitting:
        return fitting
    least = min(fitting, key=lambda each: (each.cost, each.ports, each.model))
    return [replace(least, ports=int(ports), poe_w=least.poe_w if np.isnan(watts) else watts)]


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
