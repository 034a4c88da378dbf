"""For cameras without a link: what would have to change for one to stand, and what that costs in all.

Each kind of change is a search under relaxed rules, for all cameras together; what the link found then needs beyond the
rules as they are is the change. Money is that of the change itself and of the link.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from estate.catalogue.tables import Feed
from estate.findings import Verdict
from estate.links.alternatives import other_links
from estate.links.camera import CameraFacts
from estate.links.cures import Cure, segment_cures
from estate.links.earths import EarthPlace
from estate.links.found import Found, Stretch
from estate.links.judging import ends_of, judged, stands
from estate.links.new_trench import Dug, Trench, joined_to_recorder, trenches_to
from estate.links.schemes import EXTENDED, LOCAL
from estate.links.search import LinkSearch
from estate.links.site import POWERED
from estate.network.network import Network
from estate.settings import Settings

POWER = "power point"
METHOD = "other method"
CABLE = "other cable"
FEED = "other feed"
AT_CAMERA = "power at the camera"
SURVEY = "survey"
EARTHING = "earthing"
MAINS = "clear of mains"
TRENCH = "trench"
SEVERAL = "several changes"

EARTHINGS = (("TN-S", "TN-C-S"), ("TT",))
"""What a building of unknown earthing could turn out to have, by what links see alike; IT is left to the electrical designer."""


@dataclass(frozen=True, slots=True)
class Change:
    """What would give a camera a link: the change in words with its own money, and the link it makes possible."""

    camera: int
    kind: str
    text: str
    money: float
    """Of the change itself [currency]."""
    method: str
    head: str
    total: float
    """Of the change and the link, works included [currency]."""

    @property
    def told(self) -> str:
        """The change in one line."""
        return f"{self.text}: {self.method} from {self.head}, {self.total:.2f} in all"


@dataclass(frozen=True, slots=True)
class _Step:
    """One thing that has to change, and its money, None where it is not priced."""

    text: str
    money: float | None = None
    note: str = ""
    beside: bool = False
    """Whether its money is no part of the link's own."""

    @property
    def told(self) -> str:
        money = "" if self.money is None else f"{self.money:.2f}"
        brackets = "; ".join(filter(None, (money, self.note)))
        return f"{self.text} ({brackets})" if brackets else self.text


def changes_for(search: LinkSearch, cameras: Sequence[int]) -> dict[int, list[Change]]:
    """Return for each camera without a link the best change of every kind that gives it one, the cheapest first.

    Two changes or more at once are told only where no single one helps.
    """
    told = [c for c in cameras if search.cameras[c].signal is not None]
    found: dict[int, list[Change]] = {camera: [] for camera in cameras}
    joined = [c for c in told if joined_to_recorder(search, c)]
    had = {spare for found in search.designed.values() for spare in found.spares}
    as_is = replace(search.without_spares(had), sites=search.sites[: search.recorders])
    for change in (*_single(as_is, joined), *_trenches(as_is, told)):
        found[change.camera].append(change)
    for change in _several(as_is, [c for c in joined if not found[c]]):
        found[change.camera].append(change)
    return {camera: sorted(made, key=lambda c: (round(c.total, 2), c.kind)) for camera, made in found.items()}


def _single(search: LinkSearch, cameras: Sequence[int]) -> Iterator[Change]:
    """Yield what each relaxed rule by itself gives."""
    design, limits = search.settings.design, search.settings.limits
    if not cameras:
        return
    yield from _found_with(search, _with_power(search), cameras, POWER)
    if design.methods:
        yield from _found_with(search, _relaxed(search, methods=()), cameras, METHOD)
    if design.cables:
        yield from _found_with(search, _relaxed(search, cables=()), cameras, CABLE)
    feeds = {c: facts for c in cameras if (facts := _other_feeds(search, c)) is not None}
    yield from _found_with(search, _with_cameras(search, feeds), list(feeds), FEED)
    local = {c: facts for c in cameras if (facts := _own_power(search, c)) is not None}
    yield from _found_with(search, _with_cameras(search, local), list(local), AT_CAMERA)
    if limits.verify_in_design == "never":
        established = replace(search.settings, limits=replace(limits, verify_in_design="last"))
        yield from _found_with(search, _with_settings(search, established), cameras, SURVEY)
    yield from _earthed(search, cameras)
    yield from _clear_of_mains(search, cameras)


# Relaxed rules


def _with_settings(search: LinkSearch, settings: Settings) -> LinkSearch:
    return replace(search, survey=replace(search.survey, settings=settings), designed={})


def _relaxed(search: LinkSearch, **design: Any) -> LinkSearch:
    """Return the search with other settings of [design]; money is made least."""
    settings = search.settings
    return _with_settings(
        search, replace(settings, design=replace(settings.design, objective="cost", **design))
    )


