"""From a saved result to the plan: what the drawing shows."""

import hashlib
from dataclasses import fields, replace
from typing import Any

import numpy as np
import shapely

from estate.findings import NAN, Action, Effect, Finding, Severity
from estate.output.plan_content import (
    PlanBuildings,
    PlanContent,
    PlanMains,
    PlanPoints,
    PlanSegments,
    PlanStretches,
)
from estate.output.result import Result, Table
from estate.output.sheets_north import true_north_deg
from estate.output.symbols import UPLINK_SLEEVES
from estate.settings import DrawingSection, EstateSection
from estate.units import MM_PER_M

HASH_DIGITS = 12


def plan_content(result: Result) -> PlanContent:
    """Return what the plan of a result shows."""
    layers = result.layers
    segments, points = layers["segments"], layers["points"]
    places = shapely.from_wkt(np.array(points.geometry or (), dtype=object))
    to_build = separation_to_build(result)
    content = PlanContent(
        estate=EstateSection(**result.estate),
        drawing=_drawing(result),
        crs=result.crs,
        segments=PlanSegments(
            id=segments.column("segment"),
            geometry=_shapes(segments),
            containment=[c or None for c in segments.column("containment")],
            proposed=segments.column("proposed"),
            links=[len(links.split(";")) if links else 0 for links in segments.column("links")],
            separation_mm=[to_build.get(s, NAN) for s in segments.column("segment")],
            uplink=uplink_kinds(result),
        ),
        mains=PlanMains(
            geometry=_shapes(layers["mains"]),
            kind=layers["mains"].column("kind"),
            placement=layers["mains"].column("placement"),
        ),
        buildings=PlanBuildings(
            id=layers["buildings"].column("id"),
            name=[name or "" for name in layers["buildings"].column("name")],
            geometry=_shapes(layers["buildings"]),
        ),
        points=PlanPoints(
            id=points.column("id"),
            kind=points.column("kind"),
            x=[NAN if p is None else p.x for p in places],
            y=[NAN if p is None else p.y for p in places],
            status=points.column("status"),
            verdict=points.column("verdict"),
        ),
        stretches=PlanStretches(
            geometry=_shapes(layers["proximity"]), verdict=layers["proximity"].column("verdict")
        ),
        moved=_shapes(layers["cures"]) if "cures" in layers else (),
        backdrop=_backdrop(layers["backdrop"]) if "backdrop" in layers else (),
        findings=tuple(_finding(row) for row in result.tables["findings"].records()),
        notes=result.notes,
        cautions=result.cautions,
        counts=_counts(result),
        input_hash=input_hash(result),
    )
    return replace(content, true_north_deg=_true_north_deg(content, result.crs_wkt))


def _true_north_deg(content: PlanContent, crs_wkt: str) -> float | None:
    """Return where true north lies in the middle of the estate."""
    bounds = content.bounds()
    if bounds is None:
        return None
    return true_north_deg(crs_wkt, (bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)


def with_cable_numbers(content: PlanContent, result: Result) -> PlanContent:
    """Return what a plan shows, with the numbers of the cables in each segment and of those that end at each camera."""
    lying: dict[str, dict[str, None]] = {}
    ending: dict[str, dict[str, str]] = {}
    for run in result.tables["runs"].records():
        for segment in (run["segments"] or "").split(";"):
            lying.setdefault(segment, {})[run["number"]] = None
        ending.setdefault(run["link"], {})[run["role"]] = run["number"]
    links = result.tables["links"]
    cameras = dict(zip(links.column("camera"), links.column("link"), strict=True))
    return replace(
        content,
        segments=replace(content.segments, cables=[tuple(lying.get(s, ())) for s in content.segments.id]),
        points=replace(
            content.points,
            cables=[tuple(ending.get(cameras.get(point, ""), {}).values()) for point in content.points.id],
        ),
    )


def input_hash(result: Result) -> str:
    """Return one short hash of all input files."""
    text = "".join(f"{name}{digest}" for name, digest in sorted(result.summary["input_hashes"].items()))
    return hashlib.sha256(text.encode()).hexdigest()[:HASH_DIGITS]


def uplink_kinds(result: Result) -> list[str]:
    """Return for each segment whether it carries an uplink, or only a standby one."""
    links = result.tables["links"]
    kinds = dict(zip(links.column("link"), links.column("kind"), strict=True))
    carried = [
        {kinds.get(link) for link in (links or "").split(";")}
        for links in result.layers["segments"].column("links")
    ]
    return [next((kind for kind in UPLINK_SLEEVES if kind in here), "") for here in carried]


def separation_to_build(result: Result) -> dict[str, float]:
    """Return for each proposed segment near mains the distance to keep when it is built [mm]."""
    segments = result.layers["segments"]
    proposed = {
        s for s, is_new in zip(segments.column("segment"), segments.column("proposed"), strict=True) if is_new
    }
    largest: dict[str, float] = {}
    for row in result.tables["proximity"].records():
        if row["segment"] in proposed and row["required_m"] is not None:
            largest[row["segment"]] = max(largest.get(row["segment"], 0.0), row["required_m"] * MM_PER_M)
    return largest


def _drawing(result: Result) -> DrawingSection:
    known = {f.name for f in fields(DrawingSection)}
    values: dict[str, Any] = {
        k: tuple(v) if isinstance(v, list) else v for k, v in result.drawing.items() if k in known
    }
    return DrawingSection(**values)


def _backdrop(layer: Table) -> list[Any]:
    """Return the lines of the backdrop; of an outline, its rings."""
    return [shape.boundary if shape.geom_type == "Polygon" else shape for shape in _shapes(layer)]


def _shapes(layer: Table) -> list[Any]:
    return list(shapely.from_wkt(np.array(layer.geometry or (), dtype=object)))


def _finding(row: dict[str, Any]) -> Finding:
    """Return a finding as far as the plan shows it."""
    return Finding(
        severity=Severity(row["severity"]),
        effect=Effect(row["effect"]),
        action=Action(row["action"]),
        subject_kind=row["subject_kind"],
        subject=row["subject"],
        text=row["text"],
        x=NAN if row["x"] is None else row["x"],
        y=NAN if row["y"] is None else row["y"],
        id=row["finding"],
    )


def _counts(result: Result) -> tuple[tuple[str, int], ...]:
    summary = result.summary
    counts = [("cameras", summary["cameras"])]
    if "linked" in summary:
        counts += [("linked", summary["linked"]), ("recorders", len(summary["recorders"]))]
    if summary.get("cabinets"):
        counts.append(("cabinets", summary["cabinets"]))
    return (*counts, ("findings", sum(summary["findings_by_severity"].values())))
