"""schedules.xlsx: the tables as a workbook for people."""

from datetime import datetime
from pathlib import Path
from typing import Any

from estate.output.result import Result, Table

SHEETS = {
    "links": "Links",
    "budget": "Budget lines",
    "recorders": "Recorders",
    "cabinets": "Cabinets",
    "segments": "Segments",
    "proximity": "Near mains",
    "findings": "Findings",
    "cuts": "Single cuts",
    "phases": "Phases",
    "terminations": "Terminations",
    "cores": "Cores",
    "quantities": "Quantities",
    "assumptions": "Assumptions",
}
UNITS = {
    "_m": "m", "_mm": "mm", "_percent": "%", "_db": "dB", "_deg": "°", "_w": "W", "volts_day": "V",
    "volts_night": "V", "mbps": "Mb/s", "gb_per_day": "GB/day",
}  # fmt: skip
FORMATS = {"_m": "0.0", "_mm": "0", "_percent": "0.0", "_db": "0.00", "cost": "#,##0.00", "amount": "#,##0.00",
           "rate": "#,##0.00", "quantity": "#,##0.00"}  # fmt: skip
WIDEST = 60
FIXED_TIME = datetime(2000, 1, 1)  # noqa: DTZ001  a workbook's dates have no zone
"""Creation date put into the workbook, so that the same result gives the same bytes."""


def write_workbook(path: Path, result: Result) -> None:
    """Write one sheet per table: frozen heads, filters, units, print areas; texts never become formulas."""
    import xlsxwriter  # noqa: PLC0415  slow

    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(path, options) as book:
        book.set_properties({"title": result.estate["title"], "created": FIXED_TIME})
        _cover(book, result)
        for name, title in SHEETS.items():
            _sheet(book, title, result.tables[name])


def _cover(book: Any, result: Result) -> None:
    """Write the first sheet: what the estate is, notes and cautions."""
    sheet, bold = book.add_worksheet("Cover"), book.add_format({"bold": True})
    wrap = book.add_format({"text_wrap": True, "valign": "top"})
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 100, wrap)
    rows = [(key, str(value)) for key, value in result.estate.items() if value]
    rows += [("note", note) for note in result.notes] + [("caution", text) for text in result.cautions]
    for row, (key, text) in enumerate(rows):
        sheet.write_string(row, 0, key, bold)
        sheet.write_string(row, 1, text)
    _for_print(sheet, len(rows), 2)


def _sheet(book: Any, title: str, table: Table) -> None:
    sheet = book.add_worksheet(title)
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    for place, column in enumerate(table.columns):
        unit = _by_ending(UNITS, column)
        words = column.replace("_", " ")
        ending = column.rsplit("_", 1)[-1]
        if unit and ending in ("m", "mm", "percent", "db", "deg", "w"):
            words = words.rsplit(" ", 1)[0]
        sheet.write_string(0, place, f"{words} [{unit}]" if unit else words, head)
        number = book.add_format({"num_format": _by_ending(FORMATS, column) or "General", "valign": "top"})
        values = table.column(column)
        longest = max([len(column), *(len(str(v)) for v in values if v is not None)])
        sheet.set_column(place, place, min(longest + 2, WIDEST))
        for row, value in enumerate(values, 1):
            _write(sheet, row, place, value, number)
    sheet.freeze_panes(1, 1)
    sheet.autofilter(0, 0, max(len(table.rows), 1), len(table.columns) - 1)
    sheet.repeat_rows(0)
    _for_print(sheet, len(table.rows) + 1, len(table.columns))


def _write(sheet: Any, row: int, place: int, value: Any, number: Any) -> None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        sheet.write_number(row, place, value, number)
    elif value is not None:
        sheet.write_string(row, place, str(value))


def _for_print(sheet: Any, rows: int, columns: int) -> None:
    sheet.set_landscape()
    sheet.set_paper(8)  # A3
    sheet.fit_to_pages(1, 0)
    sheet.print_area(0, 0, max(rows - 1, 0), columns - 1)


def _by_ending(words: dict[str, str], column: str) -> str:
    return words.get(column) or words.get("_" + column.rsplit("_", 1)[-1], "")
