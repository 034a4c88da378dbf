"""From an audit to its result: summary, tables, layers, assumptions."""

from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np

from estate import __version__
from estate.audit.audit import Audit
from estate.findings import Verdict
from estate.output.audit_tables import audit_tables
from estate.output.build import (
    assumptions_table,
    drawing_layers,
    finding_counts,
    points_layer,
    proximity_layer,
    result_of,
    way_wkt,
    worst_cuts,
)
from estate.output.lacking import draft_note
from estate.output.programme_told import programme_notes, programme_summary, rests_on_invented
from estate.output.records_table import completeness_summary
from estate.output.result import Result, Table
from estate.output.stamps import separation_stamps


def audit_result(audit: Audit) -> Result:
    """Return everything an audit says, ready to be written, drawn and read again."""
    survey = audit.survey
    tables = {**audit_tables(audit), "assumptions": assumptions_table(survey)}
    return result_of(
        survey,
        "audit",
        summary={**audit_summary(audit, tables["assumptions"]), "draft_rows": len(tables["draft"].rows)},
        tables=tables,
        layers=audit_layers(audit, tables),
        notes=(*notes(audit), draft_note(tables["draft"])),
    )


def notes(audit: Audit) -> list[str]:
    """Return what must be stamped on every output of this audit."""
    stamped = [*programme_notes(audit.cured), *separation_stamps(audit.survey.settings.limits)]
    assumed = [each for each in audit.installed if each.assumed]
    if assumed:
        columns = sorted({column for each in assumed for column in each.assumed})
        names = ", ".join(each.link.id for each in assumed)
        stamped.append(f"Assumed, not known: {', '.join(columns)}. What rests on it: {names}.")
    open_ones = sum(each.link.verdict is Verdict.VERIFY for each in audit.installed)
    if open_ones:
        stamped.append(
            f"{open_ones} of {len(_judged(audit))} installed links are to be verified: an unknown fact decides them."
        )
    return stamped


def _judged(audit: Audit) -> list[Any]:
    return [each for each in audit.installed if each.link.verdict is not Verdict.NONE]


def audit_summary(audit: Audit, assumptions: Table) -> dict[str, Any]:
    """Return summary.json of an audit. `judged` and `verify` count cables in use, by the verdict of their link."""
    cameras = [link for link in audit.links if link.kind == "camera"]
    verdicts = Counter(str(link.verdict) for link in cameras)
    status = Counter(str(s or "unknown") for s in audit.survey.cables["status"])
    cables = {name: each for each in audit.installed for name in each.cables}
    waiting = [name for name, each in cables.items() if each.link.verdict is Verdict.VERIFY]
    estate = audit.survey.settings.estate
    return {
        "command": "audit",
        "estate": estate.title,
        "revision": estate.revision,
        "cameras": len(audit.cameras),
        "linked": sum(link.verdict is not Verdict.NONE for link in cameras),
        "links": {str(v): verdicts[v] for v in Verdict if v is not Verdict.CROSSING},
        "recorders": [use.site.id for use in audit.recorders],
        "cabinets": len(audit_cabinets(audit)),
        "cables": dict(sorted(status.items())),
        "judged": len(cables) - len(waiting),
        "verify": len(waiting),
        "unknown_facts": len(
            {(f.subject_kind, f.subject, f.fact) for x in audit.installed for f in x.unknowns}
        ),
        "deciding_facts": len(audit.questions),
        "inferred_ways": len({name for each in audit.installed for name in each.inferred}),
        "completeness": completeness_summary(audit.completeness),
        "records": len(audit.records),
        "cable_m": _number(float(sum(piece.length_m for piece in audit.laid))),
        "cuts": worst_cuts(audit.cuts),
        "programme": programme_summary(audit.cured),
        "cost_rests_on_invented_rates": rests_on_invented(audit.cured),
        **finding_counts(audit.findings),
        "findings_by_effect": _by_effect(audit),
        "assumptions": assumptions.records(),
        "input_hashes": dict(audit.survey.hashes),
        "version": __version__,
    }


def audit_cabinets(audit: Audit) -> list[str]:
    """Return the cabinets that cameras end at."""
    return sorted(
        {link.head for link in audit.links if link.camera and link.head and link.head != link.recorder}
    )


def _by_effect(audit: Audit) -> dict[str, int]:
    counts = Counter(str(f.effect) for f in audit.findings)
    return {effect: counts[effect] for effect in ("danger", "picture", "night", "degraded", "records")}


def _number(value: float) -> float | None:
    return float(round(value, 6)) if np.isfinite(value) else None


def audit_layers(audit: Audit, tables: Mapping[str, Table]) -> dict[str, Table]:
    """Return the layers of network.gpkg and of the plan."""
    network, survey = audit.network, audit.survey
    states = {use.site.id: "used" for use in audit.recorders if use.used}
    states |= dict.fromkeys(audit_cabinets(audit), "used")
    verdicts = {
        link.camera: str(link.verdict)
        for link in audit.links
        if link.camera and link.verdict is not Verdict.NONE
    }
    links = tables["links"]
    ways = tuple(way_wkt(network, link.segments) for link in audit.links)
    points = points_layer(survey, network, states, verdicts)
    return {
        **drawing_layers(survey, network, tables, audit.findings),
        "links": Table(links.columns, links.rows, ways),
        "points": points,
        "proximity": proximity_layer(network, audit.separation, tables["proximity"]),
        "cures": Table(("cure", "segment", "text"), (), ()),
    }