def _with_power(search: LinkSearch) -> LinkSearch:
    """Return the search with power brought to every patch point, at its price where equipment stands."""
    points, network = search.survey.points, search.network
    listed = search.prices.rate("power_point", "").value
    powered = dict(search.powered_at_cost)
    for row in np.flatnonzero(points["kind"] == "patch").tolist():
        node, cost = int(network.point_node[row]), float(points["power_cost"][row])
        if node >= 0 and not network.node_has_power[node] and node not in powered:
            powered[node] = listed if np.isnan(cost) else cost
    return replace(_relaxed(search), powered_at_cost=powered)


def _with_cameras(search: LinkSearch, facts: dict[int, CameraFacts]) -> LinkSearch:
    """Return the search with other facts of some cameras."""
    cameras = [facts.get(c, each) for c, each in enumerate(search.cameras)]
    return replace(_relaxed(search), cameras=cameras)


def _takes(feed: Feed, camera: CameraFacts) -> bool:
    """Whether a camera takes a feed as it is: listed, or any; of its own volts where both are known."""
    listed = not camera.feeds or feed.id in camera.feeds
    volts = feed.number("source_volts")
    same = np.isnan(camera.volts) or np.isnan(volts) or feed.kind == "coax" or volts == camera.volts
    return listed and same and (feed.id != LOCAL or camera.has_own_power)


def _other_feeds(search: LinkSearch, camera: int) -> CameraFacts | None:
    """Return a camera that takes the feeds that it doesn't take now, at their volts; None where there are none."""
    facts, feeds = search.cameras[camera], search.catalogue.feeds.values()
    others = tuple(f.id for f in feeds if f.id != LOCAL and not _takes(f, facts))
    if not others:
        return None
    nan = float("nan")
    return replace(facts, feeds=others, volts=nan, volts_min=nan, volts_max=nan)


def _own_power(search: LinkSearch, camera: int) -> CameraFacts | None:
    """Return a camera with power where it stands, None where it has that or doesn't take it."""
    facts = search.cameras[camera]
    takes = not facts.feeds or LOCAL in facts.feeds
    return replace(facts, power=POWERED[0]) if takes and not facts.has_own_power else None


# What was found


def _found_with(
    search: LinkSearch,
    relaxed: LinkSearch,
    cameras: Sequence[int],
    kind: str,
) -> Iterator[Change]:
    """Yield the change behind the cheapest link that relaxed rules give each camera."""
    for found in _cheapest(relaxed, cameras):
        steps = _steps(search, found)
        if steps:
            yield _change(relaxed, found, kind, steps)


def _change(relaxed: LinkSearch, found: Found, kind: str, steps: Sequence[_Step]) -> Change:
    """Return a change with its money; power at patch points and works are part of the link's cost already."""
    paid = found.own_cost + found.works_cost
    beside = sum(step.money or 0.0 for step in steps if step.beside)
    return Change(
        camera=found.camera,
        kind=kind,
        text=" and ".join(step.told for step in steps),
        money=sum(step.money or 0.0 for step in steps),
        method=found.scheme.name,
        head=relaxed.sites[found.site].id,
        total=paid + beside,
    )


def _cheapest(search: LinkSearch, cameras: Sequence[int]) -> list[Found]:
    """Return the cheapest link of each camera that has one, from any site."""
    with_verify = search.settings.limits.verify_in_design == "last"
    sites = range(len(search.sites))
    links = (next(other_links(search, c, sites, with_verify=with_verify), None) for c in sorted(cameras))
    return [link for link in links if link is not None]


def _steps(search: LinkSearch, found: Found) -> list[_Step]:
    """Return what a link needs beyond the rules as they are."""
    return [
        *_power_steps(search, found),
        *_method_steps(search, found),
        *_cable_steps(search, found),
        *_feed_steps(search, found),
        *_survey_steps(search, found),
    ]


def _power_steps(search: LinkSearch, found: Found) -> Iterator[_Step]:
    """Yield power to be brought to where equipment stands."""
    network = search.network
    for stop, stretch in zip(found.scheme.stops, found.stretches, strict=False):
        node = stretch.nodes[-1]
        if stop.needs_mains and node not in search.powered_nodes:
            row = int(np.flatnonzero(search.survey.points["id"] == network.node_id[node])[0])
            cost = float(search.survey.points["power_cost"][row])
            listed = search.prices.rate("power_point", "").value
            yield _Step(f"power at patch point {network.node_id[node]}", listed if np.isnan(cost) else cost)


