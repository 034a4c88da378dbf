"""A link as the search finds it: its stretches, what stands between them, its budget lines and its money."""

from dataclasses import dataclass

from estate.findings import Verdict
from estate.links.conditions import NO_JOINTS, Joints
from estate.links.lines import verdict_of
from estate.links.link import BudgetLine
from estate.links.schemes import Scheme
from estate.links.variants import Variant


@dataclass(frozen=True, slots=True)
class Reuse:
    """A spare installed cable on part of a stretch: which of its segments, from and up to."""

    cable: str
    first: int
    beyond: int
    length_m: float
    """Length of the cable itself [m]."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch of a link, from the head's side on."""

    variant: Variant
    signal: str
    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    way_m: float
    cable_length_m: float
    """Of its signal cable, spare parts of it included [m]."""
    power_length_m: float
    """Of the power cable beside it, all of it new [m]."""
    at_head: tuple[str, ...] = ()
    at_camera: tuple[str, ...] = ()
    inline: tuple[str, ...] = ()
    """Items at its end towards the head: an isolator where a screen would join two earths."""
    protectors: tuple[str, ...] = ()
    """Surge protectors at each end, where copper leaves a building."""
    reused: tuple[Reuse, ...] = ()
    joints: Joints = NO_JOINTS
    """Those of its signal cable."""

    @property
    def items(self) -> tuple[str, ...]:
        """What stands in it beside its ends."""
        return (*self.inline, *self.protectors, *self.protectors)

    @property
    def pieces(self) -> tuple[tuple[int, int, Reuse | None], ...]:
        """The pieces of its signal cable, from and up to which segment, and the spare cable that one is."""
        found: list[tuple[int, int, Reuse | None]] = []
        at = 0
        for each in self.reused:
            found += [(at, each.first, None)] if each.first > at else []
            found.append((each.first, each.beyond, each))
            at = each.beyond
        rest = at < len(self.segments) or not found
        return (*found, (at, len(self.segments), None)) if rest else tuple(found)

    @property
    def new_m(self) -> float:
        """Length of new cable, all its cables together [m]."""
        beside_m = self.power_length_m if self.variant.power_cable else 0.0
        return max(self.cable_length_m - sum(each.length_m for each in self.reused), 0.0) + beside_m


@dataclass(frozen=True, slots=True)
class Found:
    """A link of one scheme from one site to one camera, with its budget lines and its own money."""

    camera: int
    site: int
    scheme: Scheme
    stretches: tuple[Stretch, ...]
    lines: tuple[BudgetLine, ...]
    own_cost: float
    works_cost: float
    new_cable_m: float
    discouraged: bool
    kept: tuple[str, ...] = ()
    """Of an installed link that stays as it is, the installed cables that it is made of."""

    @property
    def verdict(self) -> Verdict:
        """Worst verdict of its lines."""
        return verdict_of(self.lines)

    @property
    def variant(self) -> Variant:
        """Method, feed and cables of the camera's own stretch."""
        return self.stretches[-1].variant

    @property
    def nodes(self) -> tuple[int, ...]:
        """Nodes of the whole walk, from the head."""
        first = self.stretches[0].nodes[:1]
        return (*first, *(node for stretch in self.stretches for node in stretch.nodes[1:]))

    @property
    def segments(self) -> tuple[int, ...]:
        """Segments of the whole walk, from the head; one passed twice stands twice."""
        return tuple(segment for stretch in self.stretches for segment in stretch.segments)

    @property
    def way_m(self) -> float:
        """Length of the walk [m]."""
        return sum(stretch.way_m for stretch in self.stretches)

    @property
    def cable_length_m(self) -> float:
        """Length of its signal cables together [m]."""
        return sum(stretch.cable_length_m for stretch in self.stretches)

    @property
    def spares(self) -> tuple[str, ...]:
        """Installed cables that it takes."""
        return self.kept or tuple(each.cable for stretch in self.stretches for each in stretch.reused)

    @property
    def key(self) -> tuple[object, ...]:
        """What makes it the same link: ends, scheme, cables, places and way."""
        ways = tuple((s.variant, s.segments, s.nodes, s.reused) for s in self.stretches)
        return (self.camera, self.site, self.scheme, ways, self.kept)
