"""What stands at each place while links are added one by one, and which limit the next one would break."""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from estate.placement.channels import channels_needed, site_spare_percent, switch_spare_percent
from estate.placement.task import Areas, Candidate, Choices, PlacementTask, Site, Switch

LIMITS = ("channels_analogue", "channels_network", "mbps_max", "poe_ports", "poe_w")
"""Limits of a site beside its channels, by their names in Site."""

SWITCH_LIMITS = {"cabinet_poe_w": "poe_w", "cabinet_draw_w": "poe_w", "uplink_mbps": "uplink_mbps"}
"""Limits of a cabinet beside its ports, with the field of its switch, or of the cabinet, that states each."""

TOLERANCE = 1e-9


def load(link: Candidate, limit: str) -> float:
    """Return what a link takes of one limit. An unknown throughput or draw (NaN) counts as nothing."""
    at_site = link.cabinet < 0
    taken = {
        "channels_analogue": float(link.port == "analogue"),
        "channels_network": float(link.port == "ethernet"),
        "mbps_max": link.mbps,
        "poe_ports": float(at_site and link.poe_w > 0),
        "poe_w": link.poe_w if at_site else 0.0,
        "ports": 1.0,
        "cabinet_poe_w": link.poe_w,
        "cabinet_draw_w": link.draw_w,
        "uplink_mbps": link.mbps,
    }[limit]
    return 0.0 if math.isnan(taken) else taken


def most_channels(site: Site) -> int:
    """Return the channels of a site's largest size."""
    return max((channels for channels, _, _ in site.sizes), default=0)


def over(taken: float, limit: float | None) -> float:
    """Return by how much a limit is passed, 0 where it isn't or where there is none."""
    if limit is None or math.isnan(limit):
        return 0.0
    return taken - limit if taken - limit > TOLERANCE * max(1.0, limit) else 0.0


def switch_excess(
    task: PlacementTask, cabinet: int, switch: Switch, links: Iterable[int], limit: str
) -> float:
    """Return by how much links pass `ports` or one of SWITCH_LIMITS of a switch; ≤ 0: they don't."""
    own = [task.candidates[k] for k in links]
    if limit == "ports":
        spare = switch_spare_percent(switch, task.spare_ports_percent)
        return float(channels_needed(len(own), spare) - switch.ports)
    most = task.cabinets[cabinet].uplink_mbps if limit == "uplink_mbps" else switch.poe_w
    return over(sum(load(link, limit) for link in own), most)


