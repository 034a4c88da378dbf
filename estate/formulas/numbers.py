"""What the formulas take and give, and how they refuse a value outside their range."""

import numpy as np
from numpy.typing import NDArray

from estate.errors import OutOfRange

Numbers = float | NDArray[np.float64]
"""A number or an array of them; arrays broadcast. NaN is an unknown and stays one."""


def refuse_outside(name: str, value: Numbers, least: float, most: float = np.inf) -> None:
    """Raise OutOfRange where a value lies outside its range; NaN, an unknown, passes."""
    if isinstance(value, float | int) and not (value < least or value > most):
        return
    values = np.asarray(value, dtype=float)
    if np.any((values < least) | (values > most)):
        bounds = f"{least:g} or more" if np.isinf(most) else f"from {least:g} to {most:g}"
        wrong = float(values[(values < least) | (values > most)].flat[0])
        raise OutOfRange(f"{name} = {wrong:g}: expected {bounds}")


def refuse_at_or_below_zero(name: str, value: Numbers) -> None:
    """Raise OutOfRange where a value is not positive; NaN passes."""
    if isinstance(value, float | int) and not value <= 0:
        return
    values = np.asarray(value, dtype=float)
    if np.any(values <= 0):
        raise OutOfRange(f"{name} = {float(values[values <= 0].flat[0]):g}: expected more than 0")
