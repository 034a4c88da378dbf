"""What a plan shows: plain columns, and where they lie on the sheet."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.findings import Finding
from estate.output.scales import Box
from estate.settings import DrawingSection, EstateSection

Column = Sequence[Any] | NDArray[Any]
Floats = NDArray[np.float64]
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class PlanSegments:
    """Segments; `geometry` in metres, None for a schematic one."""

    id: Column = ()
    geometry: Column = ()
    containment: Column = ()
    """None where unknown."""
    proposed: Column = ()
    links: Column = ()
    """Number of links that the segment carries."""
    separation_mm: Column = ()
    """Separation from mains to be built on a proposed segment; NaN where none is required."""
    uplink: Column = ()
    """Whether the segment carries an uplink, or only a standby one: uplink, standby or empty. May be left out."""
    cables: Column = ()
    """Numbers of the cables in the segment, as a tuple for each. May be left out: then they are not written."""

    def with_uplink(self, kind: str) -> NDArray[np.int64]:
        """Rows of drawn segments that carry this kind of uplink."""
        rows = [row for row in drawn(self.geometry) if len(self.uplink) and self.uplink[row] == kind]
        return np.array(rows, dtype=np.int64)


@dataclass(frozen=True, kw_only=True)
class PlanMains:
    """Mains runs and other sources of interference."""

    geometry: Column = ()
    kind: Column = ()
    placement: Column = ()
    """None where unknown."""


@dataclass(frozen=True, kw_only=True)
class PlanBuildings:
    """Buildings; the id stands where there is no name."""

    id: Column = ()
    name: Column = ()
    geometry: Column = ()


@dataclass(frozen=True, kw_only=True)
class PlanPoints:
    """Points; `status` is existing, candidate, used or passed (by trunks); `verdict` is a camera's, empty where not judged."""

    id: Column = ()
    kind: Column = ()
    x: Column = ()
    y: Column = ()
    status: Column = ()
    verdict: Column = ()
    cables: Column = ()
    """Numbers of the cables that end at a camera, as a tuple for each. May be left out."""


@dataclass(frozen=True, kw_only=True)
class PlanStretches:
    """Stretches of segments near mains; those within limits are not shown."""

    geometry: Column = ()
    verdict: Column = ()


@dataclass(frozen=True, kw_only=True)
class PlanContent:
    """Everything a plan shows; coordinates in metres of the estate's CRS. Columns of one layer are equally long."""

    estate: EstateSection = field(default_factory=EstateSection)
    drawing: DrawingSection = field(default_factory=DrawingSection)
    crs: str = ""
    """What the coordinates are, for people; empty for local ones."""
    true_north_deg: float | None = None
    """How far true north lies clockwise of grid north in the middle of the estate; None where it is not known."""
    segments: PlanSegments = field(default_factory=PlanSegments)
    mains: PlanMains = field(default_factory=PlanMains)
    buildings: PlanBuildings = field(default_factory=PlanBuildings)
    points: PlanPoints = field(default_factory=PlanPoints)
    stretches: PlanStretches = field(default_factory=PlanStretches)
    moved: Column = ()
    """Lines that stretches near mains would be moved to."""
    backdrop: Column = ()
    """Lines of another drawing, for orientation only: no part of the plan's extent."""
    findings: tuple[Finding, ...] = ()
    """Numbered, in the order of the register."""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    counts: tuple[tuple[str, int], ...] = ()
    """Words and numbers, for example ("cameras", 40)."""
    input_hash: str = ""
    """Short hash of the input files."""

    @property
    def has_routes(self) -> bool:
        """Whether any route is drawn."""
        return len(drawn(self.segments.geometry)) > 0

    def bounds(self) -> Bounds | None:
        """Least and greatest x and y of all that has a place [m]; None where nothing has."""
        layers = (self.segments, self.mains, self.buildings)
        shapes = [s for layer in layers for s in _shapes(layer.geometry)]
        spots = np.concatenate([shapely.get_coordinates(shapes), self.places(), _finding_places(self)])
        spots = spots[np.isfinite(spots).all(axis=1)]
        if not len(spots):
            return None
        (west, south), (east, north) = spots.min(axis=0), spots.max(axis=0)
        return float(west), float(south), float(east), float(north)

    def places(self) -> Floats:
        """Coordinates of the points; NaN where one has none."""
        return np.column_stack([_floats(self.points.x), _floats(self.points.y)])


@dataclass(frozen=True, slots=True)
class View:
    """How the ground lies on the sheet: 1 : `scale`, grid north up, the middle of the estate in the middle."""

    scale: int
    middle: tuple[float, float]
    window: Box

    def to_paper(self, xy: Floats) -> Floats:
        """Metres to millimetres of the sheet."""
        centre = (self.window.x + self.window.width / 2, self.window.y + self.window.height / 2)
        return np.asarray((xy - np.array(self.middle)) * (1000.0 / self.scale) + np.array(centre))

    def edges_m(self) -> Bounds:
        """Least and greatest x and y that the window shows [m]."""
        half = np.array([self.window.width, self.window.height]) * self.scale / 2000.0
        (west, south), (east, north) = self.middle - half, self.middle + half
        return float(west), float(south), float(east), float(north)


def on_paper(content: PlanContent, view: View) -> PlanContent:
    """Return the content with every coordinate in millimetres of the sheet."""
    x, y = view.to_paper(content.places()).T
    spots = view.to_paper(_finding_places(content))
    moved = zip(content.findings, spots, strict=True)
    return replace(
        content,
        segments=replace(content.segments, geometry=_moved(content.segments.geometry, view.to_paper)),
        mains=replace(content.mains, geometry=_moved(content.mains.geometry, view.to_paper)),
        buildings=replace(content.buildings, geometry=_moved(content.buildings.geometry, view.to_paper)),
        stretches=replace(content.stretches, geometry=_moved(content.stretches.geometry, view.to_paper)),
        moved=_moved(content.moved, view.to_paper),
        backdrop=_moved(content.backdrop, view.to_paper),
        points=replace(content.points, x=x, y=y),
        findings=tuple(replace(finding, x=float(sx), y=float(sy)) for finding, (sx, sy) in moved),
    )


def drawn(geometry: Column) -> NDArray[np.int64]:
    """Rows that have a geometry to draw."""
    return np.array([row for row, g in enumerate(geometry) if g is not None and not g.is_empty], np.int64)


def _shapes(geometry: Column) -> list[Any]:
    return [geometry[row] for row in drawn(geometry)]


def _floats(column: Column) -> Floats:
    return np.asarray(column, dtype=np.float64).reshape(-1)


def _finding_places(content: PlanContent) -> Floats:
    return np.array([(f.x, f.y) for f in content.findings], dtype=np.float64).reshape(-1, 2)


def _moved(geometry: Column, move: Callable[[Floats], Floats]) -> NDArray[np.object_]:
    """Apply a change of coordinates; rows without a geometry stay None."""
    shapes = np.empty(len(geometry), dtype=np.object_)
    shapes[:] = list(geometry)
    return np.asarray(shapely.transform(shapes, move))
