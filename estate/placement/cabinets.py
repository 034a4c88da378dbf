"""The cabinets that a design uses, with their switches, and the trunk cables of their uplinks."""

from dataclasses import dataclass

from estate.links.site import SiteFacts
from estate.placement.task import Switch


@dataclass(frozen=True, slots=True)
class CabinetUse:
    """One cabinet that the design uses; without a switch where trunks only pass through."""

    patch: SiteFacts
    switch: Switch | None
    home: str
    """Recorder that its cameras are recorded at, empty without a switch."""
    uplinks: tuple[str, ...]
    """Ids of its uplinks, the working one first."""
    used: int
    """Ports in use."""
    poe_w: float
    """Allocated to its cameras [W]."""
    cabinet_cost: float
    power_cost: float
    switch_cost: float

    @property
    def cost(self) -> float:
        """Money of cabinet, power and switch, without the modules of its uplinks [currency]."""
        return self.cabinet_cost + self.power_cost + self.switch_cost


@dataclass(frozen=True, slots=True)
class Trunk:
    """One cable that uplinks share: laid once, cores by uplink in the order of `uplinks`."""

    id: str
    cable: str
    cores: int
    start: str
    """Recorder or patch point where it starts, by id; likewise `end`."""
    end: str
    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    length_m: float
    cable_length_m: float
    uplinks: tuple[str, ...]
    """Ids of the uplinks that it carries, two cores each."""
