"""How an audit tells of cameras that no installed cable on record serves: they haven't failed, nothing is known of them."""

from estate.output.result import Table

OFF_RECORD = "not_on_record"
"""In place of the verdict none."""

JUDGEMENTS = ("calculated", "best", "values", "basis", "works_cost")
"""Columns that say nothing of a link that is not on record."""

UNPRICED = ("cost", "works_cost")
"""Columns that are 0 for what is installed."""


def told_off_record(table: Table) -> Table:
    """Return links or cameras of an audit for people: a verdict of their own where nothing is on record, no prices.

    >>> told_off_record(Table(("link", "verdict", "best", "cost"), (("L-C1", "none", "none", None),))).rows
    (('L-C1', 'not_on_record', None),)
    """
    kept = tuple(column for column in table.columns if column not in UNPRICED)
    silent = dict.fromkeys(JUDGEMENTS) | {"verdict": OFF_RECORD}
    rows = []
    for record in table.records():
        told = {**record, **silent} if record["verdict"] == "none" else record
        rows.append(tuple(told[column] for column in kept))
    return Table(kept, tuple(rows))
