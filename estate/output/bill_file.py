"""The bill as it goes out: without rates to be filled in, or with the user's own."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from estate.output.bill_line import YOURS
from estate.output.result import Result, Table

BILL = ("heading", "item", "description", "unit", "quantity", "rate", "amount")

SHOWN = 12
"""Items that are named in print."""


@dataclass(frozen=True)
class Bill:
    """The lines of a bill. Without `priced` there are no rates; with it those of the user only, never invented ones."""

    table: Table
    priced: bool
    unrated: tuple[str, ...]
    """Items for which the user gave no rate; their rates and amounts stay blank."""

    def sums(self) -> dict[str, Decimal]:
        """Return the money of each heading, in the order of the bill; lines without a rate don't count."""
        found: dict[str, Decimal] = {}
        for row in self.table.records():
            amount = Decimal(str(row["amount"] or 0))
            found[row["heading"]] = found.get(row["heading"], Decimal(0)) + amount
        return found

    def without_rate(self, heading: str) -> int:
        """Return how many lines of a heading have no rate."""
        return sum(row["heading"] == heading and row["rate"] is None for row in self.table.records())

    @property
    def total(self) -> Decimal:
        """Money of all lines that have a rate."""
        return sum(self.sums().values(), Decimal(0))


def bill_of(result: Result, *, priced: bool) -> Bill:
    """Return the bill of a result, `priced` with the user's rates."""
    lines = result.tables["quantities"].records()
    kept = [
        {**line, **({} if _is_yours(line, priced=priced) else {"rate": None, "amount": None})}
        for line in lines
    ]
    rows = tuple(tuple(line.get(column) for column in BILL) for line in kept)
    unrated = tuple(line["item"] for line in lines if line["rate"] is None)
    return Bill(Table(BILL, rows), priced, unrated)


def _is_yours(line: dict[str, object], *, priced: bool) -> bool:
    return priced and line.get("rate_from", YOURS) == YOURS


def told_bill(bill: Bill, currency: str) -> list[str]:
    """Say what a priced bill comes to and which lines have no rate; nothing for one without rates."""
    if not bill.priced:
        return []
    lines = [
        f"bill: {bill.total:,.2f} {currency}".rstrip()
        + f" for {len(bill.table.rows) - len(bill.unrated)} lines"
    ]
    if bill.unrated:
        lines.append(
            f"{len(bill.unrated)} lines without a rate of yours, left blank: {_listed(bill.unrated)}"
        )
    return lines


def _listed(items: Sequence[str]) -> str:
    more = f" … {len(items) - SHOWN} more in bill.csv" if len(items) > SHOWN else ""
    return ", ".join(items[:SHOWN]) + more
