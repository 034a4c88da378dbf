"""The recorders that a design uses."""

import math
from dataclasses import dataclass

from estate.links.link import Link
from estate.links.search import LinkSearch
from estate.links.site import SiteFacts
from estate.placement.channels import channels_needed
from estate.placement.task import PlacementAnswer, PlacementTask

NOT_GIVEN = "not given"
"""Model of an existing recorder whose channels are not given: it is taken to have what it needs, and a finding says so."""


@dataclass(frozen=True, slots=True)
class RecorderUse:
    """One recorder that the design uses."""

    site: SiteFacts
    model: str
    channels: int
    used_analogue: int
    used_network: int
    mbps: float
    cost: float
    used_unknown: int = 0
    """Channels in use by installed links of which nobody knows what kind they are; none in a design."""

    @property
    def used(self) -> int:
        """Channels in use."""
        return self.used_analogue + self.used_network + self.used_unknown


def recorders_used(
    search: LinkSearch, task: PlacementTask, answer: PlacementAnswer, links: tuple[Link, ...]
) -> tuple[RecorderUse, ...]:
    """Return the recorders used, in the order of their sites."""
    uses = []
    for k, site in enumerate(search.sites[: search.recorders]):
        if answer.size[k] < 0:
            continue
        channels, cost, model = task.sites[k].sizes[int(answer.size[k])]
        own = [link for link in links if link.recorder == site.id and link.kind == "camera"]
        if site.existing and math.isnan(float(search.survey.points["channels"][site.row])):
            model = NOT_GIVEN
            channels = channels_needed(len(own), task.spare_percent)
        uses.append(
            RecorderUse(
                site=site,
                model=model,
                channels=channels,
                used_analogue=sum(link.port == "analogue" for link in own),
                used_network=sum(link.port == "ethernet" for link in own),
                mbps=sum(link.mbps for link in own),
                cost=cost,
            )
        )
    return tuple(uses)
