"""Spare installed cables: where they run, what they are, and what is not known of them."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.cable_way import cable_way
from estate.links.conditions import Joints, cable_length_m
from estate.network.network import Network
from estate.survey.survey import Survey

UNKNOWN = "unknown"

TOLERANCE_M = 1e-6
"""Rounding, no more [m]."""


@dataclass(frozen=True, slots=True)
class Spare:
    """A spare cable of known type with its way; joints are the most it could have."""

    id: str
    cable: str
    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    length_m: float
    joints: Joints
    inferred: bool
    """Whether its way is the shortest, for want of routes."""
    parts: tuple[str, ...] = ()
    """Of a cable that may be cut: the parts that it is or has; two that share one can't both be taken."""

    @property
    def taken(self) -> tuple[str, ...]:
        """What a link that takes it takes: its parts, or where it can't be cut itself."""
        return self.parts or (self.id,)


@dataclass(frozen=True, slots=True)
class Unusable:
    """A spare cable that no link can take, and why."""

    id: str
    row: int
    why: str
    settles: str
    """What would settle it."""


def spare_cables(
    survey: Survey, network: Network, catalogue: Catalogue
) -> tuple[list[Spare], list[Unusable]]:
    """Return the spare cables that links may take, and those that they may not, in row order."""
    usable: list[Spare] = []
    unusable: list[Unusable] = []
    for row in np.flatnonzero(survey.cables["status"] == "spare").tolist():
        reason = next(_reasons(survey, catalogue, row), None)
        found = None if reason else _spare(survey, network, catalogue, row)
        if found is None:
            reason = reason or ("no way in the network joins its ends", "trace it with a tone")
        else:
            reason = _too_short(network, found)
        if found is not None and reason is None:
            usable.append(found)
        elif reason is not None:
            unusable.append(Unusable(str(survey.cables["id"][row]), row, *reason))
    return usable, unusable


def installed_cable(survey: Survey, network: Network, catalogue: Catalogue, row: int) -> Spare | None:
    """Return an installed cable as one that a link may take, None where it may not or its way is not known."""
    found = None if any(_reasons(survey, catalogue, row)) else _spare(survey, network, catalogue, row)
    return None if found is None or _too_short(network, found) else found


def _too_short(network: Network, spare: Spare) -> tuple[str, str] | None:
    """Return why a spare that is said to be shorter than its way can't lie there, None where it can."""
    way_m = float(network.segment_length_m[list(spare.segments)].sum())
    if spare.length_m >= way_m - TOLERANCE_M:
        return None
    why = f"its measured length of {spare.length_m:g} m is less than the {way_m:.1f} m of its way"
    return why, "measure it with a reflectometer, and trace its way"


def _reasons(survey: Survey, catalogue: Catalogue, row: int) -> Iterator[tuple[str, str]]:
    """Yield why a spare can't be taken, with the test that would settle it."""
    cables, points = survey.cables, survey.points.row_of()
    if cables["cable"][row] in (None, UNKNOWN):
        yield "its type is not known", "read the sheath print and measure the loop resistance"
    elif cables["cable"][row] not in catalogue.cables:
        yield "its type is not in the catalogue", "enter its figures in [catalogue]"
    if float(np.nan_to_num(cables["tees"][row])) > 0:
        yield "it has tees", "take the tees out and measure its length with a reflectometer"
    for end in ("from", "to"):
        if cables[end][row] not in points:
            yield f"its end {cables[end][row] or 'that is not given'} is no point", "trace it with a tone"


def _spare(survey: Survey, network: Network, catalogue: Catalogue, row: int) -> Spare | None:
    """Return one spare with its way, None where no way joins its ends."""
    laid = cable_way(survey, network, row)
    if laid is None:
        return None
    return Spare(
        id=str(survey.cables["id"][row]),
        cable=str(survey.cables["cable"][row]),
        nodes=laid.nodes,
        segments=laid.segments,
        length_m=_length_m(survey, network, row, laid.segments),
        joints=_joints(survey, catalogue, row),
        inferred=laid.inferred,
    )


def _length_m(survey: Survey, network: Network, row: int, segments: tuple[int, ...]) -> float:
    """Return its measured length, else that of its way with slack and ends [m]."""
    measured = float(survey.cables["length_m"][row])
    way_m = float(network.segment_length_m[list(segments)].sum())
    return measured if measured > 0 else cable_length_m(way_m, 0.0, survey.settings.lengths)


def _joints(survey: Survey, catalogue: Catalogue, row: int) -> Joints:
    """Return the most joints it could have; how well they are made is not known."""
    count = float(survey.cables["joints"][row])
    most = float(catalogue.rules["joints"]["unknown_at_most"].value)
    return Joints(bad_or_unknown=int(most if np.isnan(count) else count))
