"""What records that don't fit give to do."""

from collections.abc import Iterator, Sequence

from estate.audit.completeness import Share
from estate.audit.records import Record
from estate.findings import Action, Effect, Finding, Severity

ONE_BY_ONE = ("end", "camera", "route", "way", "spelling", "double")
"""What is a finding of its own; the others are told together."""

GRAVE = ("end", "way")
"""What leaves a cable without a known link."""


def unfitting_findings(estate: str, records: Sequence[Record], shares: Sequence[Share]) -> list[Finding]:
    """Return the findings of records, and of how much of the survey is known.

    Dead cables have findings of their own, and so have cameras without any cable.
    """
    single = [_finding(record) for record in records if record.about in ONE_BY_ONE]
    unreached = [record for record in records if record.about == "unreached" and not record.cameras]
    unused = [record for record in records if record.about == "unused"]
    return [
        *single,
        *_together(estate, unreached, "no cable in use reaches"),
        *_together(estate, unused, "no listed cable uses"),
        *_incomplete(estate, shares),
    ]


def _finding(record: Record) -> Finding:
    first = record.subject.partition("; ")[0]
    about = "" if first in record.problem else f" of {record.kind} {record.subject}"
    return Finding(
        Severity.WATCH if record.about in GRAVE else Severity.NOTE,
        Effect.RECORDS,
        Action.SURVEY,
        record.kind,
        record.subject,
        f"records{about}: {record.problem}",
        x=record.x,
        y=record.y,
        remedy=record.suggestion,
        cameras=record.cameras,
    )


def _together(estate: str, records: Sequence[Record], words: str) -> Iterator[Finding]:
    """Yield one finding for all records of a kind."""
    if records:
        names = ", ".join(record.subject for record in records)
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", estate,
            f"records: {words} {records[0].kind}{'s' if len(records) > 1 else ''} {names}", remedy=records[0].suggestion,
        )  # fmt: skip


def _incomplete(estate: str, shares: Sequence[Share]) -> Iterator[Finding]:
    """Yield one finding with the share that is known of every layer that lacks facts."""
    layers = [share for share in shares if not share.columns and share.known < share.needed]
    if layers:
        told = ", ".join(
            f"{each.layer} {each.percent:.0f} % ({each.known} of {each.needed})" for each in layers
        )
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", estate,
            f"records: facts that judging needs and that are known: {told}",
            remedy="fill the columns of the table completeness that lack most",
        )  # fmt: skip
