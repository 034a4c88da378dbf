"""Values of one row that can't all be true."""

import unicodedata
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.survey.table import Table

Columns = Mapping[str, NDArray[Any]]


def check_contradictions(tables: Mapping[str, Table], columns: Mapping[str, Columns]) -> None:
    """Reject ids that can't be printed, volts whose least is above their greatest, and supplies without power."""
    for layer, table in tables.items():
        _check_ids(table, columns[layer])
    for layer in ("points", "supplies"):
        _check_volts(tables[layer], columns[layer])
    supplies = columns["supplies"]
    for index in np.flatnonzero(supplies["watts"].astype(float) == 0).tolist():
        tables["supplies"].reject(
            index, "more than 0 W, or a blank where it isn't known", field="watts", value=0
        )


def _check_ids(table: Table, columns: Columns) -> None:
    for index, name in enumerate(columns["id"]):
        if name is not None and any(unicodedata.category(letter) == "Cc" for letter in name):
            table.reject(index, "an id without control characters", field="id", value=name)


def _check_volts(table: Table, columns: Columns) -> None:
    """Reject rows whose nominal volts don't lie between the least and the greatest."""
    for lower, upper in (("volts_min", "volts_max"), ("volts_min", "volts"), ("volts", "volts_max")):
        low, high = columns[lower].astype(float), columns[upper].astype(float)
        for index in np.flatnonzero(low > high).tolist():
            expected = f"{lower} = {low[index]:g} or more"
            table.reject(index, expected, field=upper, value=float(high[index]))
