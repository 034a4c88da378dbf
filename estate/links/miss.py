"""Why a camera has no link: per method, the check it comes nearest to passing, in words."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Method, Signal
from estate.findings import Action, Verdict
from estate.links.camera import CameraFacts
from estate.links.conditions import cable_length_m
from estate.links.found import Found
from estate.links.judging import TOGETHER
from estate.links.lines import governing, in_words, states_in_words
from estate.links.link import BudgetLine
from estate.links.schemes import extensible
from estate.links.search import LinkSearch
from estate.links.site import SiteFacts
from estate.links.variants import (
    NOT_CARRIED,
    Variant,
    feeds_of,
    mismatch,
    needs_power_cable,
    usable_cables,
    usable_methods,
    variants,
)
from estate.links.ways import barred_by_place
from estate.network.paths import PathGraph, Tree, matrix, tree, way

HOPELESS = 1e3
"""Excess of a variant that stands at no length, or rests on an unknown fact of the camera."""

BARRED = 1e6
"""Excess of a variant whose cables may not lie on the way."""

STRETCH = ("fixed part", "channel", "reach", "loss", "fibre loss", "fibre reach", TOGETHER)
"""Quantities that a repeater mends."""

FEED = "feed"

STAGED = 2
"""How many of the schemes with equipment on the way are told, the nearest first."""


@dataclass(frozen=True, slots=True)
class Miss:
    """The nearest miss of one method for one camera.

    `excess` is how much its shortest way is too long, as a share of what it reaches; infinite where the method
    doesn't match or no way joins the two.
    """

    method: str
    text: str
    excess: float
    line: BudgetLine | None = None
    found: Found | None = None

    @property
    def action(self) -> Action:
        """What would mend it."""
        if self.line is None:
            return Action.CONNECT
        if self.line.verdict is Verdict.VERIFY:
            return Action.SURVEY
        if self.line.quantity == "separation":
            return Action.RELOCATE
        return Action.REPEATER if self.line.quantity in STRETCH else Action.CONVERT


@dataclass(frozen=True, slots=True)
class _Try:
    """How near one variant from one site comes to standing; `excess` as in Miss."""

    excess: float
    site: int
    variant: Variant | None
    text: str = ""


@dataclass
class _Shortest:
    """Shortest ways from the sites of a search, each tree grown once."""

    search: LinkSearch
    _trees: dict[tuple[int, bytes], tuple[PathGraph, Tree]] = field(default_factory=dict)
    _fit: dict[tuple[str, ...], NDArray[np.bool_]] = field(default_factory=dict)

    def fit(self, cables: tuple[str, ...]) -> NDArray[np.bool_]:
        """Return the segments that these cables may lie in, near mains or not."""
        if cables not in self._fit:
            self._fit[cables] = ~barred_by_place(self.search.network, cables, self.search.catalogue)
        return self._fit[cables]

    def tree(self, site: int, usable: NDArray[np.bool_]) -> tuple[PathGraph, Tree]:
        """Return the shortest ways from a site over some segments."""
        key = site, usable.tobytes()
        if key not in self._trees:
            network = self.search.network
            graph = matrix(network, np.where(usable, network.segment_length_m, np.inf))
            self._trees[key] = graph, tree(graph, self.search.sites[site].node)
        return self._trees[key]


def nearest_misses(search: LinkSearch, cameras: Sequence[int]) -> dict[int, list[Miss]]:
    """Return for each camera one miss per method that a design may use, the nearest first.

    Empty where there is no recorder site.
    """
    ways = _Shortest(search)
    tries: dict[int, dict[str, _Try]] = {camera: {} for camera in cameras}
    blind = {camera: why for camera in cameras if (why := _blind(search, camera))}
    for site in range(search.recorders):
        for camera, method, attempt in _at_site(ways, [c for c in cameras if c not in blind], site):
            known = tries[camera].get(method)
            if known is None or attempt.excess < known.excess:
                tries[camera][method] = attempt
    order = {m.id: k for k, m in enumerate(usable_methods(search.catalogue, search.settings.design))}
    behind = _staged(search, [camera for camera in cameras if camera not in blind])
    misses = {}
    for camera in cameras:
        if camera in blind:
            misses[camera] = [Miss("", blind[camera], np.inf)]
            continue
        found = [_miss(ways, camera, method, attempt) for method, attempt in tries[camera].items()]
        staged = sorted(behind[camera], key=lambda m: (m.excess, m.method))
        misses[camera] = sorted(
            [*found, *staged[:STAGED]], key=lambda m: (m.excess, order.get(m.method, len(order)), m.method)
        )
    return misses


def _blind(search: LinkSearch, camera: int) -> str:
    """Say why nothing can be tried for a camera, empty where something can."""
    facts = search.cameras[camera]
    if facts.signal is None:
        return "the camera's signal is not known"
    return "the camera joins no route" if search.network.point_node[facts.row] < 0 else ""


def miss_in_words(misses: list[Miss]) -> str:
    """Say in one line why a camera has no link.

    Methods that don't match are told only if none does, those with the same reason together, and those that don't
    carry the camera's signal only if nothing else is to be said.
    """
    near = [miss for miss in misses if np.isfinite(miss.excess)]
    if near:
        return "; ".join(f"{miss.method}: {miss.text}" for miss in near)
    carried = [miss for miss in misses if not miss.text.startswith(NOT_CARRIED)] or misses
    reasons: dict[str, list[str]] = defaultdict(list)
    for miss in carried:
        reasons[miss.text].append(miss.method)
    return "; ".join(
        f"{', '.join(methods)}: {text}" if all(methods) else text for text, methods in reasons.items()
    )


def _at_site(ways: _Shortest, cameras: list[int], site: int) -> Iterator[tuple[int, str, _Try]]:
    """Yield how near every method comes from one site, for each camera."""
    search = ways.search
    place, design = search.sites[site], search.settings.design
    users: dict[tuple[str, ...], list[tuple[int, Variant]]] = defaultdict(list)
    for camera in cameras:
        facts = search.cameras[camera]
        signal = search.catalogue.signals[str(facts.signal)]
        for method in usable_methods(search.catalogue, design):
            reason = mismatch(method, facts, place.head, signal) or _without_cable(
                search, method, facts, place
            )
            if reason:
                yield camera, method.id, _Try(np.inf, site, None, reason)
        for name, reason in _not_alone(search, signal):
            yield camera, name, _Try(np.inf, site, None, reason)
        for variant in variants(facts, place.head, search.catalogue, design):
            users[variant.cables].append((camera, variant))
    for cables, wanted in users.items():
        if place.node < 0:
            yield from (
                (c, v.method, _Try(np.inf, site, None, f"recorder {place.id} joins no route"))
                for c, v in wanted
            )
            continue
        _, found = ways.tree(site, ways.fit(cables))
        for camera, variant in wanted:
            yield camera, variant.method, _tried(search, camera, site, variant, found)


def _without_cable(search: LinkSearch, method: Method, facts: CameraFacts, place: SiteFacts) -> str:
    """Say which cable a method lacks by what the user allows, empty where it lacks none."""
    catalogue, design = search.catalogue, search.settings.design
    if not usable_cables(method.signal_cables, catalogue, design):
        return "no cable that [design] cables allows"
    feeds = feeds_of(method, facts, place.head)
    beside = all(needs_power_cable(method, feed) for feed in feeds)
    if beside and not usable_cables(method.power_cables, catalogue, design):
        return "no power cable that [design] cables allows"
    return ""


def _not_alone(search: LinkSearch, signal: Signal) -> Iterator[tuple[str, str]]:
    """Yield the methods that the user lists and that no link of one stretch has, with why."""
    catalogue, design = search.catalogue, search.settings.design
    usable = {method.id for method in usable_methods(catalogue, design)}
    extends = any(extensible(catalogue.methods[name], signal) for name in usable)
    for name in design.methods:
        method = catalogue.methods[name]
        if name in usable or ("extenders_max" in method.figures and extends):
            continue
        if signal.id not in method.signals:
            yield name, f"{NOT_CARRIED} {signal.id}"
        elif method.legacy:
            yield name, "no longer designed"
        elif not method.signal_cables:
            yield name, "has no cable, so no way is searched for it"
        else:
            yield name, "lengthens a link of another method, and [design] methods allows none"


def _tried(search: LinkSearch, camera: int, site: int, variant: Variant, found: Tree) -> _Try:
    """Say how much too long the shortest way is for a variant, as a share of its reach."""
    facts, place = search.cameras[camera], search.sites[site]
    way_m = float(found.distance[int(search.network.point_node[facts.row])])
    if not np.isfinite(way_m):
        return _Try(BARRED, site, variant)
    reach_m = search.reach_m(variant, facts, place)
    if reach_m <= 0:
        return _Try(HOPELESS, site, variant)
    length_m = cable_length_m(way_m, facts.height_m + place.height_m, search.settings.lengths)
    return _Try(max(length_m / reach_m - 1, 0.0), site, variant)


def _miss(ways: _Shortest, camera: int, method: str, attempt: _Try) -> Miss:
    """Judge the nearest try of a method.

    Where its shortest way is too near mains, the shortest that is clear of them is told too.
    """
    if attempt.variant is None:
        return Miss(method, attempt.text, np.inf)
    search, cables = ways.search, attempt.variant.cables
    near = _on_shortest(ways, camera, attempt, ways.fit(cables))
    if near is None:
        return _barred(ways, camera, attempt)
    told = _worst_line(near, attempt.excess)
    if told.line is None or told.line.quantity != "separation":
        return told
    clear = _on_shortest(ways, camera, attempt, search.open(cables, with_verify=True))
    if clear is None:
        return told
    beyond = _worst_line(clear, attempt.excess)
    both = f"{near.way_m:.1f} m: {told.text}; clear of mains, {clear.way_m:.1f} m: {beyond.text}"
    return replace(told, text=both, excess=max(told.excess, _way_excess(search, clear)))


def _on_shortest(ways: _Shortest, camera: int, attempt: _Try, usable: NDArray[np.bool_]) -> Found | None:
    """Return a variant on its shortest way over usable segments, judged; None where there is no way."""
    assert attempt.variant is not None
    search = ways.search
    node = int(search.network.point_node[search.cameras[camera].row])
    graph, found = ways.tree(attempt.site, usable)
    if not np.isfinite(found.distance[node]):
        return None
    return search.on_way(attempt.site, camera, attempt.variant, *way(graph, found, node))


def _way_excess(search: LinkSearch, found: Found) -> float:
    """Return by how much a link is too long, as a share of what its variant reaches."""
    reach_m = search.reach_m(found.variant, search.cameras[found.camera], search.sites[found.site])
    return max(found.cable_length_m / reach_m - 1, 0.0) if reach_m > 0 else HOPELESS


# Equipment on the way


def _staged(search: LinkSearch, cameras: Sequence[int]) -> dict[int, list[Miss]]:
    """Return for each camera the nearest miss of every scheme with equipment on the way, from its nearest recorder."""
    best: dict[tuple[int, str], Miss] = {}
    for site, near in _by_nearest_recorder(search, cameras).items():
        for camera, found, overrun in search.nearest(site, near):
            if not all(stretch.segments for stretch in found.stretches):
                continue  # equipment at the head or at the camera is no equipment on the way
            miss = _worst_line(found, overrun)
            key = (camera, found.scheme.name)
            if key not in best or miss.excess < best[key].excess:
                best[key] = miss
    return {c: [miss for (camera, _), miss in best.items() if camera == c] for c in cameras}


def _by_nearest_recorder(search: LinkSearch, cameras: Sequence[int]) -> dict[int, list[int]]:
    """Return the cameras by the recorder that is nearest along the routes; without those that no way joins to any."""
    network = search.network
    graph = matrix(network, network.segment_length_m)
    sites = [k for k in range(search.recorders) if search.sites[k].node >= 0]
    nodes = network.point_node[[search.cameras[c].row for c in cameras]]
    if not sites or not len(nodes):
        return {}
    distance_m = np.array([tree(graph, search.sites[k].node).distance[nodes] for k in sites])
    near: dict[int, list[int]] = defaultdict(list)
    for camera, column in zip(cameras, distance_m.T, strict=True):
        if np.isfinite(column).any():
            near[sites[int(np.argmin(column))]].append(camera)
    return near


def _barred(ways: _Shortest, camera: int, attempt: _Try) -> Miss:
    """Say which segment bars the shortest way, or that no route joins the two."""
    assert attempt.variant is not None
    search = ways.search
    network, site = search.network, search.sites[attempt.site]
    node = int(network.point_node[search.cameras[camera].row])
    graph, found = ways.tree(attempt.site, np.ones(network.segments, dtype=bool))
    if not np.isfinite(found.distance[node]):
        return Miss(attempt.variant.method, f"no route joins the camera to recorder {site.id}", np.inf)
    fit = ways.fit(attempt.variant.cables)
    _, segments = way(graph, found, node)
    first = next(s for s in segments if not fit[s])
    where = f"{network.segment_id[first]} ({network.segment_environment[first]})"
    cables = " with ".join(attempt.variant.cables)
    return Miss(attempt.variant.method, f"{cables} may not lie in {where}", BARRED)


def _worst_line(found: Found, excess: float) -> Miss:
    """Return the line of a link that is farthest over its limit."""
    failing = [line for line in governing(found.lines) if line.verdict in (Verdict.OUTSIDE, Verdict.VERIFY)]
    if not failing:
        return Miss(found.scheme.name, "stands alone, but no recorder has room for it", 0.0, None, found)
    worst = max(failing, key=_excess)
    by_cause: dict[str, BudgetLine] = {_cause(worst): worst}
    for line in failing:
        by_cause.setdefault(_cause(line), line)
    told = [
        states_in_words(found.lines) if cause == FEED else in_words(line) for cause, line in by_cause.items()
    ]
    return Miss(found.scheme.name, " and ".join(told), excess, worst, found)


def _cause(line: BudgetLine) -> str:
    """Return what a line is about: how far the signal goes, the feed, or a matter of its own."""
    if line.state:
        return FEED
    return "stretch" if line.quantity in STRETCH else line.quantity


def _excess(line: BudgetLine) -> float:
    """How far a line is from passing, as a share of its limit."""
    if line.verdict is Verdict.VERIFY:
        return 1e-6
    if np.isnan(line.value) or np.isnan(line.limit) or line.limit == 0:
        return 1e3
    return abs(line.value - line.limit) / abs(line.limit)
