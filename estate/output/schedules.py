"""schedules.xlsx: the schedules, the tests and the bill as a workbook for people. Money stands in the bill only."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from estate.output.bill_file import Bill
from estate.output.lacking import SCHEDULES
from estate.output.off_record import told_off_record
from estate.output.result import Result, Table

SHEETS = {
    "draft": "Draft",
    **SCHEDULES,
    "containment": "Containment",
    "cores": "Cores",
    "terminations": "Terminations",
    "recorders": "Recorders",
    "cabinets": "Cabinets",
    "findings": "Findings",
    "survey": "Find out first",
    "programme": "Programme",
    "repairs": "Ways to cure",
    "reuse": "Reuse",
    "assets": "Assets",
    "records": "Records",
    "completeness": "Completeness",
    "proximity": "Near mains",
    "tests": "Tests",
    "links": "Links",
    "budget": "Budget lines",
    "cuts": "Single cuts",
    "phases": "Phases",
    "assumptions": "Assumptions",
}
BEFORE_BILL = "tests"
"""Table whose sheet the bill follows."""

JUDGED = ("links", "schedule_cameras")
"""Tables with a verdict on each camera."""

MONEY = ("cost", "cost_total", "in_budget")
"""Columns that stay out of the workbook: a tender's reader has no use for an estimate."""

UNITS = {
    "_m": "m", "_mm": "mm", "_percent": "%", "_db": "dB", "_deg": "°", "_w": "W", "_mm2": "mm²", "_n": "N", "volts_day": "V",
    "volts_night": "V", "volts": "V", "volts_min": "V", "volts_max": "V", "mbps": "Mb/s", "gb_per_day": "GB/day",
    "x": "m", "y": "m",
}  # fmt: skip
HEADS = {"mbps": "stream [Mb/s]", "gb_per_day": "storage [GB/day]"}
"""Heads that the names of columns don't give."""

CUT = ("m", "mm", "mm2", "percent", "db", "deg", "w", "n")
"""Endings that the unit in brackets stands for."""

FORMATS = {"_m": "0.0", "_mm": "0", "_percent": "0.0", "_db": "0.00", "amount": "#,##0.00", "rate": "#,##0.00",
           "quantity": "#,##0.00", "x": "0.00", "y": "0.00", "expected": "0.000", "limit": "0.000"}  # fmt: skip
NARROWEST, WIDEST = 6, 32
CELL_MOST = 32_767
"""Characters that a cell can hold."""

HEADER_MOST = 60
"""Characters of a title in a printed header, which holds 255 in all."""

FIXED_TIME = datetime(2000, 1, 1)  # noqa: DTZ001  a workbook's dates have no zone
"""Creation date put into the workbook, so that the same result gives the same bytes."""

MARKED = "#C00000"


def write_workbook(path: Path, result: Result, bill: Bill) -> None:
    """Write a sheet per table: frozen heads, filters, units, print areas. Texts never become formulas or addresses."""
    import xlsxwriter  # noqa: PLC0415  slow

    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(path, options) as book:
        book.set_properties({"title": result.estate["title"], "created": FIXED_TIME})
        page = _Page(book, result)
        page.cover()
        for name, title in SHEETS.items():
            each = result.tables.get(name)
            if each is not None and (each.rows or name == "findings"):
                shown = told_off_record(each) if name in JUDGED and result.command == "audit" else each
                page.sheet(name, title, _in_words(_without_money(name, shown)))
            if name == BEFORE_BILL and bill.table.rows:
                page.bill(bill)


def _without_money(name: str, each: Table) -> Table:
    """Return a table without columns of money; of the assumptions, without the invented rates."""
    kept = [k for k, column in enumerate(each.columns) if column not in MONEY]
    rows = [row for row in each.rows if name != "assumptions" or row[-1] != "invented"]
    return Table(tuple(each.columns[k] for k in kept), tuple(tuple(row[k] for k in kept) for row in rows))


def _in_words(each: Table) -> Table:
    """Return a table that names schedules by their sheets."""
    rows = tuple(
        tuple(
            SCHEDULES.get(str(value), value) if column == "schedule" else value
            for column, value in zip(each.columns, row, strict=True)
        )
        for row in each.rows
    )
    return Table(each.columns, rows)


