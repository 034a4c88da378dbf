"""Cables laid into a cross-section, true to size: where each of them comes to lie."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TOUCH = 1e-9
"""Circles that overlap by less than this only touch [mm]."""


@dataclass(frozen=True, slots=True)
class Bore:
    """A round inside, its middle at the origin."""

    radius: float

    def holds(self, x: Floats, y: Floats, r: float) -> Bools:
        """Whether circles lie inside."""
        return np.asarray(np.hypot(x, y) <= self.radius - r + TOUCH)

    def resting(self, r: float, placed: Sequence["Circle"]) -> Iterator[tuple[float, float]]:
        """Yield where a circle may rest on the wall: at the bottom, and beside each circle there is."""
        reach = self.radius - r
        if reach < 0:
            return
        yield 0.0, -reach
        for other in placed:
            yield from _meets((0.0, 0.0), reach, (other.x, other.y), other.r + r)


@dataclass(frozen=True, slots=True)
class Trough:
    """A flat floor between two upright walls, the floor's middle at the origin; open above where `height` is infinite."""

    width: float
    height: float = math.inf

    def holds(self, x: Floats, y: Floats, r: float) -> Bools:
        """Whether circles lie inside."""
        across = np.abs(x) <= self.width / 2 - r + TOUCH
        return np.asarray(across & (y >= r - TOUCH) & (y <= self.height - r + TOUCH))

    def resting(self, r: float, placed: Sequence["Circle"]) -> Iterator[tuple[float, float]]:
        """Yield where a circle may rest on the floor or against a wall."""
        wall = self.width / 2 - r
        yield from ((-wall, r), (wall, r))
        for other in placed:
            apart = other.r + r
            if abs(other.y - r) <= apart:
                step = math.sqrt(max(apart**2 - (other.y - r) ** 2, 0.0))
                yield from ((other.x + step, r), (other.x - step, r))
            for x in (-wall, wall):
                if abs(other.x - x) <= apart:
                    yield x, other.y + math.sqrt(max(apart**2 - (other.x - x) ** 2, 0.0))


@dataclass(frozen=True, slots=True)
class Circle:
    """A cable that lies somewhere: middle and radius [mm]."""

    x: float
    y: float
    r: float


def packed(diameters_mm: Sequence[float], inside: Bore | Trough) -> list[Circle | None]:
    """Lay cables in one after another, the thickest first, each as low as it can lie; None where one finds no room.

    The answer is in the order given. Each rests on the wall, or on two others.
    """
    order = sorted(range(len(diameters_mm)), key=lambda n: (-diameters_mm[n], n))
    placed: list[Circle] = []
    found: list[Circle | None] = [None] * len(diameters_mm)
    for n in order:
        r = diameters_mm[n] / 2
        x, y = np.array([*inside.resting(r, placed), *_between(r, placed)]).reshape(-1, 2).T
        free = inside.holds(x, y, r) & _is_clear(x, y, r, placed)
        if free.any():
            x, y = x[free], y[free]
            best = np.lexsort((x, np.round(np.abs(x), 6), np.round(y, 6)))[0]
            found[n] = Circle(float(x[best]), float(y[best]), r)
            placed.append(Circle(float(x[best]), float(y[best]), r))
    return found


def _between(r: float, placed: Sequence[Circle]) -> Floats:
    """Return where a circle touches two others that are near enough to each other, as rows of x, y."""
    xyr = np.array([(c.x, c.y, c.r + r) for c in placed]).reshape(-1, 3)
    a, b = (xyr[index] for index in np.triu_indices(len(xyr), 1))
    apart = np.hypot(*(b - a)[:, :2].T)
    near = (apart <= a[:, 2] + b[:, 2]) & (apart > TOUCH) & (apart >= np.abs(a[:, 2] - b[:, 2]))
    a, b, apart = a[near], b[near], apart[near]
    along = (apart**2 + a[:, 2] ** 2 - b[:, 2] ** 2) / (2 * apart)
    off = np.sqrt(np.maximum(a[:, 2] ** 2 - along**2, 0.0))
    ux, uy = (b - a)[:, :2].T / apart
    sides = [
        np.column_stack([a[:, 0] + along * ux - sense * off * uy, a[:, 1] + along * uy + sense * off * ux])
        for sense in (1.0, -1.0)
    ]
    return np.concatenate(sides)


def _is_clear(x: Floats, y: Floats, r: float, placed: Sequence[Circle]) -> Bools:
    """Whether circles overlap none of those placed."""
    xyr = np.array([(c.x, c.y, c.r) for c in placed]).reshape(-1, 3)
    apart = np.hypot(x[:, None] - xyr[:, 0], y[:, None] - xyr[:, 1])
    return np.asarray((apart >= xyr[:, 2] + r - 1e-7).all(axis=1))


def _meets(
    a: tuple[float, float], ra: float, b: tuple[float, float], rb: float
) -> Iterator[tuple[float, float]]:
    """Yield where two circles about `a` and `b` cross."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    apart = math.hypot(dx, dy)
    if apart < TOUCH or apart > ra + rb or apart < abs(ra - rb):
        return
    along = (apart**2 + ra**2 - rb**2) / (2 * apart)
    off = math.sqrt(max(ra**2 - along**2, 0.0))
    ux, uy = dx / apart, dy / apart
    for sense in (1.0, -1.0):
        yield a[0] + along * ux - sense * off * uy, a[1] + along * uy + sense * off * ux
