"""What a plan is drawn with: pens, line types, marks along lines, point symbols, hatches.

Every kind is told apart by line type, shape or hatch; colour only helps. Line types follow ISO 128-2, with the
proportions of a 0.25 mm pen whatever the pen, so that they can be read on short routes.
"""

from dataclasses import dataclass, field

THIN, NARROW, MIDDLE, WIDE = 0.18, 0.25, 0.35, 0.7
"""Pens [mm] of the ISO 128 series."""

BLACK = "#000000"
GREY = "#8c8c8c"
BLUE, GREEN, ORANGE, RED, PURPLE = "#0072b2", "#009e73", "#e69f00", "#d55e00", "#cc79a7"
"""Colours that stay apart for colour-blind readers (Okabe and Ito, Color Universal Design; from memory)."""

_DASH, _LONG, _GAP, _DOT = 3.0, 6.0, 0.9, 0.4
"""12, 24, 3 and about 1 line widths of a 0.25 mm pen [mm] (ISO 128-2)."""

LINE_TYPES: dict[str, tuple[float, ...]] = {
    "continuous": (),
    "dashed": (_DASH, _GAP),
    "dashed spaced": (_DASH, 3 * _GAP),
    "dotted": (_DOT, _GAP),
    "long-dash dot": (_LONG, _GAP, _DOT, _GAP),
    "dash dot": (_DASH, _GAP, _DOT, _GAP),
}

CONTAINMENT_TYPES = {
    "duct": ("continuous", ""),
    "buried": ("dashed", ""),
    "conduit": ("dash dot", ""),
    "trunking": ("continuous", "stroke"),
    "tray": ("continuous", "tick"),
    "basket": ("continuous", "double tick"),
    "catenary": ("long-dash dot", "sag"),
    "surface": ("dotted", ""),
    "unknown": ("dashed spaced", ""),
}
"""Line type and mark along the line, by containment."""

PLACEMENT_TYPES = {
    "indoor": "continuous",
    "buried": "dashed",
    "overhead": "long-dash dot",
    "unknown": "dashed spaced",
}
"""Line type of a mains run by placement."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A small figure set along a line every `every_mm`, one at least, from the part `phase` of that onwards."""

    figure: str
    size_mm: float
    every_mm: float
    phase: float = 0.5


@dataclass(frozen=True, slots=True)
class Line:
    """How one kind of line is drawn."""

    pen_mm: float
    colour: str
    dashes_mm: tuple[float, ...] = ()
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class Sleeve:
    """A line on either side of another, `width_mm` apart."""

    line: Line
    width_mm: float


@dataclass(frozen=True, slots=True)
class Symbol:
    """One point symbol: marker shapes over one another, each (shape, size in mm, fill)."""

    shapes: tuple[tuple[str, float, str], ...]
    colour: str = BLACK
    pen_mm: float = NARROW

    @property
    def size_mm(self) -> float:
        """Width and height [mm]."""
        return max(size for _, size, _ in self.shapes)


@dataclass(frozen=True, slots=True)
class Area:
    """How one kind of area is drawn."""

    hatch: str
    edge: str
    pen_mm: float
    face: str = "none"


@dataclass(frozen=True, slots=True)
class Balloon:
    """How the number of a finding is drawn."""

    pen_mm: float
    face: str = "#ffffff"
    ink: str = BLACK
    dashes_mm: tuple[float, ...] = field(default=())


ROUTE_STATES = {
    "proposed, to be built": Line(WIDE, RED),
    "existing, carries links": Line(MIDDLE, BLUE),
    "existing, carries no link": Line(THIN, BLACK),
    "proposed, not needed": Line(THIN, RED, marks=(Mark("x", 1.6, 9.0, 0.25),)),
}
"""Pen, colour and mark of a route by what is to become of it; the line type tells the containment."""

UPLINK_SLEEVES = {
    "uplink": Sleeve(Line(NARROW, GREEN), 2.4),
    "standby": Sleeve(Line(NARROW, GREEN, LINE_TYPES["dashed"]), 2.4),
}
"""What is drawn along a route that carries uplinks, by their kind."""

MAINS_MARKS = {
    "mains": Mark("zigzag", 2.6, 14.0),
    "drive": Mark("wave", 2.6, 14.0),
    "fence": Mark("x", 1.8, 6.0),
    "discharge_lamp": Mark("star", 2.4, 14.0),
    "lightning_protection": Mark("earth", 2.4, 14.0),
}
"""Mark along a source of interference."""

