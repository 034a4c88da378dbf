"""Findings of installed links: outside limits, to be verified, measured otherwise than calculated."""

from collections.abc import Iterator, Sequence

import numpy as np

from estate.findings import Action, Effect, Finding, Severity, Verdict
from estate.installed.link import InstalledLink
from estate.installed.measured import DARK, FEED, PICTURE, SIGNAL, picture_word
from estate.links.lines import governing, in_words, passes
from estate.links.link import BudgetLine
from estate.links.search import LinkSearch
from estate.placement.places import middle, served_by

ELSEWHERE = frozenset({"separation", "earths"})
"""Quantities with findings of their own."""

REMEDIES = {
    Action.REPEATER: "a repeater or a switch with power on the way, fibre, or a recorder nearer",
    Action.CONVERT: "a thicker conductor, another feed, another cable, or a supply nearer to the camera",
    Action.PROTECT: "open the loop at one end, an isolator, or metal-free fibre; refer to a competent electrical designer",
    Action.SURVEY: "look for a plug, a joint, the polarity and the supply; then measure the level and the volts at both ends",
}
CLAD = "replace the cable with one of solid copper; don't repair or extend it"
NO_PICTURE = "calculates as good, so look for a plug, a joint, the polarity or the supply"


def link_findings(search: LinkSearch, installed: Sequence[InstalledLink]) -> list[Finding]:
    """Return the findings of the links themselves."""
    made = [each for each in installed if each.link.verdict is not Verdict.NONE]
    cameras = {each.link.id: served_by([x.link for x in made], [each.link]) for each in made}
    return [
        *(f for each in made for f in _outside(search, each, cameras[each.link.id])),
        *(f for each in made for f in _undecided(search, each, cameras[each.link.id])),
        *(f for each in made for f in _otherwise(search, each)),
        *_marginal(search, made, cameras),
        *_without(search, installed),
    ]


# Outside


def _outside(search: LinkSearch, each: InstalledLink, cameras: tuple[str, ...]) -> Iterator[Finding]:
    """Yield one finding for each effect that the lines outside limits of a settled link have."""
    if each.link.verdict is not Verdict.OUTSIDE:
        return
    failing = [line for line in governing(each.link.lines) if line.verdict is Verdict.OUTSIDE]
    told = [line for line in failing if line.quantity not in ELSEWHERE]
    by_effect: dict[Effect, list[BudgetLine]] = {}
    for line in told:
        by_effect.setdefault(_effect(each, line), []).append(line)
    for effect, lines in by_effect.items():
        yield _outside_finding(search, each, effect, lines, cameras)


def _outside_finding(
    search: LinkSearch,
    each: InstalledLink,
    effect: Effect,
    lines: Sequence[BudgetLine],
    cameras: tuple[str, ...],
) -> Finding:
    first, link = lines[0], each.link
    action = _action(first)
    remedy = CLAD if first.quantity == "material" else REMEDIES[action]
    good = first.quantity in (PICTURE, "video level") and _calculates_good(each)
    text = f"link {link.id}: {'; '.join(map(in_words, lines))}"
    x, y = _place(search, each)
    segment = limit_segment(search, each, first)
    if segment is not None:
        text += f"; past its limit on {search.network.segment_id[segment]}"
        x, y = middle(search.network, segment)
    return Finding(
        Severity.DANGER if effect is Effect.DANGER else Severity.FAULT, effect, action, "link", link.id,
        f"{text}; {NO_PICTURE}" if good else text, x, y, measured=first.value, limit=first.limit, unit=first.unit,
        source=first.source, remedy=remedy, cameras=cameras,
    )  # fmt: skip


