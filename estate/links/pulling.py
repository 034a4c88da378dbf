"""Pulling cables into ducts and conduits: the sections between pull points, and what a pull takes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import NAN, Verdict
from estate.formulas.containment import bend_tension_n, straight_tension_n
from estate.network.courses import Course, course_of, joined
from estate.network.network import Network
from estate.survey.survey import Survey

CLOSED = ("duct", "conduit")
"""Containments that cable is pulled through; elsewhere it is laid in or fixed."""

PULL_POINTS = ("recorder", "patch", "junction", "pit", "camera")
"""Nodes where cable can be pulled from and pulled on; where routes just meet or end, nothing says so."""

GRAVITY_M_PER_S2 = 9.80665


@dataclass(frozen=True, slots=True)
class PullSection:
    """Closed segments in a row between two places where cable can be pulled."""

    nodes: tuple[int, int]
    """Where it starts and ends, in the cable's order."""
    segments: tuple[int, ...]
    course: Course

    @property
    def length_m(self) -> float:
        """Its length [m]."""
        return float(self.course.length_m.sum())

    @property
    def bends_deg(self) -> float:
        """All its bends together [°], NaN where one is not known."""
        return float(self.course.bend_deg.sum())


@dataclass(frozen=True, slots=True)
class Pull:
    """What pulling one cable through one section takes, by itself, from each end."""

    section: PullSection
    cable: str
    forward_n: float
    """Greatest tension pulling towards the section's end [N]; NaN where a bend or the cable's mass is not known."""
    backward_n: float
    """The same, pulling towards its start."""
    limit_n: float
    """The cable's own limit [N], NaN where the catalogue has none."""
    least_radius_m: float
    """Least radius of its bends, for the cable under tension and for the pressure on its side [m]."""

    @property
    def kinder_n(self) -> float:
        """The tension pulling from the kinder end [N]."""
        return min(self.forward_n, self.backward_n)

    @property
    def feed_node(self) -> int:
        """The kinder end: where the cable is fed in."""
        return self.section.nodes[0] if self.forward_n <= self.backward_n else self.section.nodes[1]

    @property
    def verdict(self) -> Verdict:
        """Outside above the cable's limit, verify where either is not known."""
        if np.isnan(self.kinder_n) or np.isnan(self.limit_n):
            return Verdict.VERIFY
        return Verdict.OUTSIDE if self.kinder_n > self.limit_n else Verdict.WITHIN


Part = tuple[tuple[int, ...], tuple[int, ...]]
"""Nodes of a part of a way, one more than its segments, and its segments."""


def pull_parts(network: Network, nodes: Sequence[int], segments: Sequence[int]) -> Iterator[Part]:
    """Yield the parts of a way that cable is pulled through from one pull point to the next.

    `nodes` are those before, between and after the segments.
    """
    start = 0
    for k in range(1, len(segments) + 1):
        if k < len(segments) and not _parted(network, segments[k - 1], segments[k], nodes[k]):
            continue
        if network.segment_containment[segments[start]] in CLOSED:
            yield tuple(nodes[start : k + 1]), tuple(segments[start:k])
        start = k


def pull_section(survey: Survey, network: Network, part: Part) -> PullSection:
    """Return a part of a way with its course."""
    nodes, segments = part
    return PullSection((nodes[0], nodes[-1]), segments, _course(survey, network, nodes[:-1], segments))


def _parted(network: Network, before: int, after: int, node: int) -> bool:
    """Whether cable can be pulled at the node between two segments, or needn't be pulled beyond it.

    An entry of a building is such a place only where one route ends and another begins.
    """
    kinds = network.segment_containment
    if (kinds[before] in CLOSED) != (kinds[after] in CLOSED) or network.node_kind[node] in PULL_POINTS:
        return True
    other_route = network.segment_route[before] != network.segment_route[after]
    return bool(network.node_kind[node] == "entry" and other_route)


def _course(survey: Survey, network: Network, nodes: Sequence[int], segments: Sequence[int]) -> Course:
    """Return the course of segments passed from the nodes before them."""
    courses = []
    for node, segment in zip(nodes, segments, strict=True):
        course = course_of(survey, network, segment)
        courses.append(course if int(network.segment_from[segment]) == node else course.back())
    return joined(courses)


def pull(section: PullSection, cable: str, catalogue: Catalogue, friction: float) -> Pull:
    """Return what pulling one cable through a section takes; it comes off its drum without tension."""
    entry = catalogue.cables[cable]
    weight_n_per_m = entry.number("mass_kg_per_km") / 1000 * GRAVITY_M_PER_S2
    forward, backward = (
        greatest_tension_n(course, weight_n_per_m, friction)
        for course in (section.course, section.course.back())
    )
    sidewall_n_per_m = float(catalogue.rules["pulling"]["sidewall_n_per_m"].value)
    diameters = entry.number("bend_radius_pull_od")
    diameters = entry.number("bend_radius_od") if np.isnan(diameters) else diameters
    own_m = diameters * entry.number("od_mm") / 1000
    bent = section.bends_deg != 0
    least_m = np.maximum(own_m, min(forward, backward) / sidewall_n_per_m) if bent else NAN
    return Pull(section, cable, forward, backward, entry.number("pull_max_n"), float(least_m))


def greatest_tension_n(course: Course, weight_n_per_m: float, friction: float) -> float:
    """Return the greatest tension of a pull along a course [N], NaN where a bend or the weight is not known.

    Straights and bends in turn: T + w·L·(sin α + µ·cos α), then T·e^(µ·θ).
    """
    if np.isnan(weight_n_per_m) or np.isnan(course.bend_deg).any() or np.isnan(course.length_m).any():
        return NAN
    tension = greatest = 0.0
    for k, (length_m, slope) in enumerate(zip(course.length_m, course.slope_deg, strict=True)):
        tension = float(straight_tension_n(tension, weight_n_per_m, length_m, friction, slope))
        if k < len(course.bend_deg):
            tension = float(bend_tension_n(tension, friction, course.bend_deg[k]))
        greatest = max(greatest, tension)
    return greatest


@dataclass(frozen=True, slots=True)
class PullPit:
    """One more pull point in a section: how far from its start, and the tension that is left."""

    from_start_m: float
    tension_n: float


def best_pit(section: PullSection, cable: str, catalogue: Catalogue, friction: float) -> PullPit | None:
    """Return where one more pull point helps most: at a bend or half-way along a straight; None where none can be."""
    course, best = section.course, None
    weight_n_per_m = catalogue.cables[cable].number("mass_kg_per_km") / 1000 * GRAVITY_M_PER_S2
    for before, after in _cuts(course):
        tension = max(
            min(greatest_tension_n(way, weight_n_per_m, friction) for way in (part, part.back()))
            for part in (before, after)
        )
        if best is None or tension < best.tension_n:
            best = PullPit(float(before.length_m.sum()), tension)
    return best


def _cuts(course: Course) -> Iterator[tuple[Course, Course]]:
    """Yield a course cut in two: at each bend, which falls away, and in the middle of each straight."""
    lengths, slopes, bends = course.length_m, course.slope_deg, course.bend_deg
    for k in range(len(lengths)):
        half = lengths[k] / 2
        yield (
            Course(np.append(lengths[:k], half), slopes[: k + 1], bends[:k], None, None),
            Course(np.append(half, lengths[k + 1 :]), slopes[k:], bends[k:], None, None),
        )
        if k < len(bends):
            yield (
                Course(lengths[: k + 1], slopes[: k + 1], bends[:k], None, None),
                Course(lengths[k + 1 :], slopes[k + 1 :], bends[k + 1 :], None, None),
            )
