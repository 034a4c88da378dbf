"""Texts in the cells of a CSV, so that a spreadsheet shows them and never runs them."""

import re

_RUNS = "[=+\\-@\t\r\n＝＋－＠]"
_RUNNING = re.compile(rf"'*{_RUNS}")
_QUOTED = re.compile(rf"'+{_RUNS}")


def harmless(text: str) -> str:
    """Return a text with an apostrophe before it where a spreadsheet would take it for a formula.

    The signs are those of the OWASP page on CSV injection, from memory. `as_meant` takes the apostrophe off again; a
    text that looks like one quoted off gets one more, so that nothing is lost.

    >>> harmless("=1+1"), harmless("R1"), as_meant(harmless("'=1+1"))
    ("'=1+1", 'R1', "'=1+1")
    """
    return f"'{text}" if _RUNNING.match(text) else text


def as_meant(text: str) -> str:
    """Return the text that a cell stands for."""
    return text[1:] if _QUOTED.match(text) else text