def limit_segment(search: LinkSearch, each: InstalledLink, line: BudgetLine) -> int | None:
    """Return the segment, from the head, on which a link passes the limit of its signal; None where none is told."""
    if line.quantity not in SIGNAL or each.found is None or not line.value > line.limit > 0:
        return None
    stretch = each.found.stretches[line.stretch - 1 if line.stretch else -1]
    if not stretch.segments:
        return None
    along = np.cumsum(search.network.segment_length_m[list(stretch.segments)])
    at_m = along[-1] * line.limit / line.value
    return stretch.segments[min(int(np.searchsorted(along, at_m)), len(along) - 1)]


def segments_to_repeat(search: LinkSearch, installed: Sequence[InstalledLink]) -> set[int]:
    """Return the segments on which settled links pass the limits of their signal."""
    found = {
        limit_segment(search, each, line)
        for each in installed
        if each.link.verdict is Verdict.OUTSIDE
        for line in governing(each.link.lines)
        if line.verdict is Verdict.OUTSIDE and _action(line) is Action.REPEATER
    }
    return {segment for segment in found if segment is not None}


def _calculates_good(each: InstalledLink) -> bool:
    """Whether nothing that a picture depends on is outside as calculated, or open."""
    decides = [line for line in governing(each.before) if line.quantity in SIGNAL | FEED]
    return all(line.verdict in (Verdict.WITHIN, Verdict.MARGINAL) for line in decides)


def _effect(each: InstalledLink, line: BudgetLine) -> Effect:
    """Return what the client notices of a line outside its limits."""
    if line.quantity == PICTURE:
        if picture_word(line.text.removesuffix(" by day").removesuffix(" at night")) != DARK:
            return Effect.DEGRADED
        return Effect.NIGHT if line.state == "night" and not _dark_by_day(each) else Effect.PICTURE
    if line.quantity in FEED:
        return Effect.NIGHT if line.state == "night" and not _unfed_by_day(each) else Effect.PICTURE
    if line.quantity == "screen voltage":
        joins = any(x.quantity == "earths" and x.verdict is Verdict.OUTSIDE for x in each.link.lines)
        return Effect.DANGER if joins and ("earths", "") in each.agreed else Effect.DEGRADED
    if line.quantity in ("fibre loss", "throughput"):
        return Effect.PICTURE
    return Effect.DEGRADED


def _unfed_by_day(each: InstalledLink) -> bool:
    return any(
        line.quantity in FEED and line.state == "day" and line.verdict is Verdict.OUTSIDE
        for line in governing(each.link.lines)
    )


def _dark_by_day(each: InstalledLink) -> bool:
    return any(
        line.quantity == PICTURE and line.state == "day" and line.verdict is Verdict.OUTSIDE
        and picture_word(line.text.removesuffix(" by day")) == DARK
        for line in each.link.lines
    )  # fmt: skip


def _action(line: BudgetLine) -> Action:
    if line.quantity in FEED or line.quantity == "material":
        return Action.CONVERT
    if line.quantity == "screen voltage":
        return Action.PROTECT
    return Action.REPEATER if line.quantity in SIGNAL else Action.SURVEY


# Not decided, marginal, none


def _undecided(search: LinkSearch, each: InstalledLink, cameras: tuple[str, ...]) -> Iterator[Finding]:
    """Yield a link that an unknown fact decides, with the tests that would settle it."""
    link = each.link
    if link.verdict is not Verdict.VERIFY:
        return
    over = f" ({each.values} sets of values, at best {each.best})" if each.values > 1 else ""
    x, y = _place(search, each)
    tests = dict.fromkeys(f"{fact.subject}: {fact.test}" for fact in each.deciding)
    yield Finding(
        Severity.WATCH, Effect.RECORDS, Action.SURVEY, "link", link.id,
        f"link {link.id} can't be settled; {link.limiting}{over}", x, y, remedy="; ".join(tests), cameras=cameras,
    )  # fmt: skip