def _method_steps(search: LinkSearch, found: Found) -> Iterator[_Step]:
    allowed = search.settings.design.methods
    used = [*(stage.method for stage in found.scheme.stages), *([EXTENDED] if found.scheme.extended else [])]
    others = [name for name in dict.fromkeys(used) if allowed and name not in allowed]
    if others:
        yield _Step(f"{' and '.join(others)} allowed in [design] methods")


def _cable_steps(search: LinkSearch, found: Found) -> Iterator[_Step]:
    allowed = search.settings.design.cables
    used = [cable for stretch in found.stretches for cable in stretch.variant.cables]
    others = [name for name in dict.fromkeys(used) if allowed and name not in allowed]
    if others:
        yield _Step(f"{' and '.join(others)} allowed in [design] cables")


def _feed_steps(search: LinkSearch, found: Found) -> Iterator[_Step]:
    """Yield power where the camera stands, and another feed."""
    camera, feed = search.cameras[found.camera], search.catalogue.feeds[found.scheme.feed]
    if feed.id == LOCAL and not camera.has_own_power:
        money = search.prices.rate("power_point", "").value
        yield _Step("unswitched power at the camera", money, beside=True)
        camera = replace(camera, power=POWERED[0])
    if not _takes(feed, camera):
        volts = "" if np.isnan(camera.volts) else f" {camera.volts:g} V"
        now = f"{' or '.join(camera.feeds)}{volts}".strip()
        yield _Step(f"feed {feed.id} ({feed.name}) in place of {now}", note="the camera's side not priced")


def _survey_steps(search: LinkSearch, found: Found) -> Iterator[_Step]:
    """Yield a distance that has to be established where the user wants no link on an unproven one."""
    if search.settings.limits.verify_in_design == "never" and found.verdict is Verdict.VERIFY:
        places = [line.text for line in found.lines if line.verdict is Verdict.VERIFY]
        yield _Step(f"separation {' and '.join(dict.fromkeys(places))} established on site, if it is kept")


# Earthing to be established


def _earthed(search: LinkSearch, cameras: Sequence[int]) -> Iterator[Change]:
    """Yield the link that cameras have if the buildings of unknown earthing turn out to be of one kind that there is."""
    buildings = search.survey.buildings
    blank = np.array([value is None for value in buildings["earthing"]], dtype=bool)
    if not blank.any():
        return
    for earthing in EARTHINGS:
        column = buildings["earthing"].copy()
        column[blank] = earthing[0]
        layer = replace(buildings, columns={**buildings.columns, "earthing": column})
        relaxed = _relaxed(replace(search, survey=replace(search.survey, buildings=layer)))
        for found in _cheapest(relaxed, cameras):
            zones = _zones(search, found)
            names = [str(n) for n in buildings["id"][blank] if search.earths.zone_of(str(n)) in zones]
            text = " and ".join(names or map(str, buildings["id"][blank]))
            step = _Step(f"the earthing of {text} established and found to be {' or '.join(earthing)}")
            yield _change(relaxed, found, EARTHING, [step])


def _zones(search: LinkSearch, found: Found) -> set[str]:
    """Return the earth zones that a link joins: of the ends of its stretches, and of metal along its way."""
    zones: set[str] = set()
    for k, stretch in enumerate(found.stretches):
        for end in ends_of(search, found.scheme, k, found.camera, found.site, stretch.nodes):
            place = end if isinstance(end, EarthPlace) else search.earths.places[end]
            zones.add(place.zone or place.nearest)
    metal = {row: kinds for row, _, kinds in search.earths.joining_routes()}
    for route in set(search.network.segment_route[list(found.segments)].tolist()):
        zones |= set(metal.get(route, ()))
    return zones


# Clear of mains


def _clear_of_mains(search: LinkSearch, cameras: Sequence[int]) -> Iterator[Change]:
    """Yield what a barrier or a moved line gives where nothing but separation stands against a link."""
    regardless = _relaxed(search, proximity="cost")
    hopeful = [found.camera for found in _cheapest(regardless, cameras)]
    if not hopeful:
        return
    cures = _segment_cures(search)
    money = {c: {s: cure.cost for s, cure in own.items()} for c, own in cures.items()}
    curable = replace(regardless, cured=money)
    for found in _cheapest(curable, hopeful):
        needed = _needed(search, found, cures)
        added_m = {s: max(cure.added_m, 0.0) for s, cure in needed.items()}
        if needed and _stands_longer(curable, found, added_m):
            steps = [_Step(_cure_text(search.network, cure), cure.cost) for cure in needed.values()]
            yield _change(curable, found, MAINS, [*_steps(search, found), *steps])


Cures = dict[str, dict[int, Cure]]
"""The cure of each segment too near mains, by the separation class of the cables there."""


