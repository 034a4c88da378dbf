"""What records that don't fit give to do."""

from collections.abc import Iterator, Sequence

from estate.audit.completeness import Share
from estate.audit.records import Record
from estate.findings import Action, Effect, Finding, Severity

ONE_BY_ONE = ("end", "camera", "route", "way", "spelling", "double", "unreached")
"""What is a finding of its own; the others are told together."""

GRAVE = ("end", "way", "unreached")
"""What leaves a cable or a camera without a known link."""


def record_findings(records: Sequence[Record], shares: Sequence[Share]) -> list[Finding]:
    """Return the findings of records, and of how much of the survey is known. Dead cables have their own."""
    single = [_finding(record) for record in records if record.about in ONE_BY_ONE]
    return [*single, *_unused([r for r in records if r.about == "unused"]), *_incomplete(shares)]


def _finding(record: Record) -> Finding:
    watched = record.about in GRAVE and (record.about != "unreached" or bool(record.cameras))
    first = record.subject if "; " not in record.subject else record.subject.partition("; ")[0]
    named = record.subject in record.problem or first in record.problem
    return Finding(
        Severity.WATCH if watched else Severity.NOTE,
        Effect.RECORDS,
        Action.SURVEY,
        record.kind,
        record.subject,
        f"records: {record.problem}"
        if named
        else f"records of {record.kind} {record.subject}: {record.problem}",
        x=record.x,
        y=record.y,
        remedy=record.suggestion,
        cameras=record.cameras,
    )


def _unused(records: Sequence[Record]) -> Iterator[Finding]:
    """Yield one finding for all routes that no cable uses."""
    if records:
        names = ", ".join(record.subject for record in records)
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", "",
            f"records: no listed cable uses {'route' if len(records) == 1 else 'routes'} {names}",
            remedy=records[0].suggestion,
        )  # fmt: skip


def _incomplete(shares: Sequence[Share]) -> Iterator[Finding]:
    """Yield one finding with the share that is known of every layer that lacks facts."""
    layers = [share for share in shares if not share.columns and share.known < share.needed]
    if layers:
        told = ", ".join(
            f"{each.layer} {each.percent:.0f} % ({each.known} of {each.needed})" for each in layers
        )
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", "",
            f"records: facts that judging needs and that are known: {told}",
            remedy="fill the columns of the table completeness that lack most",
        )  # fmt: skip
