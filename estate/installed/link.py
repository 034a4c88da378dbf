"""What an installed link is: a link as a designed one is, and the facts of it that nobody gave."""

from dataclasses import dataclass

from estate.findings import Verdict
from estate.links.found import Found
from estate.links.link import BudgetLine, Link


@dataclass(frozen=True, slots=True)
class Unknown:
    """A fact of the installed estate that nobody gave."""

    subject_kind: str
    """cable, camera, building or recorder."""
    subject: str
    fact: str
    """The column of the survey that would hold it: cable, joints, load_night_w, earthing …"""
    values: tuple[str, ...]
    """What it could be, in words."""
    test: str
    """What would settle it."""


@dataclass(frozen=True, slots=True)
class InstalledLink:
    """One camera's installed link, or an installed uplink, judged over every value its unknown facts could have."""

    link: Link
    """The worst of all values where they agree; else as it stands at its worst, with verdict `verify`."""
    cables: tuple[str, ...]
    """Ids of the installed cables that it is made of, from the head on, power cables after signal cables."""
    found: Found | None
    """The same as the search knows links, None where no way or no method is known."""
    unknowns: tuple[Unknown, ...] = ()
    """The facts of it that nobody gave."""
    deciding: tuple[Unknown, ...] = ()
    """Those of them without which it isn't settled; empty where every value agrees."""
    values: int = 1
    """How many sets of values it was judged over."""
    best: Verdict = Verdict.NONE
    """Verdict at the kindest values."""
    assumed: tuple[str, ...] = ()
    """Columns, as layer.column, whose value is the user's assumption."""
    calculated: Verdict = Verdict.NONE
    """Verdict at the same values without what was measured; none where that isn't known."""
    before: tuple[BudgetLine, ...] = ()
    """Its budget lines without what was measured, at the values of `link`."""
    agreed: frozenset[tuple[str, str]] = frozenset()
    """Checks, by quantity and state, whose verdicts are the same at every value."""
    inferred: tuple[str, ...] = ()
    """Those of its cables whose way is the shortest, for want of routes."""