def _segment_cures(search: LinkSearch) -> Cures:
    """Return for each class the cheapest cure, of those that leave the cables as they are, of every segment that has one."""
    cables, allowed = search.catalogue.cables, search.settings.design.cables
    usable = [c for c in cables.values() if (c.id in allowed if allowed else not c.legacy)]
    found: Cures = {}
    for cable_class in sorted({c.separation_class for c in usable} - {""}):
        near = np.flatnonzero(search.separation.verdicts(cable_class) == Verdict.OUTSIDE)
        cures = {s: segment_cures(search, s, [cable_class]) for s in near.tolist()}
        found[cable_class] = {s: best[0] for s, best in cures.items() if best}
    return found


def _needed(search: LinkSearch, found: Found, cures: Cures) -> dict[int, Cure]:
    """Return the cures that a link needs, by segment: that of the dearer class where two of its cables pass."""
    needed: dict[int, Cure] = {}
    for stretch in found.stretches:
        classes = {search.catalogue.cables[c].separation_class for c in stretch.variant.cables} - {""}
        for segment in stretch.segments if classes else ():
            cure = cures[min(classes)].get(segment)
            if cure is not None and (segment not in needed or cure.cost > needed[segment].cost):
                needed[segment] = cure
    return dict(sorted(needed.items()))


def _stands_longer(search: LinkSearch, found: Found, added_m: dict[int, float]) -> bool:
    """Whether a link stands with its segments so much longer."""

    def longer(stretch: Stretch) -> Stretch:
        slack = 1 + search.settings.lengths.slack_percent / 100
        more_m = slack * sum(added_m.get(s, 0.0) for s in stretch.segments)
        return replace(
            stretch,
            cable_length_m=stretch.cable_length_m + more_m,
            power_length_m=stretch.power_length_m + more_m,
        )

    moved = judged(search, replace(found, stretches=tuple(map(longer, found.stretches))))
    return stands(moved, with_verify=True)


def _cure_text(network: Network, cure: Cure) -> str:
    return (
        f"at {network.segment_id[cure.segment]} a {cure.text}"
        if cure.kind == "barrier"
        else (f"{network.segment_id[cure.segment]}: {cure.text}")
    )


# A new trench, and several changes at once


def _trenches(search: LinkSearch, cameras: Sequence[int]) -> Iterator[Change]:
    """Yield what a straight trench gives a camera whose part of the network joins no recorder."""
    dug = trenches_to(_relaxed(search), cameras)
    if dug is None:
        return
    for found in _cheapest(dug.search, [c for c in cameras if c in dug.lines]):
        used: dict[Trench, list[int]] = {}
        for segment in dict.fromkeys(found.segments):
            if segment in dug.of_segment:
                used.setdefault(dug.of_segment[segment], []).append(segment)
        steps = [_trench_step(dug, trench, segments) for trench, segments in used.items()]
        if steps:
            yield _change(dug.search, found, TRENCH, [*steps, *_steps(dug.search, found)])


def _trench_step(dug: Dug, trench: Trench, segments: Sequence[int]) -> _Step:
    near = dict.fromkeys(dug.near_buried[s] for s in segments if s in dug.near_buried)
    money = float(dug.search.works[list(segments)].sum())
    return _Step(trench.text, money, "; ".join((*trench.notes, *near)))


def _several(search: LinkSearch, cameras: Sequence[int]) -> Iterator[Change]:
    """Yield the cheapest of what all relaxed rules together give: methods, cables, power at patch points, and feeds.

    What the camera takes is relaxed in turn, each in a search of its own, so that none comes free: nothing, power where
    it stands, other feeds, and both.
    """
    if not cameras:
        return
    free = _relaxed(_with_power(search), methods=(), cables=())
    best: dict[int, Change] = {}
    for facts in _camera_facts(search, cameras):
        for change in _found_with(search, _with_cameras(free, facts), list(facts), SEVERAL):
            known = best.get(change.camera)
            if known is None or change.total < known.total:
                best[change.camera] = change
    yield from best.values()


def _camera_facts(search: LinkSearch, cameras: Sequence[int]) -> Iterator[dict[int, CameraFacts]]:
    """Yield what cameras could be beside what they are, each kind of change apart."""
    own = {c: search.cameras[c] for c in cameras}
    yield own
    yield {c: facts for c in cameras if (facts := _own_power(search, c)) is not None}
    yield {c: facts for c in cameras if (facts := _other_feeds(search, c)) is not None}
    yield {
        c: replace(facts, feeds=(LOCAL,), power=POWERED[0])
        for c, facts in own.items()
        if facts.feeds and LOCAL not in facts.feeds
    }
