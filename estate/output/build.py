"""From a design to its result: summary, tables, layers, assumptions."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any

import numpy as np
import shapely
import shapely.ops

from estate import __version__
from estate.catalogue.tables import Catalogue
from estate.findings import Action, Finding, Severity, Verdict, numbered
from estate.installed.fill import containment_of
from estate.links.separation import SegmentSeparation
from estate.network.network import Network
from estate.output.bill import by_heading, total, whole_bill
from estate.output.bill_line import BillLine
from estate.output.cautions import CAUTIONS
from estate.output.containment_table import containment_table
from estate.output.lacking import draft_note
from estate.output.result import Result, Table, table
from estate.output.stamps import (
    invented_beside_the_bill,
    night_loads,
    separation_stamps,
    what_the_bound_leaves_open,
)
from estate.output.tables import COLUMNS, design_tables, findings_table, proximity_table, segments_table
from estate.output.tests_due import tests_due
from estate.placement.cuts import Cut
from estate.placement.design import Design
from estate.settings import Settings
from estate.survey.survey import Layer, Survey

WKT_DIGITS = 3
ASSUMPTION_COLUMNS = ("subject", "value", "count", "kind")


def design_result(design: Design) -> Result:
    """Return everything a design says, ready to be written, drawn and read again."""
    survey = design.survey
    due = tests_due(design)
    bill = whole_bill(design, due)
    tables = {
        **design_tables(design, bill, due),
        "assumptions": assumptions_table(survey, bill, night_loads(design)),
    }
    return result_of(
        survey,
        "design",
        summary={
            **design_summary(design, bill, tables["assumptions"]),
            "draft_rows": len(tables["draft"].rows),
        },
        tables=tables,
        layers=design_layers(design, tables),
        notes=(*notes(design, bill), draft_note(tables["draft"])),
    )


def result_of(
    survey: Survey,
    command: str,
    *,
    summary: Mapping[str, Any],
    tables: Mapping[str, Table],
    layers: Mapping[str, Table],
    notes: Iterable[str] = (),
) -> Result:
    """Return a run as a result, with what every run takes from its survey; blank notes are left out."""
    return Result(
        command=command,
        version=__version__,
        estate=asdict(survey.settings.estate),
        drawing=plain(asdict(survey.settings.drawing)),
        crs=survey.crs or "",
        crs_wkt=survey.crs_wkt,
        summary=summary,
        tables=tables,
        layers=layers,
        cautions=CAUTIONS,
        notes=tuple(filter(None, notes)),
    )


def notes(design: Design, bill: Sequence[BillLine]) -> list[str]:
    """Return what must be stamped on every output of this design."""
    stamped = []
    if any(line.is_invented for line in bill):
        stamped.append("Costs rest on invented rates: they rank alternatives, they are no prices.")
    elif beside := invented_beside_the_bill(design):
        stamped.append(beside)
    if not design.survey.settings.phases.names and _gives_phases(design.survey):
        stamped.append(
            "Routes or points give a phase, but [phases] names no order: nothing is put in phases."
        )
    stamped += separation_stamps(design.survey.settings.limits)
    if design.answer.status == "best_found":
        gap = design.answer.gap_percent
        far = (
            f"no more than {gap:.1f} % could be saved"
            if np.isfinite(gap)
            else "how much could be saved is not known"
        )
        stamped.append(f"Best found, not proven the cheapest: {what_the_bound_leaves_open(design)}; {far}.")
    if design.answer.status in ("time_limit", "interrupted"):
        stamped.append(f"Solver stopped ({design.answer.status.replace('_', ' ')}): not proven the cheapest.")
    return stamped


def _gives_phases(survey: Survey) -> bool:
    return any(phase is not None for layer in (survey.routes, survey.points) for phase in layer["phase"])


def design_summary(design: Design, bill: Sequence[BillLine], assumptions: Table) -> dict[str, Any]:
    """Return summary.json of a design."""
    answer, estate = design.answer, design.survey.settings.estate
    headings = {heading: float(money) for heading, money in by_heading(bill).items()}
    cameras = [link for link in design.links if link.kind == "camera"]
    verdicts = Counter(str(link.verdict) for link in cameras)
    return {
        "command": "design",
        "estate": estate.title,
        "revision": estate.revision,
        "cameras": len(design.cameras),
        "linked": sum(link.verdict is not Verdict.NONE for link in cameras),
        "links": {str(v): verdicts[v] for v in Verdict if v is not Verdict.CROSSING},
        "recorders": [use.site.id for use in design.recorders],
        "cabinets": len(design.cabinets),
        "objective": design.survey.settings.design.objective,
        "objective_value": _number(answer.objective_value),
        "cost": {"total": float(total(bill)), **headings},
        "cost_rests_on_invented_rates": any(line.is_invented for line in bill),
        "cable_m": _number(
            sum(run.cable_length_m for link in design.links for run in link.runs if not run.shared)
        ),
        "trunk_m": _number(sum(trunk.cable_length_m for trunk in design.trunks)),
        "works_m": _number(float(sum(design.network.segment_length_m[s] for s in design.works))),
        "cuts": worst_cuts(design.cuts),
        "bound": _number(answer.bound),
        "gap_percent": _number(answer.gap_percent),
        "solver_status": answer.status,
        **finding_counts(design.findings),
        "assumptions": assumptions.records(),
        "input_hashes": dict(design.survey.hashes),
        "version": __version__,
    }


def worst_cuts(cuts: Sequence[Cut]) -> dict[str, dict[str, Any]]:
    """Return the worst single cut of each kind of subject; `cuts` are the worst first."""
    first: dict[str, dict[str, Any]] = {}
    for cut in cuts:
        told = {"subject": cut.subject, "cameras_lost": len(cut.lost), "cameras_stranded": len(cut.stranded)}
        first.setdefault(cut.subject_kind, told)
    return dict(sorted(first.items()))


def finding_counts(findings: Sequence[Finding]) -> dict[str, dict[str, int]]:
    """Return findings by severity and by action."""
    return {
        "findings_by_severity": {str(s): sum(f.severity is s for f in findings) for s in Severity},
        "findings_by_action": {str(a): sum(f.action is a for f in findings) for a in Action},
    }


def _number(value: float) -> float | None:
    return float(round(value, 6)) if np.isfinite(value) else None


def plain(value: Any) -> Any:
    """Return nested tuples as lists, for JSON."""
    if isinstance(value, Mapping):
        return {k: plain(v) for k, v in value.items()}
    return [plain(v) for v in value] if isinstance(value, list | tuple) else value


def assumptions_table(
    survey: Survey, bill: Sequence[BillLine] = (), more: Iterable[tuple[str, str, int, str]] = ()
) -> Table:
    """Return every setting, every default taken for a blank, every assumed value, `more`, and every invented rate."""
    rows: list[tuple[str, Any, int | None, str]] = []
    settings = survey.settings
    for slot in fields(Settings):
        section = getattr(settings, slot.name)
        if slot.name in ("catalogue", "assume", "given", "estate", "drawing", "prices"):
            continue
        for key in fields(section):
            kind = "given" if f"{slot.name}.{key.name}" in settings.given else "default"
            rows.append((f"[{slot.name}] {key.name}", _told(getattr(section, key.name)), None, kind))
    rows += [(a.subject, _told(a.value), a.count, a.kind) for a in survey.assumptions]
    rows += more
    rows += [
        (f"rate of {line.item}", f"{line.rate.value:g} per {line.unit}", None, "invented")
        for line in bill
        if line.rate is not None and line.is_invented
    ]
    return table(ASSUMPTION_COLUMNS, rows)


def _told(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{k} {v:g}" if isinstance(v, float) else f"{k} {v}" for k, v in value.items())
    if isinstance(value, tuple):
        return ";".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def design_layers(design: Design, tables: Mapping[str, Table]) -> dict[str, Table]:
    """Return the layers of network.gpkg and of the plan."""
    network, survey = design.network, design.survey
    states = {use.site.id: "used" for use in design.recorders}
    states |= {use.patch.id: "used" if use.switch is not None else "passed" for use in design.cabinets}
    verdicts = {link.camera: str(link.verdict) for link in design.links if link.camera}
    links = tables["links"]
    ways = [way_wkt(network, link.segments) for link in design.links]
    return {
        **drawing_layers(survey, network, tables, design.findings),
        "links": Table(links.columns, links.rows, tuple(ways)),
        "points": points_layer(survey, network, states, verdicts),
        "proximity": proximity_layer(network, design.separation, tables["proximity"]),
        "cures": cures_layer(design),
    }


def cures_layer(design: Design) -> Table:
    """Return the lines that stretches too near mains would be moved to."""
    moved = [cure for cure in design.cures if cure.geometry is not None]
    rows = [
        (f"K{n}", str(design.network.segment_id[cure.segment]), cure.text) for n, cure in enumerate(moved, 1)
    ]
    return table(("cure", "segment", "text"), rows, [wkt(cure.geometry) for cure in moved])


def drawing_layers(
    survey: Survey, network: Network, tables: Mapping[str, Table], findings: Sequence[Finding]
) -> dict[str, Table]:
    """Return segments, findings, mains and buildings."""
    segments = tables["segments"]
    extra = ("environment", "proposed")
    rows = [
        (*row, str(network.segment_environment[s]), bool(network.segment_proposed[s]))
        for s, row in enumerate(segments.rows)
    ]
    register = findings_table(findings)
    places = tuple(
        None if np.isnan(f.x) or np.isnan(f.y) else f"POINT ({f.x:.3f} {f.y:.3f})" for f in findings
    )
    return {
        "segments": Table(
            (*segments.columns, *extra), tuple(rows), tuple(map(wkt, network.segment_geometry))
        ),
        "findings": Table(register.columns, register.rows, places),
        "mains": plain_layer(survey.mains, ("id", "kind", "placement")),
        "buildings": plain_layer(survey.buildings, ("id", "name")),
        "backdrop": Table(
            ("kind",), tuple((s.geom_type,) for s in survey.backdrop), tuple(map(wkt, survey.backdrop))
        ),
    }


def wkt(shape: Any) -> str | None:
    """Return a geometry as text to the millimetre, None where there is none."""
    return None if shape is None else str(shapely.to_wkt(shape, rounding_precision=WKT_DIGITS))


def way_wkt(network: Network, segments: Sequence[int]) -> str | None:
    """Return the segments of a link as one multi-line."""
    lines = [network.segment_geometry[s] for s in segments if network.segment_geometry[s] is not None]
    return wkt(shapely.MultiLineString(lines)) if lines else None


def plain_layer(layer: Layer, columns: tuple[str, ...]) -> Table:
    """Return some columns of a layer with its geometry."""
    rows = list(zip(*(layer[c] for c in columns), strict=True))
    return table(columns, rows, [wkt(shape) for shape in layer.geometry])


def points_layer(
    survey: Survey, network: Network, states: Mapping[str, str], verdicts: Mapping[str, str]
) -> Table:
    """Return the points with what the design makes of them.

    `status` is used for a recorder or a cabinet with a switch, passed for a cabinet where trunks only pass through,
    else that of the survey; `is_new` says whether what is used there is still to be put up.
    """
    points = survey.points
    rows, places = [], []
    for row, name in enumerate(points.ids):
        found = points["status"][row] or "existing"
        is_new = name in states and found == "candidate"
        shape = points.geometry[row]
        rows.append(
            (
                name, points["kind"][row], points["name"][row], states.get(name, found), verdicts.get(name, ""),
                is_new,
            )
        )  # fmt: skip
        node = int(network.point_node[row])
        attached = None
        if shape is None and node >= 0 and np.isfinite(network.node_x[node]):
            attached = shapely.Point(network.node_x[node], network.node_y[node])
        places.append(wkt(shape if shape is not None else attached))
    return table(("id", "kind", "name", "status", "verdict", "is_new"), rows, places)


def proximity_layer(network: Network, separation: SegmentSeparation, proximity: Table) -> Table:
    """Return the stretches near mains as lines."""
    exposures = separation.exposures
    shapes: list[str | None] = []
    for e in range(len(exposures.segment)):
        line = network.segment_geometry[exposures.segment[e]]
        if line is None:
            shapes.append(None)
            continue
        part = shapely.ops.substring(line, exposures.from_m[e], exposures.to_m[e])
        shapes.append(wkt(part))
    return Table(proximity.columns, proximity.rows, tuple(shapes))


def check_result(
    survey: Survey, catalogue: Catalogue, network: Network, separation: SegmentSeparation
) -> Result:
    """Return what a check says: the graph, the stretches near mains, the findings of the drawing."""
    findings = numbered(network.findings)
    allowed = frozenset(c.separation_class for c in catalogue.cables.values() if not c.legacy)
    classes = [min(filter(None, allowed), default="b")] * network.segments
    assumptions = assumptions_table(survey)
    containment = containment_of(survey, catalogue, network)
    tables = {
        **{name: Table(columns) for name, columns in COLUMNS.items()},
        "segments": segments_table(containment, (), {}, findings),
        "containment": containment_table(containment, (), {}, ()),
        "proximity": proximity_table(survey, network, separation, classes),
        "findings": findings_table(findings),
        "assumptions": assumptions,
    }
    cameras = sum(kind == "camera" for kind in survey.points["kind"])
    return result_of(
        survey,
        "check",
        summary={
            "command": "check",
            "estate": survey.settings.estate.title,
            "revision": survey.settings.estate.revision,
            "cameras": cameras,
            **finding_counts(findings),
            "assumptions": assumptions.records(),
            "input_hashes": dict(survey.hashes),
            "version": __version__,
        },
        tables=tables,
        layers={
            **drawing_layers(survey, network, tables, findings),
            "links": Table(COLUMNS["links"], (), ()),
            "points": points_layer(survey, network, {}, {}),
            "proximity": proximity_layer(network, separation, tables["proximity"]),
            "cures": Table(("cure", "segment", "text"), (), ()),
        },
    )
