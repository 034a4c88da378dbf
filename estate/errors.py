"""The exception family.

EstateError
├── InputError       bad input or settings; carries every Problem found, exit status 2
├── OutOfRange       a formula was asked for a value outside its range of validity
├── Infeasible       settings that no answer can meet; carries the irreducible set, exit status 2
└── OutputRefused    a folder that isn't ours stands in the way, exit status 2
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any


class EstateError(Exception):
    """Root of the family: a message for the user, never a defect of the program."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with the input: where, what it is, what was expected, and how to mend it."""

    file: str
    expected: str
    row: int | None = None
    id: str = ""
    field: str = ""
    value: Any = None
    fix: str = ""

    def __str__(self) -> str:
        place = self.file
        if self.row is not None:
            place += f" row {self.row}"
        if self.id:
            place += f" ({self.id})"
        if self.field:
            place += f", {self.field}"
        found = "" if self.value is None else f" = {self.value!r}"
        fix = f"; fix: {self.fix}" if self.fix else ""
        return f"{place}{found}: expected {self.expected}{fix}"


class InputError(EstateError):
    """Bad input, with every problem at once."""

    def __init__(self, problems: Iterable[Problem], summary: Sequence[str] = ()) -> None:
        self.problems = tuple(problems)
        self.summary = tuple(summary)
        super().__init__("\n".join([*map(str, self.problems), *self.summary]))


class OutOfRange(EstateError):
    """A formula's argument lies outside its range of validity."""


class Infeasible(EstateError):
    """No answer can meet the settings; the reasons are an irreducible set."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("no answer meets the settings: " + "; ".join(self.reasons))


class OutputRefused(EstateError):
    """The output folder holds something this program did not write."""


def suggestion(word: str, known: Iterable[str]) -> str:
    """A fix naming the nearest known word whatever its case and zeros before a number, or an empty text.

    >>> suggestion("camrea", ["camera", "recorder"])
    "did you mean 'camera'?"
    >>> suggestion("rec-nort", ["REC-NORTH", "REC-SOUTH"])
    "did you mean 'REC-NORTH'?"
    >>> suggestion("c6", ["C06", "C60", "C66"])
    "did you mean 'C06'?"
    """
    folded = {_folded(name): name for name in sorted(known)}
    near = get_close_matches(_folded(word), folded, n=1, cutoff=0.6)
    return f"did you mean {folded[near[0]]!r}?" if near else ""


def _folded(word: str) -> str:
    """Return a word without case, and without zeros before a number."""
    return re.sub(r"(?<![\d.])0+(?=\d)", "", word.casefold())
