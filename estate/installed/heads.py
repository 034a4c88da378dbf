"""Cabinets at which installed links end."""

from estate.installed.circuits import Plant
from estate.links.site import SiteFacts, cabinet_sites
from estate.links.variants import Head
from estate.network.network import Network
from estate.survey.survey import Survey


def cabinet_heads(survey: Survey, network: Network, plant: Plant) -> list[SiteFacts]:
    """Return the cabinets of an estate: those where a switch could stand, and those where one is on record."""
    found = cabinet_sites(survey, network)
    known = {site.id for site in found}
    rows = survey.points.row_of()
    for name in sorted(plant.heads - plant.recorders - known):
        row = rows[name]
        node = int(network.point_node[row])
        height_m = float(survey.points["height_m"][row])
        found.append(
            SiteFacts(
                id=name,
                row=row,
                node=node,
                existing=True,
                height_m=0.0 if height_m != height_m else height_m,  # noqa: PLR0124
                head=Head(frozenset({"ethernet"}), float("nan")),
                is_cabinet=True,
            )
        )
    return found
