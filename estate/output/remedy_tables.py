"""Remedies, repairs, the programme and reuse as tables."""

from collections import defaultdict

from estate.audit.cured import Cured
from estate.audit.programme import Programme
from estate.audit.programme_task import CENTS
from estate.audit.remedy import Remedies
from estate.audit.reuse import ReuseVerdict
from estate.output.result import Table, table

PROGRAMME = (
    "order", "remedy", "subject", "action", "cost", "cost_total", "cameras", "cameras_total", "in_budget", "text",
)  # fmt: skip
PROGRAMME_CURVE = ("cured", "cost", "cameras", "remedies")
REMEDIES = ("remedy", "action", "kind", "subject_kind", "subject", "cost", "cameras", "text")
REPAIRS = (
    "camera", "rank", "action", "kind", "head", "recorder", "method", "remedies", "cost", "verdict", "margin_percent",
    "text",
)  # fmt: skip
REFUSED = ("camera", "action", "kind", "why")
REUSE = (
    "cable", "type", "camera", "status", "can", "why", "method", "length_m", "joints", "reach_m", "mbps", "power", "test",
)  # fmt: skip


def cured_tables(cured: Cured) -> dict[str, Table]:
    """Return the tables of what would cure an estate, by name."""
    return {
        "programme": programme_table(cured.programme, cured.remedies),
        "programme_curve": programme_curve_table(cured.programme),
        "remedies": remedies_table(cured.remedies),
        "repairs": repairs_table(cured.remedies),
        "refused": refused_table(cured.remedies),
        "reuse": reuse_table(cured.reuse),
    }


def remedies_table(remedies: Remedies) -> Table:
    """One row per remedy with the cameras that could be cured with it; one without a price has no cost."""
    users: dict[str, set[str]] = defaultdict(set)
    for repair in remedies.repairs:
        for name in repair.remedies:
            users[name].add(repair.camera)
    rows = [
        (r.id, r.action, r.kind, r.subject_kind, r.subject, r.cost, sorted(users[r.id]), r.text)
        for r in remedies.remedies
    ]
    return table(REMEDIES, rows)


def repairs_table(remedies: Remedies) -> Table:
    """One row per way to cure a camera, the cheapest first; `cost` bears shared remedies in full."""
    rows = []
    for camera in dict.fromkeys(repair.camera for repair in remedies.repairs):
        for rank, r in enumerate(remedies.of_camera(camera), 1):
            rows.append(
                (
                    camera, rank, r.action, r.kind, r.head, r.recorder, r.method, r.remedies, remedies.cost(r), r.verdict,
                    r.margin_percent, r.text,
                )
            )  # fmt: skip
    return table(REPAIRS, rows)


def refused_table(remedies: Remedies) -> Table:
    """One row per way that breaks a rule or has no room; without a camera where it concerns several."""
    return table(REFUSED, [(r.camera, r.action, r.kind, r.why) for r in remedies.refused])


def programme_table(programme: Programme, remedies: Remedies) -> Table:
    """One row per remedy in the order of best money; `cameras` are those that it completes."""
    known = remedies.by_id
    rows = [
        (
            order, step.remedy, known[step.remedy].subject, known[step.remedy].action, step.cents / CENTS,
            step.cents_total / CENTS, step.cameras, step.cameras_total, step.in_budget, known[step.remedy].text,
        )
        for order, step in enumerate(programme.steps, 1)
    ]  # fmt: skip
    return table(PROGRAMME, rows)


def programme_curve_table(programme: Programme) -> Table:
    """One row per number of cameras: the least money that cures so many."""
    rows = [
        (len(plan.repairs), plan.cents / CENTS, plan.cameras, sorted(plan.remedies))
        for plan in programme.curve
    ]
    return table(PROGRAMME_CURVE, rows)


def reuse_table(verdicts: tuple[ReuseVerdict, ...]) -> Table:
    """One row per installed cable that could be coax or pair."""
    rows = [
        (
            v.cable, v.type, v.camera, v.status, v.can, v.why, v.method, v.length_m, v.joints, v.reach_m, v.mbps,
            v.power, v.test,
        )
        for v in verdicts
    ]  # fmt: skip
    return table(REUSE, rows)
