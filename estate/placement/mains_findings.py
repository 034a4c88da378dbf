"""Findings near mains and other sources: too near, not proven, overhead, buried, alongside a fence."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from estate.catalogue.tables import Figure
from estate.findings import NAN, Action, Effect, Finding, Severity, Verdict
from estate.links.cures import Cure, cures_for
from estate.links.link import BudgetLine, Link
from estate.links.search import LinkSearch
from estate.links.separation import fence_corridor
from estate.network.proximity import HIGH_VOLTAGE_V
from estate.placement.places import middle, segment_users
from estate.units import MM_PER_M

Users = Mapping[int, tuple[str, ...]]

NAMES = {
    "mains": "mains",
    "drive": "a drive",
    "fence": "an electric fence",
    "discharge_lamp": "discharge lamps",
    "lightning_protection": "a lightning conductor",
}
OPERATOR = "ask the network's operator, then establish it on site before ordering"
MOVE = "move the route clear of the mains run, or put a metal barrier between"
LIGHTNING = "IEC 62305-3: the distance is the lightning protection designer's, never calculated here"


def mains_findings(search: LinkSearch, links: Sequence[Link], cures: Sequence[Cure]) -> list[Finding]:
    """Return the findings near mains; remedies and their money are those of `cures`, by segment, cheapest first."""
    users = segment_users(links)
    return [
        *_near_mains(search, links, users, cures),
        *_under_overhead(search, users),
        *_operators(search, users),
        *_fences(search, links, users),
        *_digging(search),
    ]


def near_segments(search: LinkSearch, links: Sequence[Link]) -> dict[int, BudgetLine]:
    """Return the segments too near mains, or not proven far enough, with the line that says so.

    For the cables that lie there; of segments without a link only existing ones that are outside for class b.
    """
    found = {}
    classes: dict[int, set[str]] = defaultdict(set)
    for link in links:
        for run in link.runs:
            for segment in run.segments:
                classes[segment].add(search.catalogue.cables[run.cable].separation_class)
    for segment in sorted(set(search.separation.exposures.segment.tolist())):
        line = worst_separation(search, segment, classes.get(segment, {"b"}))
        if line is None:
            continue
        unused = segment not in classes
        if unused and (search.network.segment_proposed[segment] or line.verdict is not Verdict.OUTSIDE):
            continue
        if line.verdict in (Verdict.VERIFY, Verdict.OUTSIDE):
            found[segment] = line
    return found


def near_mains_cures(search: LinkSearch, links: Sequence[Link]) -> list[Cure]:
    """Return every cure of every segment too near mains, or not proven far enough."""
    return [cure for segment in near_segments(search, links) for cure in cures_for(search, segment, links)]


def worst_separation(search: LinkSearch, segment: int, classes: Iterable[str]) -> BudgetLine | None:
    """Return the separation line of one segment for the cable that asks for most."""
    lines = [search.separation.line((segment,), c, informs=False) for c in sorted(classes)]
    return max((line for line in lines if line is not None), key=lambda line: line.limit, default=None)


def _near_mains(
    search: LinkSearch, links: Sequence[Link], users: Users, cures: Sequence[Cure]
) -> Iterator[Finding]:
    """Yield segments too near mains, or not proven far enough, for the cables that lie or may lie there."""
    cheapest: dict[int, Cure] = {}
    for cure in cures:
        cheapest.setdefault(cure.segment, cure)
    for segment, line in near_segments(search, links).items():
        yield _mains_finding(search, segment, line, users.get(segment, ()), cheapest.get(segment))


def _mains_finding(
    search: LinkSearch, segment: int, line: BudgetLine, cameras: tuple[str, ...], cure: Cure | None
) -> Finding:
    """Return the finding of one segment near a source."""
    name = str(search.network.segment_id[segment])
    x, y = middle(search.network, segment)
    kind = _governing_kind(search, segment)
    outside, lightning = line.verdict is Verdict.OUTSIDE, kind == "lightning_protection"
    source = NAMES.get(kind, kind.replace("_", " "))
    if lightning:
        text = (
            f"segment {name} is drawn {line.value:.0f} mm from a lightning conductor: the designer's distance"
        )
    elif outside:
        text = f"segment {name} runs {line.value:.0f} mm from {source}, {line.limit:.0f} mm required"
    else:
        text = (
            f"segment {name} is drawn {line.value:.0f} mm from {source}; the drawing can't tell whether "
            f"the {line.limit:.0f} mm required are kept"
        )
    return Finding(
        Severity.FAULT if outside and cameras else Severity.WATCH,
        Effect.DEGRADED,
        Action.RELOCATE if outside else Action.SURVEY,
        "segment",
        name,
        text,
        x=x,
        y=y,
        measured=line.value,
        limit=line.limit,
        unit="mm",
        source=LIGHTNING if lightning else line.source,
        remedy=_remedy(outside=outside, lightning=lightning, cure=cure),
        cost=cure.cost if cure is not None and not lightning else NAN,
        cameras=cameras,
    )


def _governing_kind(search: LinkSearch, segment: int) -> str:
    """Return the kind of the source that is nearest to its limit along a segment."""
    exposure = search.separation.governing((segment,), "b")
    run = -1 if exposure is None else int(search.separation.exposures.mains[exposure])
    return str(search.survey.mains["kind"][run]) if run >= 0 else "mains"


def _remedy(*, outside: bool, lightning: bool, cure: Cure | None) -> str:
    if lightning:
        return "ask the designer of the lightning protection for the separation distance"
    cured = f"{cure.text}" if cure is not None else MOVE
    if outside:
        return cured
    return f"{OPERATOR}: measure the distance and enter separation_mm; if it is too near: {cured}"


def _under_overhead(search: LinkSearch, users: Users) -> Iterator[Finding]:
    """Yield own aerial cable that crosses under, or is slung along, an overhead line."""
    network, mains, exposures = search.network, search.survey.mains, search.separation.exposures
    overhead = search.catalogue.rules["outdoors"]["overhead_mm"]
    seen = set()
    for e, (segment, run) in enumerate(
        zip(exposures.segment.tolist(), exposures.mains.tolist(), strict=True)
    ):
        aerial = network.segment_environment[segment] == "aerial"
        laid = segment in users or not network.segment_proposed[segment]
        if (
            run < 0
            or mains["placement"][run] != "overhead"
            or not (aerial and laid)
            or (segment, run) in seen
        ):
            continue
        seen.add((segment, run))
        name, how = (
            str(network.segment_id[segment]),
            "crosses" if exposures.distance_m[e] == 0 else "is slung along",
        )
        x, y = middle(network, segment)
        yield Finding(
            Severity.DANGER, Effect.DANGER, Action.SURVEY, "segment", name,
            f"aerial cable {name} {how} overhead line {mains['id'][run]}: contact can kill",
            x=x, y=y, measured=float(exposures.distance_m[e]) * MM_PER_M, limit=float(overhead.value), unit="mm",
            source=_told(overhead),
            remedy="ask the network's operator for clearance and an outage; no work near the line; better underground",
            cameras=users.get(segment, ()),
        )  # fmt: skip


def _operators(search: LinkSearch, users: Users) -> Iterator[Finding]:
    """Yield overhead and high-voltage lines near a segment that is used or exists: their operator has to be asked."""
    network, mains, exposures = search.network, search.survey.mains, search.separation.exposures
    near: dict[int, list[int]] = defaultdict(list)
    for segment, run in zip(exposures.segment.tolist(), exposures.mains.tolist(), strict=True):
        if run < 0 or (network.segment_proposed[segment] and segment not in users):
            continue
        if mains["placement"][run] == "overhead" or mains["volts"][run] > HIGH_VOLTAGE_V:
            near[run].append(segment)
    for run, segments in sorted(near.items()):
        names = ", ".join(str(network.segment_id[s]) for s in sorted(set(segments)))
        x, y = middle(network, segments[0])
        volts = float(mains["volts"][run])
        told = "volts not given" if np.isnan(volts) else f"{volts:g} V"
        yield Finding(
            Severity.WATCH, Effect.DANGER, Action.SURVEY, "mains", str(mains["id"][run]),
            f"{mains['placement'][run] or ''} run {mains['id'][run]} ({told}) near {names}: its operator decides on "
            "the distance".strip(),
            x=x, y=y, source=_told(search.catalogue.rules["outdoors"]["high_voltage_mm"]),
            remedy="ask the network operator for position, clearance and conditions of work before ordering",
            cameras=tuple(sorted({c for s in segments for c in users.get(s, ())})),
        )  # fmt: skip


def _fences(search: LinkSearch, links: Sequence[Link], users: Users) -> Iterator[Finding]:
    """Yield electric fences with copper alongside them within a long distance: one finding per fence."""
    rule = search.catalogue.rules["outdoors"]["fence_parallel_m"]
    network = search.network
    copper = {
        segment
        for link in links
        for run in link.runs
        if search.catalogue.cables[run.cable].metallic
        for segment in run.segments
    }
    found = fence_corridor(network, search.survey, float(rule.value))
    for run in sorted(set(found.mains.tolist())):
        rows = [
            e
            for e in np.flatnonzero(found.mains == run).tolist()
            if int(found.segment[e]) in copper and network.segment_building[found.segment[e]] < 0
        ]
        if not rows:
            continue
        nearest = min(rows, key=lambda e: float(found.distance_m[e]))
        along_m = float(sum(found.to_m[e] - found.from_m[e] for e in rows))
        segments = sorted({int(found.segment[e]) for e in rows})
        names = ", ".join(str(network.segment_id[s]) for s in segments)
        x, y = middle(network, int(found.segment[nearest]))
        yield Finding(
            Severity.WATCH, Effect.DEGRADED, Action.SURVEY, "mains", str(search.survey.mains["id"][run]),
            f"{along_m:.0f} m of copper alongside electric fence {search.survey.mains['id'][run]}, within "
            f"{rule.value:g} m: {names}",
            x=x, y=y, measured=float(found.distance_m[nearest]), limit=float(rule.value), unit="m",
            source=_told(rule),
            remedy="keep the fence's earth 10 m from other earths and cables, cross it squarely, or take metal-free fibre",
            cameras=tuple(sorted({c for s in segments for c in users.get(s, ())})),
        )  # fmt: skip


def _digging(search: LinkSearch) -> Iterator[Finding]:
    """Yield proposed trenches that may lie within machine-digging distance of a buried mains run."""
    exposures, network = search.separation.exposures, search.network
    mains = search.survey.mains
    hand_dig = search.catalogue.rules["outdoors"]["hand_dig_m"]
    seen = set()
    for e in range(len(exposures.segment)):
        segment, run = int(exposures.segment[e]), int(exposures.mains[e])
        dug = network.segment_proposed[segment] and network.segment_containment[segment] in ("duct", "buried")
        if not dug or run < 0 or mains["placement"][run] != "buried" or (segment, run) in seen:
            continue
        if exposures.distance_m[e] - exposures.accuracy_m[e] >= float(hand_dig.value):
            continue
        seen.add((segment, run))
        x, y = middle(network, segment)
        name = str(network.segment_id[segment])
        yield Finding(
            Severity.DANGER, Effect.DANGER, Action.RELOCATE, "segment", name,
            f"proposed trench {name} may come within {float(hand_dig.value):g} m of buried mains {mains['id'][run]}: "
            "no machine digging",
            x=x, y=y, measured=float(exposures.distance_m[e]) * MM_PER_M, limit=float(hand_dig.value) * MM_PER_M,
            unit="mm", source=_told(hand_dig),
            remedy="get service plans, locate, dig trial holes by hand; or move the trench",
        )  # fmt: skip


def _told(figure: Figure) -> str:
    return f"{figure.source} ({figure.status.replace('_', ' ')})"
