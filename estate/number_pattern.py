"""The pattern after which cables are numbered: what it may hold, and what is wrong with one."""

import re
import string
from collections.abc import Mapping

FIELDS = {
    "number": "project or drawing number of [estate]",
    "kind": "C for a camera's cable, P for a power cable, T for a trunk",
    "link": "link id",
    "stretch": "stretch of the link, counted from the head",
    "from": "end towards the head",
    "to": "end towards the camera",
    "cable": "catalogue id of the cable",
    "n": "running number among cables that are otherwise numbered alike",
}
"""Fields of a pattern and what stands for them."""

_WIDTH = re.compile(r"0?[1-9]?")


def pattern_complaint(pattern: str) -> str:
    """Return what was expected of a pattern that can't be used, empty where it can.

    >>> pattern_complaint("{number}-{kind}-{n:03}"), pattern_complaint("")
    ('', '')
    >>> pattern_complaint("{kind}-{link}")
    'a pattern that holds {n}, so that no two cables get one number'
    """
    if not pattern:
        return ""
    known = ", ".join(f"{{{name}}}" for name in FIELDS)
    try:
        parts = list(string.Formatter().parse(pattern))
    except ValueError:
        return f"text and fields in braces ({known}); a brace of its own is written twice"
    fields = {name for _, name, _, _ in parts if name is not None}
    if fields - set(FIELDS):
        return f"a pattern of text and of the fields {known}"
    if any(conversion or (width and (name != "n" or not _WIDTH.fullmatch(width)))
           for _, name, width, conversion in parts):  # fmt: skip
        return "a width after {n} only, such as {n:03}"
    if "n" not in fields:
        return "a pattern that holds {n}, so that no two cables get one number"
    return ""


def filled(pattern: str, values: Mapping[str, str], n: int) -> str:
    """Return a pattern with its fields filled in.

    >>> filled("{number}-{kind}-{n:03}", {"number": "QM-017", "kind": "C"}, 7)
    'QM-017-C-007'
    """
    return pattern.format(**values, n=n)
