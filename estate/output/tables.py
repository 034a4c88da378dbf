"""The tables of a design, column by column as others may rely on."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Finding
from estate.installed.fill import Containment, fill_of
from estate.links.link import BudgetLine, Link
from estate.links.separation import SegmentSeparation
from estate.network.network import Network
from estate.output.bill_line import BillLine
from estate.output.cabinets import CABINETS, CORES, cabinets_table, cores_table
from estate.output.containment_table import CONTAINMENT, containment_table
from estate.output.facts_tables import (
    CABLE_FACTS,
    PROFILES,
    SEGMENT_FACTS,
    cable_facts_table,
    profiles_table,
    segment_facts_table,
)
from estate.output.lacking import DRAFT, draft_table
from estate.output.numbering import numbered_runs
from estate.output.records_table import COMPLETENESS, RECORDS
from estate.output.remedy_tables import PROGRAMME
from estate.output.result import Table, table
from estate.output.schedule_cables import CABLES, cables_table
from estate.output.schedule_cameras import CAMERAS, cameras_table
from estate.output.schedule_equipment import EQUIPMENT_PLACES, equipment_places_table
from estate.output.schedule_power import POWER, power_table
from estate.output.schedule_ways import WAYS, ways_table
from estate.output.terminations import terminations_table
from estate.output.tests_due import TESTS, tests_table
from estate.output.way_tables import (
    ALTERNATIVES,
    BUDGET_NOTES,
    EQUIPMENT,
    LINK_FACTS,
    MISSES,
    RUNS,
    WOULD_STAND,
    alternatives_table,
    budget_notes_table,
    equipment_table,
    link_facts_table,
    misses_table,
    runs_table,
    told_lines,
    would_stand_table,
)
from estate.placement.acceptance import Acceptance
from estate.placement.cuts import Cut
from estate.placement.design import Design
from estate.placement.phases import phase_steps
from estate.placement.recorders import RecorderUse
from estate.survey.survey import Survey
from estate.units import GB_PER_DAY_PER_MBPS, MM_PER_M

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "links": (
        "link", "kind", "camera", "head", "recorder", "method", "cable", "length_m", "cable_length_m", "verdict",
        "margin_percent", "limiting", "loss_db", "volts_day", "volts_night", "segments", "equipment", "basis", "cost",
    ),
    "budget": (
        "link", "quantity", "state", "profile", "value", "limit", "unit", "margin_percent", "verdict", "basis",
        "source", "stretch",
    ),
    "recorders": (
        "recorder", "status", "model", "channels", "used", "used_analogue", "used_network", "spare", "mbps",
        "gb_per_day", "cost",
    ),
    "cabinets": CABINETS,
    "segments": (
        "segment", "route", "from", "to", "length_m", "containment", "links", "cables", "fill_percent", "actions",
    ),
    "containment": CONTAINMENT,
    "proximity": (
        "segment", "route", "mains", "from_m", "to_m", "distance_m", "accuracy_m", "angle_deg", "circuits",
        "cable_class", "required_m", "verdict",
    ),
    "findings": (
        "finding", "severity", "effect", "action", "subject_kind", "subject", "x", "y", "measured", "limit", "unit",
        "source", "text", "remedy", "cost", "cameras",
    ),
    "cuts": ("subject_kind", "subject", "cameras_lost", "cameras_stranded", "cameras"),
    "terminations": ("link", "end", "conductor", "pair", "terminal", "purpose", "strip_mm", "number"),
    "budget_notes": BUDGET_NOTES,
    "link_facts": LINK_FACTS,
    "runs": RUNS,
    "equipment": EQUIPMENT,
    "alternatives": ALTERNATIVES,
    "misses": MISSES,
    "would_stand": WOULD_STAND,
    "records": RECORDS,
    "completeness": COMPLETENESS,
    "survey": ("rank", "subject_kind", "subject", "fact", "test", "verdicts", "cameras", "building"),
    "programme": PROGRAMME,
    "cores": CORES,
    "segment_facts": SEGMENT_FACTS,
    "cable_facts": CABLE_FACTS,
    "profiles": PROFILES,
    "phases": ("phase", "step", "subject_kind", "subject", "length_m", "cost"),
    "quantities": ("item", "description", "unit", "quantity", "rate", "amount", "heading", "rate_from"),
    "tests": TESTS,
    "schedule_cameras": CAMERAS,
    "schedule_cables": CABLES,
    "schedule_ways": WAYS,
    "schedule_equipment": EQUIPMENT_PLACES,
    "schedule_power": POWER,
    "draft": DRAFT,
}  # fmt: skip


def design_tables(design: Design, bill: Sequence[BillLine], due: Sequence[Acceptance]) -> dict[str, Table]:
    """Return every table of a design by name; those that a design does not fill have their columns only."""
    links, drawing = links_table(design.links, design.network), design.survey.settings.drawing
    runs = numbered_runs(
        runs_table(design.links, design.network),
        links,
        drawing.numbering,
        design.survey.settings.estate.number,
    )
    filled = {
        "links": links,
        "budget": budget_table(design.links),
        "recorders": recorders_table(design.recorders),
        "cabinets": cabinets_table(design),
        "segments": segments_table(design.containment, design.links, design.laid, design.findings),
        "containment": containment_table(design.containment, design.links, design.laid, design.pulls),
        "proximity": proximity_table(
            design.survey,
            design.network,
            design.separation,
            segment_classes(design.survey, design.catalogue, design.network, design.links),
        ),
        "findings": findings_table(design.findings),
        "cuts": cuts_table(design.cuts),
        "budget_notes": budget_notes_table(design.links),
        "link_facts": link_facts_table(design.links, design.works),
        "runs": runs,
        "equipment": equipment_table(design.links, design.catalogue),
        "alternatives": alternatives_table(design),
        "misses": misses_table(design),
        "would_stand": would_stand_table(design),
        "phases": phases_table(design),
        "terminations": terminations_table(
            design.links, design.catalogue, design.network.node_id.tolist(), runs.column("number")
        ),
        "cores": cores_table(design, runs),
        "segment_facts": segment_facts_table(design.containment, design.links, design.laid),
        "cable_facts": cable_facts_table(design.catalogue, design.links),
        "profiles": profiles_table(design.profiles),
        "quantities": quantities_table(bill),
        "tests": tests_table(design, due, runs),
    }
    filled |= schedule_tables(design, runs, filled["proximity"], due)
    filled["draft"] = draft_table(filled)
    return {name: filled.get(name, Table(columns)) for name, columns in COLUMNS.items()}


def schedule_tables(
    design: Design, runs: Table, proximity: Table, due: Sequence[Acceptance]
) -> dict[str, Table]:
    """Return the schedules of a tender; each has a column `lacks` for the facts that its rows are without."""
    survey, catalogue, network, links = design.survey, design.catalogue, design.network, design.links
    return {
        "schedule_cameras": cameras_table(survey, network, links),
        "schedule_cables": cables_table(survey, catalogue, network, links, runs, due),
        "schedule_ways": ways_table(design.containment, links, design.laid, tuple(design.works), proximity),
        "schedule_equipment": equipment_places_table(design),
        "schedule_power": power_table(design),
    }


def links_table(links: Sequence[Link], network: Network) -> Table:
    """One row per link; a camera without a link has verdict none and the nearest miss in limiting."""
    return table(COLUMNS["links"], [_link_row(link, network) for link in links])


def _link_row(link: Link, network: Network) -> tuple[Any, ...]:
    way = [str(network.segment_id[segment]) for segment in link.segments]
    return (
        link.id, link.kind, link.camera, link.head, link.recorder, link.method, link.cables, link.length_m,
        link.cable_length_m, link.verdict, link.margin_percent, link.limiting, value_of(link, "loss"),
        value_of(link, "volts", "day"), value_of(link, "volts", "night"), way, _equipment(link), link.basis,
        link.own_cost,
    )  # fmt: skip


def value_of(link: Link, quantity: str, state: str = "") -> float:
    """Return the value of a link's first line of a quantity, NaN where it has none."""
    wanted = (
        line.value for line in link.lines if line.quantity == quantity and (not state or line.state == state)
    )
    return next(wanted, float("nan"))


