"""What must be said with a result: relaxed rules, what the bound leaves open, invented rates, unknown loads."""

from collections import Counter
from collections.abc import Iterator

import numpy as np

from estate.links.power import greatest_night_w, night_unknown
from estate.links.spares import spare_cables
from estate.links.ways import works_money
from estate.placement.design import Design
from estate.settings import LimitsSection

RANKS_ONLY = "they rank, they are no prices."


def what_the_bound_leaves_open(design: Design) -> str:
    """Say why the bound may lie below every design: what it takes as free."""
    survey, network = design.survey, design.network
    by_cost = survey.settings.design.objective == "cost"
    works = by_cost and bool((works_money(network, survey, design.prices) > 0).any())
    reasons = [
        "proposed routes can be shared in more ways" if works else "",
        "the bound counts spare cables as free to all" if spare_cables(survey, network, design.catalogue)[0] else "",
    ]  # fmt: skip
    return " and ".join(filter(None, reasons)) or "the bound leaves room in containment out"


def separation_stamps(limits: LimitsSection) -> Iterator[str]:
    """Yield what must be said where the settings ask less of separation from mains than they do by default."""
    if limits.separation_safety == "none":
        yield "The 50 mm safety separation is switched off in estate.toml."
    if limits.separation != "en50174":
        yield "Separation from mains is judged by the superseded table of cable pairs, as set in estate.toml."


def invented_beside_the_bill(design: Design) -> str:
    """Return the stamp of money outside the bill that may rest on invented rates, empty where none does."""
    told = list(_money_beside_the_bill(design)) if design.prices.invents else []
    if not told:
        return ""
    return (
        f"Costs of {' and '.join(told)} can rest on invented rates, where [prices] lists none: {RANKS_ONLY}"
    )


def _money_beside_the_bill(design: Design) -> Iterator[str]:
    if any(not np.isnan(finding.cost) for finding in design.findings):
        yield "remedies"
    if any(design.changes.values()):
        yield "changes that would give a link"
    if design.alternatives:
        yield "alternatives"


def night_loads(design: Design) -> list[tuple[str, str, int, str]]:
    """Return rows of the assumptions for night loads that are not known: up to what they were judged, and its source."""
    counts: Counter[str] = Counter()
    for camera in design.cameras:
        if night_unknown(camera):
            figure = greatest_night_w(camera, design.catalogue)
            status = figure.status.replace("_", " ")
            counts[f"up to {max(camera.load_w, float(figure.value)):g} W: {figure.source} ({status})"] += 1
    return [("points.load_night_w", value, count, "unknown") for value, count in sorted(counts.items())]
