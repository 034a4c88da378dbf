"""The schedules, the tests and the bill of a result, as CSV and as a workbook."""

from pathlib import Path

from estate.output.bill_file import Bill, bill_of
from estate.output.lacking import SCHEDULES
from estate.output.result import Result
from estate.output.schedules import write_workbook
from estate.output.store import write_csv

BESIDE = (*SCHEDULES, "containment", "cores", "terminations", "tests", "draft")
"""Tables that go out as CSV beside the workbook."""


def write_schedules(folder: Path, result: Result, *, priced: bool = False) -> Bill:
    """Write schedules.xlsx, bill.csv and a CSV of each schedule; return the bill.

    `priced` fills in the user's rates; without it the bill is one to be priced by others.
    """
    bill = bill_of(result, priced=priced)
    write_workbook(folder / "schedules.xlsx", result, bill)
    if bill.table.rows:
        write_csv(folder / "bill.csv", bill.table)
    for name in BESIDE:
        each = result.tables.get(name)
        if each is not None and (each.rows or name != "draft"):
            write_csv(folder / f"{name}.csv", each)
    return bill
