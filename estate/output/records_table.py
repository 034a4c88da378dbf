"""records.csv and completeness.csv: where records don't fit, and how much of the survey is known."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from estate.audit.completeness import Share
from estate.audit.records import Record
from estate.output.result import Table, table

RECORDS = ("kind", "subject", "about", "problem", "suggestion", "cameras", "x", "y")
COMPLETENESS = ("layer", "kind", "columns", "needed", "known", "assumed", "known_percent")


def records_table(records: Sequence[Record]) -> Table:
    """One row for each thing in which the records don't fit."""
    rows = [(r.kind, r.subject, r.about, r.problem, r.suggestion, r.cameras, r.x, r.y) for r in records]
    return table(RECORDS, rows)


def completeness_table(shares: Sequence[Share]) -> Table:
    """One row per layer, its `columns` blank, and one per fact that judging needs of it."""
    rows = [(s.layer, s.kind, s.columns, s.needed, s.known, s.assumed, s.percent) for s in shares]
    return table(COMPLETENESS, rows)


def completeness_summary(shares: Sequence[Share]) -> dict[str, dict[str, Any]]:
    """Return how much is known of each layer and of all, as summary.json has it."""
    layers = {share.layer: share for share in shares if not share.columns}
    needed, known = (sum(getattr(share, name) for share in layers.values()) for name in ("needed", "known"))
    every = Share("all", "", "", needed, known, sum(share.assumed for share in layers.values()))
    return {name: _told(share) for name, share in [*layers.items(), ("all", every)]}


def _told(share: Share) -> dict[str, Any]:
    percent = None if np.isnan(share.percent) else round(share.percent, 1)
    return {"known": share.known, "needed": share.needed, "assumed": share.assumed, "percent": percent}
