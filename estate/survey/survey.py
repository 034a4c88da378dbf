"""The survey: every layer of an estate, read, checked and in metres."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.settings import Settings

Column = NDArray[Any]


@dataclass(frozen=True)
class Layer:
    """One layer as columns; rows are sorted by id.

    Number columns are float arrays with NaN where unknown; text and choice columns are object arrays of
    str or None; yes/no columns hold True, False or None; list columns hold tuples (empty where blank).
    `geometry` holds shapely geometries in metres of the estate's CRS, None for a schematic row.
    `origin` says where each row stands ("routes.csv row 7").
    """

    name: str
    columns: Mapping[str, Column]
    geometry: NDArray[np.object_]
    origin: NDArray[np.object_]
    extra: Mapping[str, Column] = field(default_factory=dict)
    assumed: Mapping[str, NDArray[np.bool_]] = field(default_factory=dict)
    """Per column, which rows hold a value of [assume] instead of their own."""
    defaulted: Mapping[str, NDArray[np.bool_]] = field(default_factory=dict)
    """Per column, which rows hold a default instead of their own."""

    def __len__(self) -> int:
        return len(self.origin)

    def __getitem__(self, column: str) -> Column:
        return self.columns[column]

    @property
    def ids(self) -> list[str]:
        """The ids, in row order."""
        return list(self.columns["id"])

    def row_of(self) -> dict[str, int]:
        """Row number by id."""
        return {name: row for row, name in enumerate(self.columns["id"])}

    def is_assumed(self, column: str, row: int) -> bool:
        """Whether this value comes from [assume]."""
        marks = self.assumed.get(column)
        return bool(marks is not None and marks[row])


@dataclass(frozen=True, slots=True)
class FileCount:
    """Features of one file: read = accepted + rejected."""

    file: str
    features: int
    accepted: int
    rejected: int
    note: str = ""
    """How it was read, where that was detected: delimiter ;, decimal comma, BOM."""


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value the user did not give: a default taken for blanks, or one of [assume]."""

    subject: str
    value: Any
    count: int
    kind: str
    """default or assumed."""


@dataclass(frozen=True)
class Survey:
    """An estate as read. Optional layers that are absent are empty layers with every column."""

    folder: Path
    settings: Settings
    routes: Layer
    points: Layer
    mains: Layer
    buildings: Layer
    cables: Layer
    supplies: Layer
    crs: str | None
    """Code of the projected CRS all geometry is in, None where coordinates are local or there are none."""
    crs_wkt: str = ""
    """The same CRS in full, for writing files and for going back to longitude and latitude."""
    files: tuple[FileCount, ...] = ()
    notes: tuple[str, ...] = ()
    """What was done to the coordinates, for people: zone estimated, feet converted, reprojected."""
    assumptions: tuple[Assumption, ...] = ()
    hashes: Mapping[str, str] = field(default_factory=dict)
    """SHA-256 of every input file by name."""
    backdrop: tuple[Any, ...] = ()
    """Lines and outlines to be drawn under the plans, in the same plane."""
