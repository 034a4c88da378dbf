"""Blanks filled: values of [assume] first, then the defaults of the layers, every one of them counted."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.errors import Problem, suggestion
from estate.survey.fields import LAYERS, Column, LayerSchema
from estate.survey.survey import Assumption
from estate.survey.values import Known, Unfit, convert, is_unknown

Columns = dict[str, NDArray[Any]]
Marks = dict[str, NDArray[np.bool_]]

ENVIRONMENT_OF = {"catenary": "aerial", "buried": "buried"}
"""Environment of a route that gives none, where its containment settles it."""


def read_assumed(
    assume: Mapping[str, Any], known: Known, file: str = "estate.toml"
) -> tuple[dict[tuple[str, str], Any], list[Problem]]:
    """Check [assume]: layer → column → value; return the values by (layer, column)."""
    values: dict[tuple[str, str], Any] = {}
    problems = []
    for layer, table in assume.items():
        if layer not in LAYERS or not isinstance(table, dict):
            fix = suggestion(layer, LAYERS) or "write layer.column = value"
            problems.append(
                Problem(file, f"one of {', '.join(LAYERS)}", field="[assume]", value=layer, fix=fix)
            )
            continue
        columns = {name: column for name, column in LAYERS[layer].by_name.items() if name != "id"}
        for name, value in table.items():
            place = f"[assume] {layer}.{name}"
            if name not in columns:
                fix = suggestion(name, columns)
                problems.append(Problem(file, f"a column of {layer}", field=place, value=value, fix=fix))
                continue
            try:
                values[layer, name] = convert(value, columns[name], known)
            except Unfit as unfit:
                problems.append(Problem(file, unfit.expected, field=place, value=value, fix=unfit.fix))
    return values, problems


def fill_assumed(
    schema: LayerSchema, columns: Columns, values: Mapping[tuple[str, str], Any]
) -> tuple[Marks, list[Assumption]]:
    """Fill blanks with the values of [assume]; return which rows hold one, by column, and the counts."""
    marks: Marks = {}
    counted = []
    for column in schema.columns:
        if (schema.name, column.name) not in values or column.name not in columns:
            continue
        value = values[schema.name, column.name]
        mine = _fill(columns, column, value)
        if mine.any():
            marks[column.name] = mine
            counted.append(Assumption(f"{schema.name}.{column.name}", value, int(mine.sum()), "assumed"))
    return marks, counted


def fill_defaults(schema: LayerSchema, columns: Columns) -> tuple[Marks, list[Assumption]]:
    """Fill blanks with the schema's defaults and those that hang on another column; return as `fill_assumed`."""
    filled = [
        (column.name, column.default, _fill(columns, column, column.default))
        for column in schema.columns
        if column.default is not None
    ]
    marks: Marks = {}
    counted = []
    for name, value, mine in [*filled, *_dependent(schema.name, columns)]:
        if mine.any():
            marks[name] = marks.get(name, False) | mine
            counted.append(Assumption(f"{schema.name}.{name}", value, int(mine.sum()), "default"))
    return marks, counted


def _fill(columns: Columns, column: Column, value: Any) -> NDArray[np.bool_]:
    """Set a value where the column is blank and belongs to the row's kind; return the rows."""
    mine = is_unknown(columns[column.name])
    if column.only_for:
        mine &= np.isin(columns["kind"].astype(str), column.only_for)
    _set(columns[column.name], mine, value)
    return mine


def _set(array: NDArray[Any], mine: NDArray[np.bool_], value: Any) -> None:
    for row in np.flatnonzero(mine).tolist():
        array[row] = value


def _dependent(layer: str, columns: Columns) -> list[tuple[str, Any, NDArray[np.bool_]]]:
    """Fill defaults that depend on another column of the row."""
    if layer == "buildings":
        blank = is_unknown(columns["earth_zone"])
        columns["earth_zone"][blank] = columns["id"][blank]
        return [("earth_zone", "its own", blank)]
    if layer != "routes":
        return []
    proposed = is_unknown(columns["fill_percent"]) & (columns["status"] == "proposed")
    columns["fill_percent"][proposed] = 0.0
    filled: list[tuple[str, Any, NDArray[np.bool_]]] = [("fill_percent", 0.0, proposed)]
    for containment, environment in ENVIRONMENT_OF.items():
        mine = is_unknown(columns["environment"]) & (columns["containment"] == containment)
        columns["environment"][mine] = environment
        filled.append(("environment", environment, mine))
    return filled
