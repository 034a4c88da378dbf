"""Numbers as people write them in cells."""

import re

NUMERAL = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)


def parse_number(text: str) -> float:
    """Return the finite number that a cell spells, NaN where it spells none.

    >>> parse_number(" 12.5 "), parse_number("-3e2"), parse_number("1_000"), parse_number("inf")
    (12.5, -300.0, nan, nan)
    """
    text = text.strip()
    number = float(text) if NUMERAL.fullmatch(text) else float("nan")
    return number if abs(number) != float("inf") else float("nan")
