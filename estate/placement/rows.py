"""Constraints as sparse rows, each with the name of the limit it states."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from estate.placement.task import Ints

Floats = NDArray[np.float64]
Name = tuple[str, int]
"""A limit and the index of what it limits, for example ("channels", 3); ("", -1) for what only ties variables."""
TIES: Name = ("", -1)
WORKS = "works"
"""Limit of the rows by which a work is paid: not one that could be lifted."""


@dataclass(frozen=True)
class Rows:
    """Constraints lower ≤ matrix · v ≤ upper."""

    matrix: sparse.csr_array
    lower: Floats
    upper: Floats
    names: tuple[Name, ...]

    def without(self, names: set[Name]) -> "Rows":
        """Return the rows less those of some limits."""
        kept = np.array([name not in names for name in self.names], dtype=bool)
        return Rows(
            self.matrix[np.flatnonzero(kept)],
            self.lower[kept],
            self.upper[kept],
            tuple(name for name in self.names if name not in names),
        )


def stacked(groups: list[Rows], columns: int) -> Rows:
    """Return the rows of all groups, in their order."""
    empty = sparse.csr_array((0, columns))
    return Rows(
        sparse.csr_array(sparse.vstack([empty, *(group.matrix for group in groups)], format="csr")),
        np.concatenate([np.empty(0), *(group.lower for group in groups)]),
        np.concatenate([np.empty(0), *(group.upper for group in groups)]),
        tuple(name for group in groups for name in group.names),
    )


def at_most(matrix: sparse.csr_array, upper: float | Floats = 0.0, names: tuple[Name, ...] = ()) -> Rows:
    """Return rows that are at most `upper`."""
    rows = matrix.shape[0]
    ceiling = np.broadcast_to(np.asarray(upper, dtype=float), rows).copy()
    return Rows(matrix, np.full(rows, -np.inf), ceiling, names or (TIES,) * rows)


def equal(matrix: sparse.csr_array, value: float | Floats = 0.0) -> Rows:
    """Return rows that are equal to `value`."""
    rows = matrix.shape[0]
    sides = np.broadcast_to(np.asarray(value, dtype=float), rows)
    return Rows(matrix, sides.copy(), sides.copy(), (TIES,) * rows)


def summed(
    columns: int, rows: int, row: Ints, column: Ints, weight: Floats | None = None
) -> sparse.csr_array:
    """Return a matrix of `rows` rows with the weights (1 where none are given) at (row, column), added up."""
    entries = np.ones(len(row)) if weight is None else weight
    return sparse.csr_array((entries, (row, column)), shape=(rows, columns))


def grouped(columns: int, column: Ints, *keys: Ints) -> tuple[sparse.csr_array, Ints]:
    """Sum columns over groups with the same keys: the rows, and the keys of each."""
    if not len(column):
        return sparse.csr_array((0, columns)), np.empty((len(keys), 0), dtype=np.int64)
    found, row = np.unique(np.stack(keys), axis=1, return_inverse=True)
    return summed(columns, found.shape[1], row.ravel(), column), found