class _Page:
    """A workbook with its formats; each method writes one kind of sheet."""

    def __init__(self, book: Any, result: Result) -> None:
        self.book, self.result = book, result
        self.bold = book.add_format({"bold": True, "valign": "top"})
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.wrap = book.add_format({"text_wrap": True, "valign": "top"})
        self.formats: dict[str, Any] = {}
        draft = result.tables.get("draft")
        self.lacking = {row[0] for row in draft.rows} if draft is not None else set()

    def number(self, form: str, *, bold: bool = False) -> Any:
        """Return the format of a number, each made once."""
        key = f"{form} {bold}"
        if key not in self.formats:
            self.formats[key] = self.book.add_format({"num_format": form, "valign": "top", "bold": bold})
        return self.formats[key]

    def cover(self) -> None:
        """Write the first sheet: what the estate is, notes and cautions."""
        result, sheet = self.result, self.book.add_worksheet("Cover")
        sheet.set_column(0, 0, 16)
        sheet.set_column(1, 1, 110, self.wrap)
        rows = [(key, str(value)) for key, value in result.estate.items() if value]
        rows += [("note", note) for note in result.notes] + [("caution", text) for text in result.cautions]
        for row, (key, text) in enumerate(rows):
            sheet.write_string(row, 0, key, self.bold)
            sheet.write_string(row, 1, text[:CELL_MOST], self.wrap)
        self._for_print(sheet, "Cover", len(rows), 2)

    def sheet(self, name: str, title: str, each: Table) -> None:
        """Write one table under a frozen head with filters; one that lacks facts has a red tab and says so in print."""
        sheet = self.book.add_worksheet(title)
        for place, column in enumerate(each.columns):
            self._column(sheet, place, column, each.column(column), head_of(column))
        self._finish(sheet, title, len(each.rows), len(each.columns), draft=name in self.lacking)

    def bill(self, bill: Bill) -> None:
        """Write the bill: with rates and sums, or with room for rates, whose amounts add up as they are filled in."""
        sheet, each = self.book.add_worksheet("Bill"), bill.table
        currency = self.result.estate["currency"]
        heads = [
            head_of(c) + (f" [{currency}]" if currency and c in ("rate", "amount") else "")
            for c in each.columns
        ]
        for place, column in enumerate(each.columns):
            self._column(sheet, place, column, each.column(column), heads[place])
        last = len(each.rows)
        self._finish(sheet, "Bill", last, len(each.columns), draft=False)
        sheet.set_column(5, 6, 14)
        if not bill.priced:
            for row in range(1, last + 1):
                formula = f'=IF(F{row + 1}="","",ROUND(E{row + 1}*F{row + 1},2))'
                sheet.write_formula(row, 6, formula, self.number(FORMATS["amount"]), "")
        self._sums(sheet, bill, last + 2)
        sheet.print_area(0, 0, last + 2 + len(bill.sums()), len(each.columns) - 1)

    def _sums(self, sheet: Any, bill: Bill, row: int) -> None:
        """Write the sum of each heading and of all below the lines."""
        headings = [line[0] for line in bill.table.rows]
        form = self.number(FORMATS["amount"], bold=True)
        for place, (heading, money) in enumerate(bill.sums().items(), row):
            first, last = headings.index(heading) + 2, len(headings) - headings[::-1].index(heading) + 1
            bare = bill.without_rate(heading) if bill.priced else 0
            words = f" without {bare} lines that have no rate" if bare else ""
            sheet.write_string(place, 2, f"Sum of {heading}{words}", self.bold)
            if bare < headings.count(heading):
                self._sum(sheet, place, f"=SUM(G{first}:G{last})", float(money), form, priced=bill.priced)
        end = row + len(bill.sums())
        words = (
            "Total"
            if not bill.priced or not bill.unrated
            else f"Total without {len(bill.unrated)} lines that have no rate"
        )
        sheet.write_string(end, 2, words, self.bold)
        self._sum(sheet, end, f"=SUM(G2:G{len(headings) + 1})", float(bill.total), form, priced=bill.priced)

    @staticmethod
    def _sum(sheet: Any, row: int, formula: str, money: float, form: Any, *, priced: bool) -> None:
        if priced:
            sheet.write_number(row, 6, money, form)
        else:
            sheet.write_formula(row, 6, formula, form, 0)

    def _column(self, sheet: Any, place: int, column: str, values: Sequence[Any], head: str) -> None:
        sheet.write_string(0, place, head, self.head)
        form = _by_ending(FORMATS, column) or "General"
        number = self.number(form)
        longest = max([*map(len, head.split()), *(len(str(v)) for v in values if v is not None)], default=0)
        sheet.set_column(place, place, min(max(longest + 2, NARROWEST), WIDEST))
        for row, value in enumerate(values, 1):
            if isinstance(value, bool):
                sheet.write_string(row, place, "yes" if value else "no", self.wrap)
            elif isinstance(value, int | float):
                sheet.write_number(row, place, value, number)
            elif value is not None:
                sheet.write_string(row, place, str(value)[:CELL_MOST], self.wrap)

    def _finish(self, sheet: Any, title: str, rows: int, columns: int, *, draft: bool) -> None:
        sheet.freeze_panes(1, 1)
        sheet.autofilter(0, 0, max(rows, 1), columns - 1)
        sheet.repeat_rows(0)
        if draft:
            sheet.set_tab_color(MARKED)
        self._for_print(sheet, title, rows + 1, columns, draft=draft)

    def _for_print(self, sheet: Any, title: str, rows: int, columns: int, *, draft: bool = False) -> None:
        """Set paper, area, header and footer of a sheet."""
        estate = self.result.estate
        words = " ".join(
            filter(None, (estate["number"], estate["revision"] and f"revision {estate['revision']}"))
        )
        left = _printable(f"{estate['title']} {words}")
        middle = "&CDRAFT: rows lack facts" if draft else ""
        date = f"&L{_printable(estate['date'])}" if estate["date"] else ""
        sheet.set_header(f"&L{left}{middle}&R{title}")
        sheet.set_footer(f"{date}&CCalculated, not tested&RPage &P of &N")
        sheet.set_landscape()
        sheet.set_paper(8)  # A3
        sheet.set_margins(left=0.4, right=0.4, top=0.7, bottom=0.7)
        sheet.fit_to_pages(1, 0)
        sheet.print_area(0, 0, max(rows - 1, 0), columns - 1)


def head_of(column: str) -> str:
    """Return the head of a column: its name in words, its unit in brackets.

    >>> head_of("cable_length_m"), head_of("volts_night"), head_of("phase")
    ('cable length [m]', 'volts night [V]', 'phase')
    """
    if column in HEADS:
        return HEADS[column]
    unit, words = _by_ending(UNITS, column), column.replace("_", " ")
    if unit and column.rsplit("_", 1)[-1] in CUT:
        words = words.rsplit(" ", 1)[0]
    return f"{words} [{unit}]" if unit else words


def _printable(text: str) -> str:
    """Return a text for a printed header, where & starts a code."""
    return " ".join(text.split())[:HEADER_MOST].replace("&", "&&")


def _by_ending(words: dict[str, str], column: str) -> str:
    return words.get(column) or words.get("_" + column.rsplit("_", 1)[-1], "")
