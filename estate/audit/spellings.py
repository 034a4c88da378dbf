"""Ids as people spell them: which could be one, and which known one a name could mean."""

import re
from collections import defaultdict
from collections.abc import Iterable
from difflib import get_close_matches

ALIKE = str.maketrans({"o": "0", "i": "1", "l": "1"})
"""Letters taken for digits when a label is read."""


def folded(name: str) -> str:
    """Return an id without case, signs between, leading zeros, and letters that look like digits.

    A sign between two digits stays, as C1-1 is not C11.

    >>> folded("CAM-007"), folded("cam 7"), folded("RO1"), folded("C1-1"), folded("Tür_2")
    ('cam7', 'cam7', 'r1', 'c1-1', 'tür2')
    """
    word = name.casefold().translate(ALIKE)
    word = re.sub(r"(?<=\d)[\W_]+(?=\d)", "-", word)
    word = re.sub(r"[^\w-]+|_+|(?<!\d)-|-(?!\d)", "", word)
    return re.sub(r"(?<!\d)0+(?=\d)", "", word)


def spelt_alike(names: Iterable[str]) -> list[tuple[str, ...]]:
    """Return the groups of different ids that could be one, in order."""
    groups: dict[str, set[str]] = defaultdict(set)
    for name in names:
        groups[folded(name)].add(name)
    return sorted(tuple(sorted(group)) for group in groups.values() if len(group) > 1)


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known id that a name most likely means: spelt alike, else nearest by letters; None where none is."""
    names = sorted(known)
    same = next((each for each in names if folded(each) == folded(name)), None)
    if same is not None:
        return same
    by_fold = {folded(each): each for each in reversed(names)}
    near = get_close_matches(folded(name), by_fold, n=1, cutoff=NEAR)
    return by_fold[near[0]] if near else None


NEAR = 0.75
"""How alike two ids must be, from 0 to 1, for one to be offered for the other."""
