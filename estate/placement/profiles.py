"""How a link's budget fills up along its cables: what governs its length, and the volts of its feed."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from estate.findings import NAN
from estate.links.assess import fibre_lines, signal_lines
from estate.links.conditions import Joints
from estate.links.earths import with_items
from estate.links.found import Found, Stretch
from estate.links.ground import Ground
from estate.links.judging import signalling
from estate.links.link import BudgetLine, CableRun, Link
from estate.links.power import supply_volts
from estate.links.variants import Variant

GROWING = ("reach", "fixed part", "channel", "loss", "fibre loss", "fibre reach", "material")
"""Budget lines whose value grows with the length of a stretch."""


@dataclass(frozen=True, slots=True)
class ProfilePoint:
    """One node on the way of a link."""

    link: str
    stretch: int
    node: str
    at_m: float
    """Length of cable from the head [m]."""
    quantity: str
    """The budget line of this stretch that comes nearest to its limit by length."""
    value: float
    limit: float
    unit: str
    volts_day: float
    """Of the feed there, with the camera's load at the end of it; NaN where no feed runs."""
    volts_night: float
    volts_min: float

    @property
    def share_percent(self) -> float:
        """What the stretch has used of its limit [%]."""
        return 100 * self.value / self.limit


def link_profiles(
    ground: Ground, links: Iterable[Link], found: Mapping[str, Found]
) -> tuple[ProfilePoint, ...]:
    """Return the points of all links, from the head on; `found` are the links of cameras, by the camera's id.

    Of uplinks only those on fibre have a profile.
    """
    points: list[ProfilePoint] = []
    for link in links:
        if link.camera in found:
            points += _camera_points(ground, link.id, found[link.camera])
        elif link.kind != "camera" and all(_is_on_fibre(ground, run) for run in link.runs):
            points += _uplink_points(ground, link)
    return tuple(points)


def _camera_points(ground: Ground, link: str, found: Found) -> Iterator[ProfilePoint]:
    volts = _volts(ground, found)
    start_m = 0.0
    for k, stretch in enumerate(found.stretches):
        along_m = _along_m(ground, stretch.nodes, stretch.segments, stretch.cable_length_m)
        governing = _governing(_lines(ground, found, k, stretch.cable_length_m))
        for node, at_m in zip(stretch.nodes, along_m, strict=True):
            line = next((x for x in _lines(ground, found, k, at_m) if _same(x, governing)), None)
            day, night = volts.at(k, at_m)
            yield _point(ground, link, k + 1, node, start_m + at_m, line, (day, night, volts.least))
        start_m += stretch.cable_length_m


def _lines(ground: Ground, found: Found, k: int, length_m: float) -> list[BudgetLine]:
    """Return the lines on how far the signal of stretch k goes, were it so long [m]."""
    stretch = found.stretches[k]
    facts = signalling(ground.cameras[found.camera], stretch.signal)
    conditions = ground.conditions(ground.sites[found.site], hot=ground.is_hot(stretch.segments))
    lines = signal_lines(stretch.variant, facts, length_m, conditions, stretch.joints)
    return with_items(lines, stretch.items, ground.catalogue, ground.settings.limits)


def _governing(lines: Iterable[BudgetLine]) -> BudgetLine | None:
    """Return the line that comes nearest to its limit by length, None where none has a limit."""
    limited = [x for x in lines if not x.informs and x.quantity in GROWING and x.limit > 0]
    known = [x for x in limited if np.isfinite(x.value)]
    return max(known, key=lambda x: x.value / x.limit, default=None)


def _same(line: BudgetLine, other: BudgetLine | None) -> bool:
    return other is not None and (line.quantity, line.profile, line.limit) == (
        other.quantity,
        other.profile,
        other.limit,
    )


def _along_m(
    ground: Ground, nodes: tuple[int, ...], segments: tuple[int, ...], cable_length_m: float
) -> list[float]:
    """Return how much of a cable lies before each node [m]: its slack and its ends are spread over the way."""
    way_m = np.concatenate([[0.0], np.cumsum(ground.network.segment_length_m[list(segments)])])
    if way_m[-1] <= 0:
        return [float(at) for at in np.linspace(0.0, cable_length_m, len(nodes))]
    return [float(at) for at in way_m / way_m[-1] * cable_length_m]