@dataclass
class Loads:
    """The links chosen so far by place, the cabinets' homes, and what lies in the containment."""

    task: PlacementTask
    home: dict[int, int] = field(default_factory=dict)
    at_site: dict[int, list[int]] = field(default_factory=dict)
    at_cabinet: dict[int, list[int]] = field(default_factory=dict)
    filled: Counter[int] = field(default_factory=Counter)
    spares: set[str] = field(default_factory=set)

    def add(self, link: int) -> None:
        """Take a candidate."""
        new = self.task.candidates[link]
        if new.cabinet >= 0:
            self.at_cabinet.setdefault(new.cabinet, []).append(link)
        self.at_site.setdefault(self.recorder(link), []).append(link)
        self.lay(new.fill)
        self.spares.update(new.spares)

    def recorder(self, link: int) -> int:
        """Return the site that records a candidate; -1 where its cabinet has no home."""
        new = self.task.candidates[link]
        return new.site if new.cabinet < 0 else self.home.get(new.cabinet, -1)

    def lay(self, areas: Areas, times: float = 1.0) -> None:
        """Lay a cable; take it up again with `times` -1."""
        for segment, mm2 in areas:
            self.filled[segment] += times * mm2  # type: ignore[assignment]

    def excess(self, site: int, limit: str, more: tuple[int, ...] = ()) -> float:
        """Return by how much a site's links, and some more, pass one of LIMITS or `channels`; ≤ 0: they don't."""
        place = self.task.sites[site]
        links = (*self.at_site.get(site, ()), *more)
        if limit == "channels":
            spare = site_spare_percent(place, self.task.spare_percent)
            return float(channels_needed(len(links), spare) - most_channels(place))
        return over(sum(load(self.task.candidates[k], limit) for k in links), getattr(place, limit))

    def switch_excess(self, cabinet: int, limit: str, more: tuple[int, ...] = ()) -> float:
        """Return by how much a cabinet's links, and some more, pass a limit of its best switch for that limit."""
        links = (*self.at_cabinet.get(cabinet, ()), *more)
        switches = self.task.cabinets[cabinet].switches
        return min(
            (switch_excess(self.task, cabinet, switch, links, limit) for switch in switches), default=math.inf
        )

    def full(self, areas: Areas) -> list[int]:
        """Return the segments in which a cable does not fit."""
        wanted: Counter[int] = Counter()
        for segment, mm2 in areas:
            wanted[segment] += mm2  # type: ignore[assignment]
        limits = self.task.fill_limits
        return sorted(
            segment
            for segment, mm2 in wanted.items()
            if mm2 > 0 and over(self.filled[segment] + mm2, limits.get(segment)) > 0
        )

    def neighbours(self, link: int) -> list[int]:
        """Return the cameras at a candidate's recorder that its own must stand apart from."""
        new = self.task.candidates[link]
        there = {self.task.candidates[k].camera for k in self.at_site.get(self.recorder(link), ())}
        foes = {c for cameras in self.task.apart if new.camera in cameras for c in cameras}
        return sorted(there & foes - {new.camera})

    def obstacles(self, link: int) -> list[str]:
        """Return which limits a candidate would break.

        They are names of LIMITS and SWITCH_LIMITS, `channels`, `ports`, `switch`, `apart`, `spare`, and `fill` with
        the segment.
        """
        new, site = self.task.candidates[link], self.recorder(link)
        # a limit already passed by others doesn't hold a link that takes nothing of it
        taken = ["channels", *(limit for limit in LIMITS if load(new, limit) > 0)]
        broken = [limit for limit in taken if self.excess(site, limit, (link,)) > 0]
        if new.cabinet >= 0:
            broken += self._at_switch(link)
        broken += ["apart"] if self.neighbours(link) else []
        broken += ["spare"] if self.spares & set(new.spares) else []
        return broken + [f"fill {segment}" for segment in self.full(new.fill)]

    def _at_switch(self, link: int) -> list[str]:
        """Return which limits of its cabinet a candidate would break; `switch` where no switch meets all at once."""
        new = self.task.candidates[link]
        taken = ["ports", *(limit for limit in SWITCH_LIMITS if load(new, limit) > 0)]
        broken = [limit for limit in taken if self.switch_excess(new.cabinet, limit, (link,)) > 0]
        links = (*self.at_cabinet.get(new.cabinet, ()), link)
        return broken if broken or fitting_switch(self.task, new.cabinet, links) >= 0 else ["switch"]


def fitting_switch(task: PlacementTask, cabinet: int, links: Iterable[int]) -> int:
    """Return the index of the cheapest switch that takes some links, then the one with fewest ports; -1: none."""
    links = list(links)
    limits = ("ports", *SWITCH_LIMITS)
    switches = task.cabinets[cabinet].switches
    fitting = [
        n
        for n, switch in enumerate(switches)
        if all(switch_excess(task, cabinet, switch, links, limit) <= 0 for limit in limits)
    ]

    def order(n: int) -> tuple[float, int, int]:
        return 0.0 if switches[n].existing else switches[n].cost, switches[n].ports, n

    return min(fitting, key=order, default=-1)


def loads_of(task: PlacementTask, choices: Choices) -> Loads:
    """Return the loads of what is chosen."""
    loads = Loads(task, {p: int(s) for p, s in enumerate(choices.home) if s >= 0})
    for section, n in zip(task.sections, choices.cable, strict=True):
        if n >= 0:
            loads.lay(section.sizes[n].fill)
    for k in choices.choice[choices.choice >= 0]:
        loads.add(int(k))
    return loads
