"""Rows of the layer of installed cables, as an audit reads them."""

from dataclasses import dataclass

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.survey.survey import Survey

UNKNOWN = "unknown"
IN_USE = "in_use"
MEASURES = ("loop_ohm", "volts_day", "volts_night", "video_vpp", "screen_mv", "insulation_mohm")


@dataclass(frozen=True, slots=True)
class CableRow:
    """One installed cable; None and NaN where nobody gave a fact."""

    row: int
    id: str
    start: str
    end: str
    camera: str
    """Empty for a trunk."""
    status: str | None
    cable: str | None
    """Its catalogue id; None also where the survey says unknown."""
    family: str
    """coax, pair, power or fibre; empty where its type is not known."""
    method: str | None
    length_m: float
    joints: float
    tees: float
    equipment: tuple[tuple[str, str], ...]
    """Items along it with the node of each."""
    condition: str
    """Its state in words."""
    measured: dict[str, float]
    """What was measured, by column; NaN where it wasn't."""
    picture: dict[str, str]
    """The picture in words, by state; empty where nobody said."""

    @property
    def in_use(self) -> bool:
        """Whether it serves: said so, or not said of a cable that names its camera."""
        return self.status == IN_USE or (self.status is None and bool(self.camera))

    def other(self, point: str) -> str:
        """Return its other end."""
        return self.end if point == self.start else self.start

    def ends_at(self, point: str) -> bool:
        """Whether one of its ends is a point."""
        return point in (self.start, self.end)


def cable_rows(survey: Survey, catalogue: Catalogue) -> list[CableRow]:
    """Return every installed cable, in row order."""
    return [_cable_row(survey, catalogue, row) for row in range(len(survey.cables))]


def _cable_row(survey: Survey, catalogue: Catalogue, row: int) -> CableRow:
    cables = survey.cables

    def word(column: str) -> str:
        return str(cables[column][row] or "")

    def number(column: str) -> float:
        return float(cables[column][row])

    kind = cables["cable"][row]
    entry = catalogue.cables.get(kind or "")
    stops = (each.partition("@") for each in cables["equipment"][row])
    return CableRow(
        row=row,
        id=str(cables["id"][row]),
        start=word("from"),
        end=word("to"),
        camera=word("camera"),
        status=cables["status"][row],
        cable=None if entry is None else entry.id,
        family="" if entry is None else entry.family,
        method=cables["method"][row],
        length_m=number("length_m") if number("length_m") > 0 else float(np.nan),
        joints=number("joints"),
        tees=number("tees"),
        equipment=tuple((item, node) for item, _, node in stops),
        condition=word("condition"),
        measured={column: number(column) for column in MEASURES},
        picture={state: word(f"picture_{state}") for state in ("day", "night")},
    )