@dataclass(frozen=True, slots=True)
class _Volts:
    """Volts along the stretches that carry a feed: they fall in proportion to the loop passed."""

    source: int
    """Stretch at whose head the feed begins."""
    lengths_m: tuple[float, ...]
    loops: tuple[float, ...]
    """Parts of the loop that the stretches from there on have."""
    supply: float
    day: float
    night: float
    least: float

    def at(self, k: int, at_m: float) -> tuple[float, float]:
        """Return the volts by day and at night after `at_m` of stretch k [V], NaN where no feed runs."""
        if k < self.source or np.isnan(self.supply):
            return NAN, NAN
        place = k - self.source
        passed = sum(self.loops[:place]) + self.loops[place] * at_m / max(self.lengths_m[k], 1e-9)
        return (
            self.supply - (self.supply - self.day) * passed,
            self.supply - (self.supply - self.night) * passed,
        )


def _volts(ground: Ground, found: Found) -> _Volts:
    """Return supply and volts at the camera of a link's feed; an extended one is not followed."""
    scheme, camera = found.scheme, ground.cameras[found.camera]
    feed = ground.catalogue.feeds[scheme.feed]
    lengths_m = tuple(stretch.cable_length_m for stretch in found.stretches)
    at_camera = {line.state: line for line in found.lines if line.quantity == "volts"}
    source = len(lengths_m) - 1 if feed.kind == "poe" else scheme.source
    if feed.kind == "local" or scheme.extended or not {"day", "night"} <= set(at_camera):
        return _Volts(source, lengths_m, (), NAN, NAN, NAN, NAN)
    if feed.kind == "poe":
        supply = feed.number("pse_volts_min")
    else:
        site = ground.sites[found.site] if source == 0 else None
        supply = supply_volts(found.variant, camera, ground.conditions(site)).least
    loops = np.array([_loop(ground, stretch) for stretch in found.stretches[source:]])
    parts = tuple((loops / max(float(loops.sum()), 1e-12)).tolist())
    day, night = at_camera["day"], at_camera["night"]
    return _Volts(source, lengths_m, parts, supply, day.value, night.value, day.limit)


def _loop(ground: Ground, stretch: Stretch) -> float:
    """Return a measure of the loop of a stretch: the length of what carries the feed by its conductor's resistance."""
    cable = ground.catalogue.cables[stretch.variant.power_cable or stretch.variant.signal_cable]
    length_m = stretch.power_length_m if stretch.variant.power_cable else stretch.cable_length_m
    screen = (
        cable.number("screen_ohm_per_km")
        if ground.catalogue.feeds[stretch.variant.feed].kind == "coax"
        else NAN
    )
    return float((cable.number("conductor_ohm_per_km") + np.nan_to_num(screen)) * length_m)


def _is_on_fibre(ground: Ground, run: CableRun) -> bool:
    return run.cable in ground.catalogue.methods[run.method].applications


def _uplink_points(ground: Ground, link: Link) -> Iterator[ProfilePoint]:
    start_m = 0.0
    conditions = ground.conditions(None)
    for number, run in enumerate(link.runs):
        variant = Variant(run.method, run.feed, run.cable)
        for node, at_m in zip(run.nodes, _run_along_m(ground, run), strict=True):
            lines = fibre_lines(variant, start_m + at_m, conditions, Joints(good=number))
            line = next((x for x in lines if x.quantity == "fibre loss"), None)
            yield _point(ground, link.id, run.stretch, node, start_m + at_m, line, (NAN, NAN, NAN))
        start_m += run.cable_length_m


def _run_along_m(ground: Ground, run: CableRun) -> list[float]:
    return _along_m(ground, run.nodes, run.segments, run.cable_length_m)


def _point(
    ground: Ground,
    link: str,
    stretch: int,
    node: int,
    at_m: float,
    line: BudgetLine | None,
    volts: tuple[float, float, float],
) -> ProfilePoint:
    told = ("", NAN, NAN, "") if line is None else (line.quantity, line.value, line.limit, line.unit)
    return ProfilePoint(link, stretch, str(ground.network.node_id[node]), at_m, *told, *volts)