def _marginal(
    search: LinkSearch, made: Sequence[InstalledLink], cameras: dict[str, tuple[str, ...]]
) -> Iterator[Finding]:
    """Yield links that pass with less than the margin wanted."""
    for each in made:
        little = [
            x for x in governing(each.link.lines) if x.verdict is Verdict.MARGINAL and x.quantity != "earths"
        ]
        if each.link.verdict is Verdict.MARGINAL and little:
            yield Finding(
                Severity.WATCH, Effect.DEGRADED, Action.SURVEY, "link", each.link.id,
                f"link {each.link.id} passes with little margin: {in_words(little[0])}", *_place(search, each),
                measured=little[0].value, limit=little[0].limit, unit=little[0].unit, source=little[0].source,
                remedy="measure again, in the dark with the infra-red on, before anything is added to it",
                cameras=cameras[each.link.id],
            )  # fmt: skip


def _without(search: LinkSearch, installed: Sequence[InstalledLink]) -> Iterator[Finding]:
    """Yield one finding for all cameras that no cable on record serves."""
    lost = sorted(each.link.camera for each in installed if each.link.verdict is Verdict.NONE)
    if lost:
        count = f"{len(lost)} camera{'s have' if len(lost) != 1 else ' has'}"
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", search.settings.estate.title,
            f"{count} no installed cable on record: nothing is said of them",
            remedy="trace what serves them and enter it in cables, or take them out of points", cameras=tuple(lost),
        )  # fmt: skip


# Measured otherwise than calculated


def _otherwise(search: LinkSearch, each: InstalledLink) -> Iterator[Finding]:
    """Yield what was measured better than it calculates, and volts that differ from those calculated."""
    beaten = [line for line in governing(each.before) if _was_beaten(each, line)]
    if beaten and each.calculated is Verdict.OUTSIDE:
        words = "; ".join(map(in_words, beaten))
        yield Finding(
            Severity.WATCH, Effect.RECORDS, Action.SURVEY, "link", each.link.id,
            f"link {each.link.id} calculates worse than it was measured: {words}", *_place(search, each),
            measured=beaten[0].value, limit=beaten[0].limit, unit=beaten[0].unit, source=beaten[0].source,
            remedy="the records may be wrong: check cable type, length and joints; the margin is small at best",
            cameras=(each.link.camera,) if each.link.camera else (),
        )  # fmt: skip
    percent = float(search.catalogue.rules["measured"]["volts_percent"].value)
    before = {line.state: line.value for line in each.before if line.quantity == "volts"}
    for line in each.link.lines:
        calculated = before.get(line.state, float("nan"))
        if line.quantity != "volts" or line.basis != "measured" or np.isnan(calculated):
            continue
        if ("volts", line.state) in each.agreed and abs(line.value / calculated - 1) * 100 > percent:
            when = "at night" if line.state == "night" else "by day"
            yield Finding(
                Severity.WATCH, Effect.DEGRADED, Action.SURVEY, "link", each.link.id,
                f"link {each.link.id}: {line.value:.2f} V measured {when} where {calculated:.2f} V calculate",
                *_place(search, each), measured=line.value, limit=calculated, unit="V", source=line.source,
                remedy="look for a poor joint or plug, another conductor than on record, another load or supply",
                cameras=(each.link.camera,),
            )  # fmt: skip


def _was_beaten(each: InstalledLink, line: BudgetLine) -> bool:
    """Whether a line outside its limits as calculated only informs beside what was measured, or was measured to pass."""
    same = (line.quantity, line.state, line.profile, line.stretch)
    return line.verdict is Verdict.OUTSIDE and any(
        (x.quantity, x.state, x.profile, x.stretch) == same
        and (x.informs or (x.basis == "measured" and passes(x)))
        for x in each.link.lines
    )


def _place(search: LinkSearch, each: InstalledLink) -> tuple[float, float]:
    """Return where the camera of a link stands, or the cabinet of an uplink [m]."""
    network, rows = search.network, search.survey.points.row_of()
    name = each.link.camera or each.link.id.partition("-")[2]
    node = int(network.point_node[rows[name]]) if name in rows else -1
    return (float(network.node_x[node]), float(network.node_y[node])) if node >= 0 else (float("nan"),) * 2
