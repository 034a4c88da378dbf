"""The placement task and its answer: recorders, cabinets, sections, candidate links, what to choose."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Areas = tuple[tuple[int, float], ...]
"""(segment, mm²) pairs: what something takes of the containment; a segment passed twice stands with both."""


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
class Switch:
    """One switch that a cabinet could have. `ports` are those for cameras; uplinks have their own."""

    ports: int
    poe_w: float | None
    """Power for all ports together [W]; None: no limit."""
    cost: float
    model: str
    existing: bool = False
    """It stands already: it costs nothing, and its spare ports may be used."""
    uplink_cost: float = 0.0
    """Money of what its uplink ends in at both ends, due for a switch that stands too [currency]."""


@dataclass(frozen=True, slots=True)
class Cabinet:
    """A patch point where a switch could stand: `switches` to choose one of."""

    id: str
    cost: float
    """Money for the cabinet itself, 0 where it stands already [currency]."""
    power_cost: float
    """Money to bring power for a switch, 0 where there is power [currency]."""
    switches: tuple[Switch, ...]
    uplink_mbps: float | None = None
    """Throughput of its uplink [Mb/s]; None: no limit."""


@dataclass(frozen=True, slots=True)
class SectionSize:
    """One cable that could be laid in a section, with the room it takes."""

    cores: int
    cost: float
    """Money of the cable alone, without works [currency]."""
    fill: Areas = ()
    model: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """One cable between two places, a piece of uplinks' ways: `sizes` to choose one of.

    Places are numbered sites first, then cabinets. A fibre carries uplinks both ways, each on two cores spliced
    straight through where they go on. `routes` are the ids of the routes it lies in: two cables in one route fail
    together.
    """

    tail: int
    head: int
    sizes: tuple[SectionSize, ...]
    cable_m: float
    """New cable [m], without waste."""
    segments: tuple[int, ...] = ()
    """Its way from tail to head."""
    works: tuple[int, ...] = ()
    routes: tuple[str, ...] = ()
    shares: tuple[float, ...] = ()
    """Of each limit of an uplink (loss, reach), what running through it uses: over a way they sum to 1 at most."""
    discouraged: bool = False


@dataclass(frozen=True, slots=True)
class Candidate:
    """One link that could be chosen: `camera` and `site` are indices; `works` are proposed segments it needs.

    A link that ends at a cabinet has its index in `cabinet` and -1 in `site`: the cabinet's uplink decides the
    recorder.
    """

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
    """Power that the port must allocate [W]; 0 without PoE."""
    works: tuple[int, ...]
    cabinet: int = -1
    draw_w: float = 0.0
    """Power drawn from the port [W]; NaN: unknown, not counted."""
    fill: Areas = ()
    spares: tuple[str, ...] = ()
    """Installed spare cables it uses, each for one link only."""


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
    cabinets: tuple[Cabinet, ...] = ()
    sections: tuple[Section, ...] = ()
    fill_limits: dict[int, float] = field(default_factory=dict)
    """Room left in each segment [mm²]; no entry, or NaN: unknown, no limit."""
    segment_ids: dict[int, str] = field(default_factory=dict)
    """What segments are called in messages."""
    spare_ports_percent: float = 0.0
    """Of the ports in use at a new switch."""
    spare_cores: int = 0
    """Least spare cores of a new fibre cable."""
    spare_cores_percent: float = 0.0
    """Least spare cores, of those in use."""
    diverse_uplinks: bool = False
    """Every cabinet has two ways to its recorder, which share no route and no cable."""


def _none() -> Ints:
    return np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class Choices:
    """What is chosen.

    `choice[camera]` is a candidate index or -1; `size[site]` an index into its sizes or -1 where unused;
    `switch[cabinet]` an index into its switches or -1 where it has none; `home[cabinet]` the site its uplink ends
    at or -1; `cable[section]` an index into its sizes or -1 where nothing is laid; `ways[cabinet]` the ways of its
    uplink, each as section indices from the cabinet to the recorder.
    """

    choice: Ints
    size: Ints
    switch: Ints = field(default_factory=_none)
    home: Ints = field(default_factory=_none)
    cable: Ints = field(default_factory=_none)
    ways: tuple[tuple[tuple[int, ...], ...], ...] = ()

    def recorders(self, task: PlacementTask) -> Ints:
        """Return the site that records each camera, -1 for a camera without a link."""
        found = np.full(len(task.cameras), -1, dtype=np.int64)
        for camera, k in enumerate(self.choice):
            if k >= 0:
                link = task.candidates[k]
                found[camera] = link.site if link.cabinet < 0 else self.home[link.cabinet]
        return found

    def standing(self, task: PlacementTask) -> list[int]:
        """Return the cabinets that stand: those with a switch, and those where sections end."""
        sites = len(task.sites)
        ends = {
            end - sites
            for section, n in zip(task.sections, self.cable, strict=True)
            if n >= 0
            for end in (section.tail, section.head)
        }
        return sorted({p for p, n in enumerate(self.switch) if n >= 0} | {p for p in ends if p >= 0})


@dataclass(frozen=True)
class PlacementAnswer(Choices):
    """What is chosen, and how good it is known to be."""

    objective_value: float = field(kw_only=True)
    bound: float = field(kw_only=True)
    gap_percent: float = field(kw_only=True)
    status: str = field(kw_only=True)
    """optimal, best_found (an answer of all candidates, farther from the bound than allowed), time_limit, interrupted,
    or none where there was nothing to choose."""
