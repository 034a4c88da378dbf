"""What changed between two audits beside the verdicts of their links: cables, facts that were not known, the programme."""

from collections import Counter
from collections.abc import Iterator, Mapping

from estate.findings import Verdict
from estate.output.changes import BEST_FIRST
from estate.output.result import Result, Table, table
from estate.output.told import SHOWN, counted

COLUMNS = ("change", "kind", "subject", "fact", "before", "after")

SETTLED, IDLE, OPENED = "settled", "decides no more", "new"

VERDICT = "verdict"
"""The fact of a cable that its link decides."""

Row = tuple[str, str, str, str, object, object]


def audit_changes_table(before: Result, after: Result) -> Table:
    """Return what changed between two audits.

    Cables: better, worse, new or gone, by the verdict of the link that they are in. Facts that decided a link: settled
    since, decides no more (still not known), new. The programme: cameras that fail, those that can be cured, and money.
    """
    return table(COLUMNS, [*_cables(before, after), *_facts(before, after), *_programme(before, after)])


def are_audits(before: Result, after: Result) -> bool:
    """Whether two results are audits that have all that is compared here."""
    return all(
        result.command == "audit"
        and "programme" in result.summary
        and "installed" in result.tables["links"].columns
        for result in (before, after)
    )


# Cables


def _cables(before: Result, after: Result) -> Iterator[Row]:
    old, new = _verdicts(before), _verdicts(after)
    for name in sorted(old.keys() | new.keys()):
        was, now = old.get(name, ""), new.get(name, "")
        if was != now:
            yield _change(was, now), "cable", name, VERDICT, was, now


def _verdicts(result: Result) -> dict[str, str]:
    """Return the verdict of the link that each installed cable is in."""
    return {
        cable: str(row["verdict"])
        for row in result.tables["links"].records()
        for cable in str(row["installed"] or "").split(";")
        if cable
    }


def _change(was: str, now: str) -> str:
    if not was or not now:
        return "new" if not was else "gone"
    return "better" if BEST_FIRST.index(Verdict(now)) < BEST_FIRST.index(Verdict(was)) else "worse"


# Facts


def _facts(before: Result, after: Result) -> Iterator[Row]:
    old, new = _deciding(before), _deciding(after)
    unknown = {
        fact
        for row in after.tables["links"].records()
        for fact in str(row.get("unknown") or "").split(";")
        if fact
    }
    for key, rank in old.items():
        if key not in new:
            kind, subject, fact = key
            idle = f"{fact} of {subject}" in unknown
            yield (
                IDLE if idle else SETTLED,
                kind,
                subject,
                fact,
                f"rank {rank}",
                "not known" if idle else "known",
            )
    for key, rank in new.items():
        if key not in old:
            yield (OPENED, *key, "", f"rank {rank}")


def _deciding(result: Result) -> dict[tuple[str, str, str], int]:
    """Return the facts that decide links, with their rank."""
    return {
        (str(row["subject_kind"]), str(row["subject"]), str(row["fact"])): int(row["rank"])
        for row in result.tables["survey"].records()
    }


# Programme


def _programme(before: Result, after: Result) -> Iterator[Row]:
    old, new = before.summary["programme"], after.summary["programme"]
    for fact in ("failing", "curable", "cost"):
        change = "" if new[fact] == old[fact] else "less" if new[fact] < old[fact] else "more"
        yield change, "programme", "remedies", fact, old[fact], new[fact]


def told_audit_changes(changes: Table, currency: str, *, every: bool) -> list[str]:
    """Say how many cables and facts changed, which facts were settled, and what the programme was and is."""
    rows = changes.records()
    cables = Counter(row["change"] for row in rows if row["fact"] == VERDICT)
    lines = []
    if cables:
        parts = ", ".join(f"{cables[c]} {c}" for c in ("worse", "gone", "new", "better") if cables[c])
        lines.append(f"cables: {parts}")
    facts = [row for row in rows if row["fact"] != VERDICT and row["kind"] != "programme"]
    counts = Counter(row["change"] for row in facts)
    if facts:
        parts = ", ".join(f"{counts[c]} {c}" for c in (SETTLED, IDLE, OPENED) if counts[c])
        lines.append(f"{counted(len(facts), 'fact')} that decided or decide links: {parts}")
        shown = facts if every else facts[:SHOWN]
        lines += [f"  {row['change']}: {row['fact']} of {row['subject']}" for row in shown]
    programme: Mapping[str, Mapping[str, object]] = {
        str(row["fact"]): row for row in rows if row["kind"] == "programme"
    }
    lines.append(
        "programme: " + " → ".join(_told_programme(programme, when, currency) for when in ("before", "after"))
    )
    return lines


def _told_programme(programme: Mapping[str, Mapping[str, object]], when: str, currency: str) -> str:
    money = float(str(programme["cost"][when]))
    cured, failing = programme["curable"][when], programme["failing"][when]
    return f"{cured} of {failing} failing cameras for {money:,.2f} {currency}".rstrip()