CAMERA_SYMBOLS = {
    "within": Symbol((("circle", 2.4, "none"),)),
    "marginal": Symbol((("circle", 2.4, "lower"),), ORANGE),
    "verify": Symbol((("circle", 2.4, "none"), ("dot", 0.9, "full"))),
    "outside": Symbol((("circle", 2.4, "full"),), RED),
    "none": Symbol((("circle", 2.4, "none"), ("x", 3.2, "none"))),
    "": Symbol((("circle", 2.4, "none"), ("bar", 2.4, "none"))),
}
"""Symbol of a camera by verdict; empty: not judged."""

_PLACE_SHAPES = {"recorder": ("square", 3.8, BLUE), "patch": ("diamond", 3.8, GREEN)}
_CABINETS = {
    "used": Symbol((("diamond", 4.8, "none"), ("diamond", 2.8, "full")), GREEN, MIDDLE),
    "passed": Symbol((("diamond", 4.8, "none"), ("bar", 2.8, "none")), GREEN, MIDDLE),
}
"""A patch point in use: with a switch, or with trunks that only pass through."""

_STATUS_FILLS = {"used": "full", "existing": "left", "candidate": "none"}

OTHER_SYMBOLS = {
    "pit": Symbol((("square", 2.4, "none"), ("x", 2.4, "none"))),
    "junction": Symbol((("dot", 1.1, "full"),)),
}

UNKNOWN_SYMBOL = Symbol((("plus", 2.0, "none"),))

STRETCH_AREAS = {
    "outside": Area("xxxx", RED, THIN),
    "verify": Area("....", PURPLE, THIN),
    "marginal": Area("////", ORANGE, THIN),
    "crossing": Area("----", GREY, THIN),
}
"""Band along a stretch near mains, by verdict; a stretch within limits has none."""

MOVED_LINE = Line(NARROW, GREEN, LINE_TYPES["dotted"], (Mark("tick", 1.2, 6.0),))
"""Where a stretch too near mains would run if it were moved."""

BUILDING_AREA = Area("///", "#bdbdbd", NARROW, "#f4f4f4")

BALLOONS = {
    "danger": Balloon(MIDDLE, face=BLACK, ink="#ffffff"),
    "fault": Balloon(WIDE),
    "watch": Balloon(NARROW),
    "note": Balloon(NARROW, dashes_mm=(0.9, 0.6)),
}
"""Balloon of a finding by severity; worst first."""


def route_line(containment: str, state: str) -> Line:
    """Return how a route of this containment and state is drawn."""
    base = ROUTE_STATES[state]
    kind = containment_line(containment, base.pen_mm, base.colour)
    return Line(base.pen_mm, base.colour, kind.dashes_mm, (*kind.marks, *base.marks))


def containment_line(containment: str, pen_mm: float, colour: str = BLACK) -> Line:
    """Return the line type of a containment, in one pen."""
    line_type, figure = CONTAINMENT_TYPES.get(containment, CONTAINMENT_TYPES["unknown"])
    marks = (Mark(figure, 1.8, 7.0),) if figure else ()
    return Line(pen_mm, colour, dashes_for(line_type, pen_mm), marks)


def mains_line(kind: str, placement: str) -> Line:
    """Return how a mains run of this kind and placement is drawn."""
    dashes = dashes_for(PLACEMENT_TYPES.get(placement, PLACEMENT_TYPES["unknown"]), NARROW)
    return Line(NARROW, PURPLE, dashes, (MAINS_MARKS.get(kind, MAINS_MARKS["mains"]),))


def dashes_for(line_type: str, pen_mm: float) -> tuple[float, ...]:
    """Dashes and gaps of a line type [mm]; a dot is never shorter than its pen is wide."""
    pattern = LINE_TYPES[line_type]
    return tuple(max(part, pen_mm) if place % 2 == 0 else part for place, part in enumerate(pattern))


def point_symbol(kind: str, status: str, verdict: str) -> Symbol:
    """Return the symbol of a point."""
    if kind == "camera":
        return CAMERA_SYMBOLS.get(verdict, CAMERA_SYMBOLS[""])
    if kind == "patch" and status in _CABINETS:
        return _CABINETS[status]
    if kind in _PLACE_SHAPES:
        shape, size, colour = _PLACE_SHAPES[kind]
        return Symbol(((shape, size, _STATUS_FILLS.get(status, "none")),), colour, MIDDLE)
    return OTHER_SYMBOLS.get(kind, UNKNOWN_SYMBOL)
