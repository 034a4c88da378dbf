"""The numbers of the cables: made once, for schedules and drawings alike."""

import itertools
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from estate.number_pattern import filled
from estate.output.result import Result, Table

PLAIN, PLAIN_POWER = "{link}.{stretch}", "{link}.{stretch}P"
"""Numbers where no pattern is set; a trunk or an installed cable keeps its own id."""

_KINDS = {"signal": "C", "power": "P"}
TRUNK_KIND = "T"


def numbered_runs(runs: Table, links: Table, pattern: str, project: str) -> Table:
    """Return the runs with a column `number`: the number of each row's cable.

    A trunk has one number in all runs that share it. A cable that is installed already keeps the id it has.
    """
    numbers = _numbers(runs.records(), links, pattern, project)
    rows = [(*row, number) for row, number in zip(runs.rows, numbers, strict=True)]
    return Table((*runs.columns, "number"), tuple(rows))


def with_numbers(result: Result) -> Result:
    """Return a result whose runs are numbered; one that was saved without numbers gets them."""
    runs = result.tables["runs"]
    if "number" in runs.columns:
        return result
    pattern, project = result.drawing.get("numbering", ""), result.estate.get("number", "")
    return replace(
        result,
        tables={**result.tables, "runs": numbered_runs(runs, result.tables["links"], pattern, project)},
    )


def _numbers(rows: Sequence[Mapping[str, Any]], links: Table, pattern: str, project: str) -> list[str]:
    """Return the number of each row, in the order of the rows."""
    known = {link["link"]: link for link in links.records()}
    first = {row["link"]: _nodes(row)[0] for row in reversed(rows)}
    last = {row["link"]: _nodes(row)[-1] for row in rows}
    taken = {row["installed"] for row in rows if row["installed"]}
    counts: Counter[str] = Counter()
    trunks: dict[str, str] = {}
    numbers = []
    for row in rows:
        link, own = known[row["link"]], row["installed"] or ""
        is_trunk = link["kind"] != "camera"
        number = trunks.get(own, own)
        if not own or (is_trunk and pattern and own not in trunks):
            kind = TRUNK_KIND if is_trunk else _KINDS.get(row["role"], "C")
            values = {
                **_ends(row, link, first[row["link"]], last[row["link"]]),
                "number": project,
                "kind": kind,
                "link": row["link"],
                "cable": row["cable"],
                "stretch": str(row["stretch"]),
            }
            number = _next(pattern, PLAIN_POWER if row["role"] == "power" else PLAIN, values, counts, taken)
            taken.add(number)
        if is_trunk and own:
            trunks[own] = number
        numbers.append(number)
    return numbers


def _next(pattern: str, plain: str, values: Mapping[str, str], counts: Counter[str], taken: set[str]) -> str:
    """Return the next number of those that are otherwise alike, without those that are taken."""
    if not pattern:
        number = filled(plain, values, 0)
        numbers: Iterable[str] = itertools.chain([number], (f"{number}-{n}" for n in itertools.count(2)))
    else:
        alike = filled(pattern, values, 0)
        counts[alike] += 1
        numbers = (filled(pattern, values, n) for n in itertools.count(counts[alike]))
    return next(number for number in numbers if number not in taken)


def _ends(row: Mapping[str, Any], link: Mapping[str, Any], first: str, last: str) -> dict[str, str]:
    """Return what the cable joins: head and camera at the first and the last node of a link, else the nodes there."""
    start, end = _nodes(row)[0], _nodes(row)[-1]
    is_camera = link["kind"] == "camera"
    return {
        "from": link["head"] if is_camera and start == first else start,
        "to": link["camera"] if is_camera and end == last else end,
    }


def _nodes(row: Mapping[str, Any]) -> list[str]:
    return (row["nodes"] or "").split(";")
