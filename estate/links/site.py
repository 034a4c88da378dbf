"""What the survey says of a recorder site and of the supplies that stand there."""

from dataclasses import dataclass, field

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.conditions import SupplyVolts
from estate.links.power import gives
from estate.links.variants import Head
from estate.network.network import Network
from estate.survey.survey import Survey


@dataclass(frozen=True)
class SiteFacts:
    """A recorder, existing or candidate, or a cabinet with a switch: its place, what it accepts, what feeds from it."""

    id: str
    row: int
    node: int
    existing: bool
    height_m: float
    head: Head
    supplies: dict[str, SupplyVolts] = field(default_factory=dict)
    is_cabinet: bool = False


def recorder_sites(survey: Survey, network: Network, catalogue: Catalogue) -> list[SiteFacts]:
    """Return the recorder sites of a survey, in row order."""
    points = survey.points
    rows = [row for row, kind in enumerate(points["kind"]) if kind == "recorder"]
    return [
        SiteFacts(
            id=str(points["id"][row]),
            row=row,
            node=int(network.point_node[row]),
            existing=points["status"][row] != "candidate",
            height_m=float(np.nan_to_num(points["height_m"][row])),
            head=Head(frozenset(points["accepts"][row]), float(points["poe_ports"][row])),
            supplies=supplies_at(survey, str(points["id"][row]), catalogue),
        )
        for row in rows
    ]


def cabinet_sites(survey: Survey, network: Network) -> list[SiteFacts]:
    """Return the patch points where a switch could stand: with power, or where it can be brought at a price."""
    points = survey.points
    found = []
    for row in np.flatnonzero(points["kind"] == "patch").tolist():
        node = int(network.point_node[row])
        powered = points["power"][row] in POWERED
        if node >= 0 and (powered or not np.isnan(float(points["power_cost"][row]))):
            found.append(
                SiteFacts(
                    id=str(points["id"][row]),
                    row=row,
                    node=node,
                    existing=points["status"][row] != "candidate",
                    height_m=float(np.nan_to_num(points["height_m"][row])),
                    head=Head(frozenset({"ethernet"}), float("nan")),
                    is_cabinet=True,
                )
            )
    return found


POWERED = ("unswitched", "ups")
"""What `power` must be for equipment to stand at a point."""


def supplies_at(survey: Survey, point: str, catalogue: Catalogue) -> dict[str, SupplyVolts]:
    """Return the volts of each feed that a supply at this point gives; the poorest where there are several."""
    supplies = survey.supplies
    found: dict[str, SupplyVolts] = {}
    for row in np.flatnonzero(supplies["at"] == point):
        volts = float(supplies["volts"][row])
        for feed in catalogue.feeds.values():
            if not gives(feed, supplies["kind"][row], volts):
                continue
            least, greatest = float(supplies["volts_min"][row]), float(supplies["volts_max"][row])
            offered = SupplyVolts(
                volts if np.isnan(least) else least,
                volts if np.isnan(greatest) else greatest,
                "declared",
                f"supply {supplies['id'][row]}",
            )
            if feed.id not in found or offered.least < found[feed.id].least:
                found[feed.id] = offered
    return found
