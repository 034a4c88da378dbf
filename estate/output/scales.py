"""Sheets and scales: ISO 216 sizes, ISO 5457 borders, and the scales that a plan may have."""

from dataclasses import dataclass

BINDING_EDGE_MM = 20.0
"""Left border (ISO 5457:1999)."""

BORDER_MM = 10.0
"""The other borders (ISO 5457:1999)."""

FIELD_MM = 50.0
"""Length of a field of the reference grid, counted from the middle of the sheet (ISO 5457:1999)."""

SHEETS_MM = {
    "A0": (1189.0, 841.0),
    "A1": (841.0, 594.0),
    "A2": (594.0, 420.0),
    "A3": (420.0, 297.0),
    "A4": (297.0, 210.0),
}
"""Long and short side [mm] (ISO 216)."""

SCALES = (
    *(50, 100, 200, 250, 500, 1000, 1250, 2000, 2500, 5000),
    *(10_000, 20_000, 25_000, 50_000, 100_000, 200_000, 250_000, 500_000, 1_000_000),
)
"""1 : n. ISO 5455 gives the steps 1, 2, 5; 1.25 and 2.5 are usual on site plans (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle on the sheet [mm], from the lower left corner of the sheet."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge [mm]."""
        return self.x + self.width

    @property
    def top(self) -> float:
        """Upper edge [mm]."""
        return self.y + self.height

    def shrunk(self, by_mm: float) -> "Box":
        """Return the box with every edge moved inwards by `by_mm` [mm]."""
        return Box(self.x + by_mm, self.y + by_mm, self.width - 2 * by_mm, self.height - 2 * by_mm)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A trimmed sheet that lies (landscape) or stands (portrait)."""

    name: str
    width: float
    """[mm]"""
    height: float
    """[mm]"""

    @property
    def space(self) -> Box:
        """The drawing space inside the frame.

        >>> sheet("A3").space
        Box(x=20.0, y=10.0, width=390.0, height=277.0)
        """
        width = self.width - BINDING_EDGE_MM - BORDER_MM
        return Box(BINDING_EDGE_MM, BORDER_MM, width, self.height - 2 * BORDER_MM)


def sheet(name: str, *, portrait: bool = False) -> Sheet:
    """Return a sheet of the A series."""
    long_side, short_side = SHEETS_MM[name]
    return Sheet(name, short_side, long_side) if portrait else Sheet(name, long_side, short_side)


def paper_mm(metres: float, scale: float) -> float:
    """Length on paper [mm] of `metres` on the ground at 1 : `scale`.

    >>> paper_mm(25.0, 500)
    50.0
    """
    return metres * 1000.0 / scale


def fits(extent_m: tuple[float, float], room_mm: tuple[float, float], scale: float) -> bool:
    """Whether an extent [m] fits into the room [mm] at 1 : `scale`."""
    return all(paper_mm(e, scale) <= r + 1e-9 for e, r in zip(extent_m, room_mm, strict=True))


def largest_scale(extent_m: tuple[float, float], room_mm: tuple[float, float]) -> int | None:
    """Return the largest usual scale at which an extent fits, None where none does.

    >>> largest_scale((180.0, 90.0), (390.0, 200.0))
    500
    """
    return next((s for s in SCALES if fits(extent_m, room_mm, s)), None)


def grid_marks_mm(side_mm: float) -> list[float]:
    """Where the reference grid divides a side [mm]; the corner fields take what is left over.

    Fields run from the middle of the sheet; a corner field is never shorter than half a field.
    """
    middle, steps = side_mm / 2, int(side_mm // (2 * FIELD_MM))
    least = BORDER_MM + FIELD_MM / 2
    marks = (middle + FIELD_MM * step for step in range(-steps, steps + 1))
    return [mark for mark in marks if least <= mark <= side_mm - least]


def field_letters(count: int) -> list[str]:
    """Name the fields downwards: letters without I and O (ISO 5457), then AA, BB and so on."""
    alphabet = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    return [alphabet[n % len(alphabet)] * (1 + n // len(alphabet)) for n in range(count)]


def round_step(least: float) -> float:
    """Return the smallest of 1, 2, 5 times a power of ten that is `least` or more.

    >>> round_step(22.5), round_step(0.2)
    (50.0, 0.2)
    """
    power = 10.0 ** _exponent(least)
    return next(step for step in (power, 2 * power, 5 * power, 10 * power) if step >= least * (1 - 1e-9))


def round_step_below(most: float) -> float:
    """Return the largest of 1, 2, 5 times a power of ten that is `most` or less.

    >>> round_step_below(45.0)
    20.0
    """
    power = 10.0 ** _exponent(most)
    return next(step for step in (5 * power, 2 * power, power) if step <= most * (1 + 1e-9))


def _exponent(value: float) -> int:
    """Exponent of ten of a positive number, read off its decimal form so that 1000 gives 3 exactly."""
    return int(f"{value:e}".partition("e")[2])
