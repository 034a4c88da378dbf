"""Raw values to typed columns: each value checked against its column's kind, range and choices."""

from collections.abc import Mapping
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.errors import suggestion
from estate.survey.fields import CATALOGUE, Column
from estate.survey.numerals import parse_number
from estate.survey.table import Table, objects

TRUE = ("true", "yes", "1")
FALSE = ("false", "no", "0")
UNKNOWN = "unknown"

Known = Mapping[str, frozenset[str]]
"""Ids of the catalogue by table: signals, feeds, cables, methods, items."""


class Unfit(ValueError):
    """A value that its column doesn't take."""

    def __init__(self, expected: str, fix: str = "") -> None:
        self.expected = expected
        self.fix = fix
        super().__init__(expected)


def typed_columns(table: Table, known: Known) -> dict[str, NDArray[Any]]:
    """Return every column of the schema typed; values that don't fit are rejected and left blank."""
    return {column.name: _typed(table, column, known) for column in table.schema.columns}


def _typed(table: Table, column: Column, known: Known) -> NDArray[Any]:
    values = table.values[column.name]
    typed = [blank(column)] * len(table)
    spelt: dict[str, Any] = {}  # words come again and again
    for index, (value, broken) in enumerate(zip(values, table.broken.tolist(), strict=True)):
        if (value is None and not column.required) or broken:
            continue
        if isinstance(value, str) and value in spelt:
            typed[index] = spelt[value]
            continue
        try:
            if not _is_blank(value, column):
                typed[index] = convert(value, column, known)
                if isinstance(value, str):
                    spelt[value] = typed[index]
            elif column.required and (table.file[index], column.name) not in table.absent:
                raise Unfit("a value")  # noqa: TRY301  one way out for all that doesn't fit
        except Unfit as unfit:
            shown = "" if value is None else value
            table.reject(index, unfit.expected, field=column.name, value=shown, fix=unfit.fix)
    return as_array(typed, column)


def as_array(values: list[Any], column: Column) -> NDArray[Any]:
    """Return typed values as the array that a Layer holds."""
    return np.array(values, dtype=np.float64) if is_numeric(column) else objects(values)


def is_numeric(column: Column) -> bool:
    """Whether a column is held as floats with NaN for unknown."""
    return column.kind in ("number", "count")


def blank(column: Column) -> Any:
    """Return what stands for unknown in a column."""
    if is_numeric(column):
        return float("nan")
    return () if column.kind == "list" else None


def is_unknown(array: NDArray[Any]) -> NDArray[np.bool_]:
    """Return which values of a typed column are unknown."""
    if array.dtype.kind == "f":
        return np.asarray(np.isnan(array), dtype=bool)
    return np.fromiter((value is None or value == () for value in array), dtype=bool, count=len(array))


def _is_blank(value: Any, column: Column) -> bool:
    if value is None or value in ([], ""):
        return True
    if not isinstance(value, str):
        return False
    word = value.strip().casefold()
    says_unknown = column.kind in ("choice", "flag") or column.refers_to.startswith(CATALOGUE)
    return not word or (says_unknown and word == UNKNOWN)


def convert(value: Any, column: Column, known: Known) -> Any:
    """Return one value that isn't blank in its column's type.

    Raises
    ------
    Unfit
        The value is of another kind, out of range, or no known choice or id.

    """
    if is_numeric(column):
        return _number(value, column)
    if column.kind == "flag":
        return _flag(value)
    if column.kind == "list":
        return tuple(_member(item, column, known) for item in _items(value))
    if isinstance(value, dict | list | tuple):
        raise Unfit("a text")
    return _member(_text(value), column, known)


def _text(value: Any) -> str:
    """Spell an id or a text; a whole number has no decimals."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _number(value: Any, column: Column) -> float:
    if isinstance(value, bool) or not isinstance(value, str | int | float | np.number):
        raise Unfit(_range_words(column))
    number = parse_number(value) if isinstance(value, str) else float(value)
    if not isfinite(number):
        comma = isinstance(value, str) and isfinite(parse_number(value.replace(",", ".")))
        fix = "use a decimal point" if comma else "leave it blank where it is unknown"
        raise Unfit(_range_words(column), fix)
    whole = column.kind != "count" or number.is_integer()
    low = column.least is not None and number < column.least
    if not whole or low or (column.most is not None and number > column.most):
        raise Unfit(_range_words(column))
    return number


def _range_words(column: Column) -> str:
    word = "a whole number" if column.kind == "count" else "a finite number"
    if column.least is not None and column.most is not None:
        return f"{word} from {column.least:g} to {column.most:g}"
    return word if column.least is None else f"{word} of {column.least:g} or more"


def _flag(value: Any) -> bool:
    word = _text(value).casefold()
    if word in TRUE:
        return True
    if word in FALSE:
        return False
    raise Unfit("true, false, yes, no, 1 or 0")


def _items(value: Any) -> list[str]:
    """Cut a list at ; and |, or take it as it is."""
    if isinstance(value, dict):
        raise Unfit("a list")
    parts = value if isinstance(value, list | tuple) else [value]
    words = [word.strip() for part in parts for word in _text(part).replace("|", ";").split(";")]
    return [word for word in words if word]


def _member(word: str, column: Column, known: Known) -> str:
    """Return a word in the spelling of the choice or id that it names, without case."""
    if column.refers_to == "catalogue:items":
        name, _, node = word.partition("@")
        if not name.strip() or not node.strip():
            raise Unfit("equipment as ID@NODE")
        return f"{_option(name.strip(), column, known)}@{node.strip()}"
    return _option(word, column, known)


def _option(word: str, column: Column, known: Known) -> str:
    expected, options = f"one of {', '.join(column.choices)}", column.choices
    if column.refers_to.startswith(CATALOGUE):
        table = column.refers_to.removeprefix(CATALOGUE)
        if table not in known:
            return word
        options = (*column.choices, *sorted(known[table]))
        expected = " or ".join([*column.choices, f"an id of the catalogue's {table}"])
    elif not column.choices:
        return word
    found = {option.casefold(): option for option in options}.get(word.casefold())
    if found is None:
        raise Unfit(expected, suggestion(word, options))
    return found
