"""What a link is: its cables, its way, its budget lines. Designed and installed links are one type."""

from dataclasses import dataclass

from estate.findings import NAN, Verdict


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One check of a link: value against limit in one state, with the source of the limit.

    A line whose `profile` is another than the set one, or whose `limit` is NaN, is information and
    doesn't govern; `informs` says so. `verdict` is within, marginal, outside or verify.
    """

    quantity: str
    """length, reach, loss, volts, volts_max, poe_power, fixed_part, channel, fibre_loss, fibre_reach, separation, …"""
    state: str
    """day, night, or empty where the state doesn't matter."""
    value: float
    limit: float
    unit: str
    margin_percent: float
    verdict: Verdict
    basis: str
    """calculated, measured, declared, assumed."""
    source: str
    profile: str = ""
    informs: bool = False
    text: str = ""
    """In words, where numbers don't tell it: "no working point at night"."""
    stretch: int = 0
    """Which stretch of several, counted from the head; 0 for the whole link."""


@dataclass(frozen=True, slots=True)
class CableRun:
    """One cable of one stretch of a link: `role` is signal or power."""

    role: str
    cable: str
    length_m: float
    cable_length_m: float
    purchase_m: float
    """0 where it is installed already."""
    method: str = ""
    feed: str = ""
    nodes: tuple[int, ...] = ()
    """Node indices from the head's end to the camera's."""
    segments: tuple[int, ...] = ()
    at_head: tuple[str, ...] = ()
    """What it ends at towards the head."""
    at_camera: tuple[str, ...] = ()
    stretch: int = 1
    """Counted from the head."""
    installed: str = ""
    """Id of the spare cable that it is, empty where it is new."""
    trunk: str = ""
    """Id of the trunk that it is a part of; uplinks may share one."""
    shared: bool = False
    """Whether another link has this cable already: it is counted there."""

    @property
    def is_new(self) -> bool:
        """Whether it is to be bought and pulled for this link."""
        return not self.installed and not self.shared


@dataclass(frozen=True, slots=True)
class Equipment:
    """A catalogue item that stands at a node of the link."""

    item: str
    node: str
    fed_by: str = ""
    """On the way: mains there, or the head's port; empty for the ends of a link."""


@dataclass(frozen=True, slots=True)
class Link:
    """A camera's way to a head, or the statement that there is none (`method` empty, verdict none)."""

    id: str
    kind: str
    """camera, uplink or standby."""
    camera: str
    head: str
    recorder: str
    method: str
    feed: str
    port: str
    """What arrives at the head: analogue or ethernet."""
    runs: tuple[CableRun, ...]
    nodes: tuple[int, ...]
    """Node indices from the head to the camera."""
    segments: tuple[int, ...]
    """Segment indices from the head to the camera."""
    length_m: float
    cable_length_m: float
    equipment: tuple[Equipment, ...]
    lines: tuple[BudgetLine, ...]
    verdict: Verdict
    limiting: str
    """The budget line that governs, in words; for a camera without a link the nearest miss."""
    margin_percent: float = NAN
    basis: str = "calculated"
    mbps: float = NAN
    poe_w: float = 0.0
    """Power the head's port must allocate [W]; 0 without PoE."""
    own_cost: float = NAN
    """Money for cable, pulling, terminations and equipment of this link alone, without shared works."""
    patch: str = ""
    """Patch point that an uplink leads to."""
    fed_at: str = ""
    """Where its feed begins: the head, or the node of a supply or switch on the way; empty where nothing is fed."""

    @property
    def cables(self) -> tuple[str, ...]:
        """Catalogue ids of its cables, from the head on."""
        return tuple(run.cable for run in self.runs)

    def cables_on(self, segment: int) -> tuple[str, ...]:
        """Return the cables that it has on a segment; one that passes twice stands twice."""
        return tuple(run.cable for run in self.runs if not run.shared for s in run.segments if s == segment)
