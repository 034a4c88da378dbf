"""The placement task and its answer: sites, candidate links, what to choose."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Site:
    """A place where a recorder stands or could stand.

    `sizes` are (channels, cost, model) to choose one of; an existing recorder, or a candidate with `channels`, has
    one size. A limit of None means no limit.
    """

    id: str
    existing: bool
    sizes: tuple[tuple[int, float, str], ...]
    channels_analogue: int | None = None
    channels_network: int | None = None
    mbps_max: float | None = None
    poe_ports: int | None = None
    poe_w: float | None = None
    keep: bool = False
    forbid: bool = False


@dataclass(frozen=True, slots=True)
class Candidate:
    """One link that could be chosen: `camera` and `site` are indices; `works` are proposed segments it needs."""

    camera: int
    site: int
    port: str
    """analogue or ethernet."""
    cost: float
    """Money of the link alone, without works [currency]."""
    cable_m: float
    """New cable [m], without waste."""
    verify: bool
    discouraged: bool
    mbps: float
    poe_w: float
    works: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PlacementTask:
    """Everything the program needs. `works_cost` is the money of each proposed segment, paid once."""

    cameras: tuple[str, ...]
    priorities: tuple[int, ...]
    sites: tuple[Site, ...]
    candidates: tuple[Candidate, ...]
    works_cost: dict[int, float]
    objective: str
    spare_percent: float
    recorders_exactly: int | None
    recorders_at_most: int | None
    apart: tuple[tuple[int, ...], ...]
    gap_percent: float
    time_limit_s: float


@dataclass(frozen=True)
class PlacementAnswer:
    """`choice[camera]` is a candidate index or -1; `size[site]` an index into its sizes or -1 where unused."""

    choice: NDArray[np.int64]
    size: NDArray[np.int64]
    objective_value: float
    bound: float
    gap_percent: float
    status: str
    """optimal, time_limit, interrupted, or none where there was nothing to choose."""
