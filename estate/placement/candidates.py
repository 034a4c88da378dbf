"""From found links to the placement task: sites with their sizes, candidates, works."""

from collections.abc import Sequence

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.links.camera import CameraFacts
from estate.links.conditions import stream_mbps
from estate.links.found import Found
from estate.links.prices import PriceBook
from estate.links.search import LinkSearch, kind_of
from estate.links.site import SiteFacts
from estate.placement.task import Candidate, PlacementTask, Site
from estate.settings import DesignSection
from estate.survey.survey import Layer


def placement_task(search: LinkSearch, found: Sequence[Found]) -> PlacementTask:
    """Return the task of choosing recorders and one of the found links per camera."""
    design = search.settings.design
    index = {camera.id: k for k, camera in enumerate(search.cameras)}
    candidates = tuple(_candidate(search, each) for each in found)
    works = sorted({segment for each in candidates for segment in each.works})
    return PlacementTask(
        cameras=tuple(camera.id for camera in search.cameras),
        priorities=tuple(camera.priority for camera in search.cameras),
        sites=tuple(
            _site(site, search.survey.points, search.catalogue, search.prices, design)
            for site in search.sites
        ),
        candidates=candidates,
        works_cost={segment: float(search.works[segment]) for segment in works},
        objective=design.objective,
        spare_percent=design.spare_percent,
        recorders_exactly=design.recorders_exactly,
        recorders_at_most=design.recorders_at_most,
        apart=tuple(tuple(index[c] for c in group) for group in design.apart),
        gap_percent=design.gap_percent,
        time_limit_s=design.time_limit_s,
    )


def _candidate(search: LinkSearch, found: Found) -> Candidate:
    """Return one found link as the program sees it."""
    camera = search.cameras[found.camera]
    return Candidate(
        camera=found.camera,
        site=found.site,
        port=kind_of(found.scheme, search, discouraged=found.discouraged)[0],
        cost=found.own_cost,
        cable_m=found.new_cable_m,
        verify=found.verdict is Verdict.VERIFY,
        discouraged=found.discouraged,
        mbps=camera_mbps(camera, search.catalogue),
        poe_w=port_w(found, search.catalogue),
        works=tuple(sorted({s for s in found.segments if search.works[s] > 0})),
    )


def camera_mbps(camera: CameraFacts, catalogue: Catalogue) -> float:
    """Return the camera's recorded stream [Mb/s], 0 where neither it nor its signal has a figure."""
    return float(np.nan_to_num(stream_mbps(camera, catalogue)))


def port_w(found: Found, catalogue: Catalogue) -> float:
    """Return the power that the head's port must allocate to a link [W], 0 without PoE."""
    return float(np.nan_to_num(catalogue.feeds[found.scheme.stages[0].feed].number("pse_w")))


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