def _equipment(link: Link) -> str:
    return ";".join(f"{each.item}@{each.node}" for each in link.equipment)


def budget_table(links: Sequence[Link]) -> Table:
    """One row per budget line. A line that only informs has no verdict where it has no limit."""
    return table(
        COLUMNS["budget"],
        [_budget_row(link, line) for link in links for line in told_lines(link)],
    )


def _budget_row(link: Link, line: BudgetLine) -> tuple[Any, ...]:
    verdict = "" if line.informs and np.isnan(line.limit) else line.verdict
    return (
        link.id, line.quantity, line.state, line.profile, line.value, line.limit, line.unit, line.margin_percent,
        verdict, line.basis, line.source, line.stretch or None,
    )  # fmt: skip


def recorders_table(recorders: Sequence[RecorderUse]) -> Table:
    """One row per recorder used, with storage at 10.8 GB a day for each Mb/s."""
    rows = [
        (
            use.site.id, "existing" if use.site.existing else "new", use.model, use.channels, use.used,
            use.used_analogue, use.used_network, use.channels - use.used, use.mbps, use.mbps * GB_PER_DAY_PER_MBPS,
            use.cost,
        )
        for use in recorders
    ]  # fmt: skip
    return table(COLUMNS["recorders"], rows)


def segments_table(
    containment: Containment,
    chosen: Sequence[Link],
    laid: Mapping[int, Mapping[str, int]],
    findings: Sequence[Finding],
) -> Table:
    """One row per segment with the links and cables it carries and what is to be done there.

    The fill is that of the listed cables, of those not listed and of those `laid`, new, by segment and type.
    """
    network, routes = containment.network, containment.survey.routes
    links: dict[int, list[Link]] = defaultdict(list)
    for link in chosen:
        for segment in dict.fromkeys(link.segments):
            links[segment].append(link)
    actions = segment_actions(findings)
    rows = []
    for segment in range(network.segments):
        carried = links.get(segment, [])
        route = int(network.segment_route[segment])
        name = str(network.segment_id[segment])
        cables = Counter(cable for link in carried for cable in link.cables_on(segment))
        rows.append(
            (
                name, routes["id"][route] if route >= 0 else "", network.node_id[network.segment_from[segment]],
                network.node_id[network.segment_to[segment]], network.segment_length_m[segment],
                network.segment_containment[segment] or "", [link.id for link in carried],
                [f"{count}×{cable}" for cable, count in sorted(cables.items())],
                fill_of(containment, segment, laid.get(segment, {})).percent, actions.get(name, ()),
            )
        )  # fmt: skip
    return table(COLUMNS["segments"], rows)


