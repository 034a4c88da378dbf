"""One CSV file in: encoding, delimiter and decimal sign detected and said, rows kept with their numbers."""

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

from estate.errors import Problem
from estate.survey.cells import as_meant
from estate.survey.csv_geometry import with_geometry
from estate.survey.fields import GEOMETRY_COLUMNS, LayerSchema
from estate.survey.table import Table, Values, blank_table, fill

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?")
DECIMAL_POINT = re.compile(r"[+-]?\d*\.\d+(?:[eE][+-]?\d+)?")
COORDINATES = ("x", "y", "z", "lon", "lat", "seq")


@dataclass
class _Sheet:
    """A file cut into cells: `numbers` are the row numbers as a spreadsheet shows them."""

    headers: list[str]
    cells: list[list[str]]
    numbers: list[int]


def read_csv(path: Path, schema: LayerSchema) -> tuple[Table, str, list[Problem]]:
    """Read one CSV: its features, a note on how it was read, and problems of the file as a whole."""
    empty = blank_table(schema, path.name, [])
    text, encoding = _decoded(path.read_bytes())
    if text is None:
        fix = "save it as UTF-8"
        return empty, "", [Problem(path.name, "text in UTF-8 or Windows-1252", fix=fix)]
    delimiter = _delimiter(text, schema)
    try:
        sheet = _cut(text, delimiter)
    except csv.Error as error:
        return empty, "", [Problem(path.name, f"a readable CSV ({error})")]
    notes = [note for note in (encoding, f"delimiter {DELIMITERS[delimiter]}") if note]
    table = blank_table(schema, path.name, sheet.numbers)
    columns = _columns(sheet)
    if delimiter != "," and _decimal_comma(columns, schema):
        notes.append("decimal comma")
    reserved = GEOMETRY_COLUMNS[schema.geometry]
    fill(table, {header: values for header, values in columns.items() if header}, reserved)
    _reject_ragged(table, sheet)
    if schema.geometry == "polygon" and {"x", "y"} <= {name.casefold() for name in columns}:
        table.reject_file(path.name, "outlines in a column wkt", field="x, y", fix="or write GeoJSON")
    drawn = {name.strip().casefold(): values for name, values in columns.items()}
    return (
        with_geometry(table, {name: drawn[name] for name in reserved if name in drawn}),
        ", ".join(notes),
        [],
    )


def _decoded(raw: bytes) -> tuple[str | None, str]:
    """Return the text and what is to be said of its encoding."""
    said = "UTF-8 with BOM" if raw.startswith(b"\xef\xbb\xbf") else ""
    tries = [("utf-8-sig", said), ("cp1252", "Windows-1252")]
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        tries = [("utf-16", "UTF-16")]
    for encoding, said in tries:
        try:
            return raw.decode(encoding), said
        except UnicodeDecodeError:
            continue
    return None, ""


def _delimiter(text: str, schema: LayerSchema) -> str:
    """Return the delimiter that makes the most known columns of the first line, then the most columns."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    known = {*schema.by_name, *GEOMETRY_COLUMNS[schema.geometry]}

    def merit(delimiter: str) -> tuple[int, int]:
        names = [name.strip(' "').casefold() for name in first.split(delimiter)]
        return sum(name in known for name in names), len(names)

    return max(DELIMITERS, key=merit)


def _cut(text: str, delimiter: str) -> _Sheet:
    """Cut text into cells; rows without any content are passed over but counted."""
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    headers: list[str] | None = None
    cells: list[list[str]] = []
    numbers: list[int] = []
    for number, row in enumerate(rows, 1):
        if not "".join(row).strip():
            continue
        if headers is None:
            headers = [as_meant(cell.strip()) for cell in row]
            continue
        cells.append(row)
        numbers.append(number)
    return _Sheet(headers or [], cells, numbers)


def _is_ragged(row: list[str], width: int) -> bool:
    """Whether a row has too few cells, or content beyond the headers."""
    return len(row) < width or (len(row) > width and bool("".join(row[width:]).strip()))


def _columns(sheet: _Sheet) -> dict[str, Values]:
    """Turn rows into columns by header, None where blank; ragged rows are blank but for their id."""
    width = len(sheet.headers)
    place = next((i for i, name in enumerate(sheet.headers) if name.casefold() == "id"), None)
    square: list[list[str]] = []
    for row in sheet.cells:
        if not _is_ragged(row, width):
            square.append(row[:width])
            continue
        kept = [""] * width
        if place is not None and place < len(row):
            kept[place] = row[place]
        square.append(kept)
    stripped = [[as_meant(cell.strip()) or None for cell in column] for column in zip(*square, strict=True)]
    columns: dict[str, Values] = {}
    for position, (header, values) in enumerate(zip(sheet.headers, stripped, strict=False), 1):
        name = header or (f"column {position}" if any(v is not None for v in values) else "")
        while name in columns:
            name += " "
        columns[name] = values
    return columns


def _decimal_comma(columns: dict[str, Values], schema: LayerSchema) -> bool:
    """Where number columns are written with a comma and never with a point, rewrite them; say whether."""
    kinds = schema.by_name
    numeric = [
        values
        for header, values in columns.items()
        if (name := header.strip().casefold()) in COORDINATES
        or (name in kinds and kinds[name].kind in ("number", "count"))
    ]
    cells = [value for values in numeric for value in values if value is not None]
    if any(map(DECIMAL_POINT.fullmatch, cells)) or not any(map(DECIMAL_COMMA.fullmatch, cells)):
        return False
    for values in numeric:
        values[:] = [v.replace(",", ".") if v and DECIMAL_COMMA.fullmatch(v) else v for v in values]
    return True


def _reject_ragged(table: Table, sheet: _Sheet) -> None:
    width = len(sheet.headers)
    for index, row in enumerate(sheet.cells):
        if _is_ragged(row, width):
            table.broken[index] = table.undrawn[index] = True
            fix = "quote cells that hold the delimiter"
            table.reject(index, f"{width} cells, as in the header, not {len(row)}", fix=fix)
