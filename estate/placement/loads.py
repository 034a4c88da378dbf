"""What stands at each site while links are added one by one, and which limit the next one would break."""

import math
from dataclasses import dataclass, field

from estate.placement.channels import channels_needed, site_spare_percent
from estate.placement.task import Candidate, PlacementTask, Site

LIMITS = ("channels_analogue", "channels_network", "mbps_max", "poe_ports", "poe_w")
"""Limits of a site beside its channels, by their names in Site."""

TOLERANCE = 1e-9


def load(link: Candidate, limit: str) -> float:
    """Return what a link takes of one limit. An unknown throughput (NaN) counts as nothing."""
    match limit:
        case "channels_analogue":
            return float(link.port == "analogue")
        case "channels_network":
            return float(link.port == "ethernet")
        case "mbps_max":
            return 0.0 if math.isnan(link.mbps) else link.mbps
        case "poe_ports":
            return float(link.poe_w > 0)
        case _:
            return link.poe_w


def most_channels(site: Site) -> int:
    """Return the channels of a site's largest size."""
    return max((channels for channels, _, _ in site.sizes), default=0)


@dataclass
class Loads:
    """The links chosen so far, by site."""

    task: PlacementTask
    at_site: dict[int, list[int]] = field(default_factory=dict)

    def add(self, link: int) -> None:
        """Take a candidate."""
        self.at_site.setdefault(self.task.candidates[link].site, []).append(link)

    def excess(self, site: int, limit: str, more: tuple[int, ...] = ()) -> float:
        """Return by how much a site's links, and some more, pass one of LIMITS or `channels`; ≤ 0: they don't."""
        place = self.task.sites[site]
        links = (*self.at_site.get(site, ()), *more)
        if limit == "channels":
            spare = site_spare_percent(place, self.task.spare_percent)
            return float(channels_needed(len(links), spare) - most_channels(place))
        most = getattr(place, limit)
        if most is None:
            return 0.0
        over = sum(load(self.task.candidates[k], limit) for k in links) - most
        return over if over > TOLERANCE * max(1.0, most) else 0.0

    def neighbours(self, link: int) -> list[int]:
        """Return the cameras at a candidate's site that its own must stand apart from."""
        new = self.task.candidates[link]
        there = {self.task.candidates[k].camera for k in self.at_site.get(new.site, ())}
        foes = {c for cameras in self.task.apart if new.camera in cameras for c in cameras}
        return sorted(there & foes - {new.camera})

    def obstacles(self, link: int) -> list[str]:
        """Return which limits of its site a candidate would break: names of LIMITS, `channels`, `apart`."""
        new = self.task.candidates[link]
        # a limit already passed by others doesn't hold a link that takes nothing of it
        taken = ["channels", *(limit for limit in LIMITS if load(new, limit) > 0)]
        broken = [limit for limit in taken if self.excess(new.site, limit, (link,)) > 0]
        return [*broken, "apart"] if self.neighbours(link) else broken