def segment_actions(findings: Sequence[Finding]) -> dict[str, tuple[str, ...]]:
    """Return the actions flagged on each segment."""
    actions: dict[str, set[str]] = defaultdict(set)
    for finding in findings:
        if finding.subject_kind == "segment":
            actions[finding.subject].add(finding.action.value)
    return {segment: tuple(sorted(flags)) for segment, flags in actions.items()}


def segment_classes(
    survey: Survey, catalogue: Catalogue, network: Network, links: Sequence[Link]
) -> list[str]:
    """Return per segment the separation class that governs: of the cables there, else of those it may carry."""
    allowed = survey.settings.design.cables or tuple(catalogue.cables)
    entries = [catalogue.cables[c] for c in allowed if not catalogue.cables[c].legacy]
    may_carry = min((c.separation_class for c in entries if c.separation_class), default="b")
    classes: dict[int, set[str]] = defaultdict(set)
    for link in links:
        for run in link.runs:
            for segment in run.segments:
                classes[segment].add(catalogue.cables[run.cable].separation_class)
    return [
        min(filter(None, classes[s]), default="") if s in classes else may_carry
        for s in range(network.segments)
    ]


def proximity_table(
    survey: Survey, network: Network, separation: SegmentSeparation, classes: Sequence[str]
) -> Table:
    """One row per stretch near a mains run, judged for the cable class of its segment in `classes`."""
    exposures = separation.exposures
    routes, mains = survey.routes["id"], survey.mains["id"]
    rows = []
    for e in range(len(exposures.segment)):
        segment, run = int(exposures.segment[e]), int(exposures.mains[e])
        route = int(network.segment_route[segment])
        judged = separation.judgement(classes[segment])
        rows.append(
            (
                network.segment_id[segment], routes[route] if route >= 0 else "", mains[run] if run >= 0 else "",
                exposures.from_m[e], exposures.to_m[e], exposures.distance_m[e], exposures.accuracy_m[e],
                exposures.angle_deg[e], judged.circuits[e], classes[segment], judged.required_mm[e] / MM_PER_M,
                judged.verdict[e],
            )
        )  # fmt: skip
    return table(COLUMNS["proximity"], rows)


def findings_table(findings: Sequence[Finding]) -> Table:
    """One row per finding, ranked."""
    rows = [
        (
            f.id, f.severity, f.effect, f.action, f.subject_kind, f.subject, f.x, f.y, f.measured, f.limit, f.unit,
            f.source, f.text, f.remedy, f.cost, f.cameras,
        )
        for f in findings
    ]  # fmt: skip
    return table(COLUMNS["findings"], rows)


def cuts_table(cuts: Sequence[Cut]) -> Table:
    """One row per segment, route and node: what its cut takes, the worst first; `cameras` are those lost."""
    rows = [(c.subject_kind, c.subject, len(c.lost), len(c.stranded), c.lost) for c in cuts]
    return table(COLUMNS["cuts"], rows)


def phases_table(design: Design) -> Table:
    """One row per thing done in a phase; nothing where estate.toml names no phases."""
    steps = phase_steps(
        design.survey,
        design.network,
        design.links,
        design.works,
        design.recorders,
        design.cabinets,
        design.trunks,
    )
    rows = [(s.phase, s.step, s.subject_kind, s.subject, s.length_m, s.cost) for s in steps]
    return table(COLUMNS["phases"], rows)


def quantities_table(bill: Sequence[BillLine]) -> Table:
    """The bill; rates that are invented are left blank, with their amounts, and `rate_from` says so."""
    rows = [
        (
            line.item, line.description, line.unit, line.quantity, line.own_rate,
            None if line.own_rate is None else float(line.amount), line.heading, line.rate_from,
        )
        for line in bill
    ]  # fmt: skip
    return table(COLUMNS["quantities"], rows)
