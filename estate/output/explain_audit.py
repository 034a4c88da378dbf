"""What is not known of an installed link, what would settle it, and what would cure it."""

from collections.abc import Iterator, Mapping
from typing import Any

from estate.output.result import Result

AUDIT = "audit"
"""Command of a result that is of installed links."""


def told_open(result: Result, link: Mapping[str, Any]) -> Iterator[str]:
    """Yield which cables a link is made of, what is not known of it, and the tests that settle it."""
    yield ""
    inferred = f"; the way of {link['inferred'].replace(';', ', ')} is inferred" if link["inferred"] else ""
    yield f"installed cables: {link['installed'].replace(';', ', ')}{inferred}"
    if link["assumed"]:
        yield f"assumed, not known: {link['assumed'].replace(';', ', ')}"
    if link["calculated"] != link["verdict"]:
        yield f"without what was measured: {link['calculated']}"
    if link["unknown"]:
        yield f"not known: {link['unknown'].replace(';', ', ')}; judged over {link['values']} sets of values, at best {link['best']}"
    rows = [row for row in result.tables["survey"].records() if link["link"] in row["links"].split(";")]
    for row in rows:
        yield f"  settles it: {row['fact']} of {row['subject']}: {row['test']}"


def told_cures(result: Result, camera: str) -> Iterator[str]:
    """Yield the ways to cure a camera's link, the cheapest first, and those that a rule refuses."""
    cures = [row for row in result.rows("repairs") if row["camera"] == camera]
    refused = [row for row in result.rows("refused") if row["camera"] == camera]
    if cures or refused:
        yield ""
    for row in cures:
        money = "" if row["cost"] is None else f", {row['cost']:,.2f} {result.estate['currency']}".rstrip()
        yield f"would cure it: {row['text']} ({row['action']}{money}; then {row['verdict']})"
    for row in refused:
        yield f"refused: {row['action']} ({row['kind']}): {row['why']}"
