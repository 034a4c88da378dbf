"""The cabinets of a design and the cores of its fibre cables, as tables."""

from collections.abc import Iterator
from typing import Any

from estate.links.link import CableRun, Link
from estate.network.network import Network
from estate.output.result import Table, table
from estate.placement.cabinets import CabinetUse, Trunk
from estate.placement.design import Design

CABINETS = ("patch", "switch", "ports", "used", "spare", "poe_w", "poe_used_w", "uplink", "cost")
CORES = ("cable", "core", "link", "from", "to")


def cabinets_table(design: Design) -> Table:
    """One row per cabinet used; without a switch where trunks only pass through."""
    return table(CABINETS, [_cabinet_row(use) for use in design.cabinets])


def _cabinet_row(use: CabinetUse) -> tuple[Any, ...]:
    switch = use.switch
    if switch is None:
        return use.patch.id, "", None, use.used, None, None, None, use.uplinks, use.cost
    return (
        use.patch.id, switch.model, switch.ports, use.used, switch.ports - use.used, switch.poe_w, use.poe_w,
        use.uplinks, use.cost,
    )  # fmt: skip


def cores_table(design: Design, runs: Table) -> Table:
    """One row per core of every trunk, those not in use without a link; then two cores per fibre link of a camera.

    Cores are numbered from 1 in each cable, in the order in which the trunk's uplinks are listed. Cables have their
    numbers of the `runs`.
    """
    per_link = int(design.catalogue.rules["fibre"]["cores_per_link"].value)
    told = iter(runs.column("number"))
    numbered = [(link, run, next(told)) for link in design.links for run in link.runs]
    trunks = {run.trunk: number for _, run, number in numbered if run.trunk}
    rows = [
        *(row for trunk in design.trunks for row in _trunk_rows(trunk, trunks[trunk.id], per_link)),
        *(
            (number, core, link.id, *_ends(design.network, run, link))
            for link, run, number in numbered
            if design.catalogue.cables[run.cable].family == "fibre" and not run.trunk
            for core in range(1, per_link + 1)
        ),
    ]
    return table(CORES, rows)


def _trunk_rows(trunk: Trunk, number: str, per_link: int) -> Iterator[tuple[Any, ...]]:
    taken = [uplink for uplink in trunk.uplinks for _ in range(per_link)]
    for core in range(1, trunk.cores + 1):
        yield number, core, taken[core - 1] if core <= len(taken) else "", trunk.start, trunk.end


def _ends(network: Network, run: CableRun, link: Link) -> tuple[str, str]:
    """Return the names of what a cable joins: head and camera, or the nodes of equipment on the way."""
    first = link.head if run.nodes[0] == link.nodes[0] else str(network.node_id[run.nodes[0]])
    last = link.camera if run.nodes[-1] == link.nodes[-1] else str(network.node_id[run.nodes[-1]])
    return first, last
