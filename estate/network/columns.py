"""Values of a layer's column by row number, blank where the row is -1."""

import numpy as np

from estate.network.network import Floats, Ints, Texts
from estate.survey.survey import Layer


def numbers(layer: Layer, column: str, row: Ints) -> Floats:
    """Return a number column's values at rows; NaN at -1."""
    with_blank: Floats = np.append(layer[column].astype(float), np.nan)
    return np.asarray(with_blank[row])


def texts(layer: Layer, column: str, row: Ints) -> Texts:
    """Return the values of a column that holds no numbers at rows; None at -1."""
    with_blank = np.empty(len(layer) + 1, dtype=object)
    with_blank[:-1] = layer[column]
    return np.asarray(with_blank[row])
