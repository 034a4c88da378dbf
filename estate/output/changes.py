"""What changed between two results, link by link."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from estate.findings import Verdict
from estate.output.result import Result, Table, table
from estate.output.told import SHOWN, counted

COLUMNS = (
    "change", "link", "camera", "before", "after", "margin_before_percent", "margin_after_percent",
    "limiting_before", "limiting_after",
)  # fmt: skip

BEST_FIRST = (Verdict.WITHIN, Verdict.MARGINAL, Verdict.VERIFY, Verdict.OUTSIDE, Verdict.NONE)
CHANGES = ("worse", "gone", "new", "better")

Row = Mapping[str, Any]


def changes_table(before: Result, after: Result) -> Table:
    """Return one row per link whose verdict got better or worse, or that is new or gone.

    Links are the same by their id, else by the only link of their camera that is left on either side.
    """
    rows = []
    for old, new in matched(before.tables["links"].records(), after.tables["links"].records()):
        change = change_of(old, new)
        if change:
            either = new or old or {}
            rows.append(
                (
                    change, either["link"], either["camera"],
                    *(row["verdict"] if row else "" for row in (old, new)),
                    *(row["margin_percent"] if row else None for row in (old, new)),
                    *(row["limiting"] if row else "" for row in (old, new)),
                )
            )  # fmt: skip
    rows.sort(key=lambda row: (CHANGES.index(row[0]), row[1]))
    return table(COLUMNS, rows)


def matched(before: Sequence[Row], after: Sequence[Row]) -> list[tuple[Row | None, Row | None]]:
    """Return the links of two results in pairs, None where one has no partner."""
    old, new = {row["link"]: row for row in before}, {row["link"]: row for row in after}
    pairs: list[tuple[Row | None, Row | None]] = [(old[name], new[name]) for name in old if name in new]
    left = [row for name, row in old.items() if name not in new]
    right = [row for name, row in new.items() if name not in old]
    ours, theirs = _by_camera(left), _by_camera(right)
    cameras = [camera for camera in ours if camera in theirs]
    pairs += [(ours[camera], theirs[camera]) for camera in cameras]
    taken = {id(row[camera]) for camera in cameras for row in (ours, theirs)}
    pairs += [(row, None) for row in left if id(row) not in taken]
    pairs += [(None, row) for row in right if id(row) not in taken]
    return pairs


def _by_camera(rows: Sequence[Row]) -> dict[str, Row]:
    """Return the rows whose camera has no other."""
    counts = Counter(row["camera"] for row in rows)
    return {row["camera"]: row for row in rows if row["camera"] and counts[row["camera"]] == 1}


def change_of(old: Row | None, new: Row | None) -> str:
    """Return better, worse, new, gone, or nothing where the verdict is the same."""
    if old is None or new is None:
        return "new" if old is None else "gone"
    ranks = [BEST_FIRST.index(Verdict(row["verdict"])) for row in (old, new)]
    if ranks[0] == ranks[1]:
        return ""
    return "better" if ranks[1] < ranks[0] else "worse"


def told_changes(changes: Table, *, every: bool) -> list[str]:
    """List the links that changed; all of them with `every`."""
    records = changes.records()
    if not records:
        return ["no link changed its verdict"]
    counts = Counter(record["change"] for record in records)
    lines = [
        f"{counted(len(records), 'link')} changed: {', '.join(f'{counts[c]} {c}' for c in CHANGES if counts[c])}"
    ]
    shown = records if every else records[:SHOWN]
    for record in shown:
        verdicts = " → ".join(filter(None, (record["before"], record["after"])))
        why = (
            f": {record['limiting_after']}"
            if record["change"] == "worse" and record["limiting_after"]
            else ""
        )
        lines.append(f"  {record['change']:<7}{record['link']} {verdicts}{why}")
    if len(shown) < len(records):
        lines.append(f"  … {len(records) - len(shown)} more in changes.csv, or with -v")
    return lines
