"""The cable schedule: one row per cable, with the lengths it is made of."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from estate.catalogue.tables import Cable, Catalogue
from estate.links.link import CableRun, Link
from estate.network.network import Network
from estate.output.bill_cable import new_metres
from estate.output.lacking import lacking
from estate.output.result import Table, table
from estate.placement.acceptance import Acceptance
from estate.survey.survey import Survey

CABLES = (
    "number", "link", "system", "role", "from", "to", "cable", "type", "cores", "screened", "od_mm", "cable_class",
    "sheath", "containment", "segments", "plan_m", "vertical_m", "slack_m", "ends_m", "design_m", "purchase_m", "joints",
    "limiting", "margin_percent", "verdict", "tests", "phase", "status", "lacks",
)  # fmt: skip
"""plan, vertical, slack and ends make the design length of a new cable. A surveyed length is told as plan and includes its rises."""


def cables_table(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    links: Sequence[Link],
    runs: Table,
    due: Sequence[Acceptance],
) -> Table:
    """One row per cable of the `runs` by their numbers; a trunk that uplinks share has one row."""
    numbers = iter(runs.column("number"))
    tests: dict[tuple[str, int], list[str]] = {}
    for each in due:
        tests.setdefault((each.link, each.run), []).append(each.kind)
    rows = []
    for link in links:
        lengths = _lengths(survey, network, link)
        for place, run in enumerate(link.runs):
            number = next(numbers)
            if not run.shared:
                kinds = tuple(
                    dict.fromkeys((*tests.get((link.id, place), ()), *tests.get((link.id, -1), ())))
                )
                rows.append(_row(survey, catalogue, network, link, run, number, lengths[place], kinds))
    return table(CABLES, rows)


def _row(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    link: Link,
    run: CableRun,
    number: str,
    lengths: Mapping[str, float],
    tests: Sequence[str],
) -> tuple[Any, ...]:
    cable = catalogue.cables.get(run.cable)
    start, end = ends_of(link, run, network)
    kinds = list(dict.fromkeys(network.segment_containment[s] or "not given" for s in run.segments))
    row = survey.cables.row_of().get(run.installed)
    joints = 0 if row is None else survey.cables["joints"][row]
    facts = {"from": start, "to": end, "length_m": run.cable_length_m, "cable": run.cable if cable else None}
    lacks = ";".join(filter(None, (lacking(facts), "containment" if "not given" in kinds else "")))
    phases = _phases(survey, network, link, run)
    return (
        number, link.id, link.kind, run.role, start, end, run.cable, *_construction(cable), kinds,
        [network.segment_id[s] for s in run.segments], *lengths.values(), run.cable_length_m, run.purchase_m,
        joints, link.limiting, link.margin_percent, link.verdict, tests, phases,
        "installed, used" if run.installed else "new", lacks,
    )  # fmt: skip


def _construction(cable: Cable | None) -> tuple[Any, ...]:
    """Return name, conductors, screen, diameter [mm], separation class and sheath; blank where the type is not known."""
    if cable is None:
        return "type not known", "", "", None, "", ""
    sheath = cable.figures.get("sheath")
    screened = "yes" if cable.screened else "no"
    told = "" if sheath is None else sheath.value
    return cable.name, _conductors(cable), screened, cable.number("od_mm"), cable.separation_class, told


def _conductors(cable: Cable) -> str:
    """Return the number of pairs, else of cores or fibres, in words; empty where not known."""
    count, word = (
        (cable.pairs, "pair")
        if cable.pairs
        else (cable.cores, "fibre" if cable.family == "fibre" else "core")
    )
    return f"{count} {word}{'' if count == 1 else 's'}" if count else ""


def ends_of(link: Link, run: CableRun, network: Network) -> tuple[str, str]:
    """Return what a cable joins: head and camera at the ends of a camera's link, else nodes on the way."""
    if not run.nodes:
        return link.head, link.camera
    first, last = (str(network.node_id[node]) for node in (run.nodes[0], run.nodes[-1]))
    if link.kind != "camera":
        return first, last
    return (
        link.head if run.nodes[0] == link.nodes[0] else first,
        link.camera if run.nodes[-1] == link.nodes[-1] else last,
    )


def _lengths(survey: Survey, network: Network, link: Link) -> list[dict[str, float]]:
    """Return plan, vertical, slack and ends of each cable of a link [m]; an installed one has its way in plan only."""
    new = new_metres(link, survey.settings.lengths)
    found = []
    for place, run in enumerate(link.runs):
        plan_m = sum(_plan_m(survey, network, segment) for segment in run.segments)
        metres = new.get(place)
        if metres is None:
            found.append({"plan": plan_m, "vertical": np.nan, "slack": np.nan, "ends": np.nan})
        else:
            found.append(
                {"plan": plan_m, "vertical": metres.net - plan_m, "slack": metres.slack, "ends": metres.ends}
            )
    return found


def _plan_m(survey: Survey, network: Network, segment: int) -> float:
    """Return the length in plan of a segment, its whole length where that was surveyed or isn't drawn [m]."""
    line, route = network.segment_geometry[segment], int(network.segment_route[segment])
    whole_m = float(network.segment_length_m[segment])
    surveyed = route >= 0 and not np.isnan(survey.routes["length_m"][route])
    return whole_m if line is None or surveyed else min(float(line.length), whole_m)


def _phases(survey: Survey, network: Network, link: Link, run: CableRun) -> list[str]:
    """Return the phases of what a cable lies in and of its camera, each once."""
    points, routes = survey.points, survey.routes
    row = points.row_of().get(link.camera)
    named = [routes["phase"][r] for s in run.segments if (r := int(network.segment_route[s])) >= 0]
    return list(dict.fromkeys(p for p in (*named, points["phase"][row] if row is not None else None) if p))
