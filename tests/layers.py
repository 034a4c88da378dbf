"""Layers and surveys made by hand, every column filled with blanks where a test gives nothing."""

from pathlib import Path

import numpy as np

from estate.settings import NetworkSection, Settings
from estate.survey.fields import LAYERS
from estate.survey.survey import Layer, Survey

BLANK = {"number": np.nan, "count": np.nan, "text": None, "choice": None, "flag": None, "list": ()}


def column(kind, values):
    if kind in ("number", "count"):
        return np.array(values, dtype=float)
    cells = np.empty(len(values), dtype=object)
    cells[:] = values
    return cells


def layer(name, rows=(), geometry=None):
    """A layer from dicts; `geometry` in the same order, None for rows without. Rows are sorted by id."""
    rows = list(rows)
    shapes = list(geometry) if geometry is not None else [None] * len(rows)
    order = sorted(range(len(rows)), key=lambda k: rows[k]["id"])
    columns = {
        c.name: column(
            c.kind,
            [rows[k].get(c.name, BLANK[c.kind] if c.default is None else c.default) for k in order],
        )
        for c in LAYERS[name].columns
    }
    unknown = {key for row in rows for key in row} - columns.keys()
    assert not unknown, unknown
    return Layer(
        name,
        columns,
        column("text", [shapes[k] for k in order]),
        column("text", [f"{name} row {k + 1}" for k in order]),
    )


def survey(*, settings=None, crs="EPSG:32630", **network):
    """A survey of the layers given by name; other keywords are keys of [network]."""
    layers = {name: network.pop(name, None) or layer(name) for name in LAYERS}
    settings = settings or Settings(network=NetworkSection(**network))
    return Survey(Path(), settings, crs=crs, **layers)
