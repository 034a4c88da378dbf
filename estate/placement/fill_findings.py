"""What the filling of containment gives to do: too full, not known, dead cables, three that can jam."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from estate.findings import Action, Effect, Finding, Severity, Verdict
from estate.formulas.containment import jams
from estate.installed.fill import (
    LIMITED,
    ROUND,
    STACKED,
    Containment,
    Fill,
    cable_mm2,
    fill_of,
    limit_percent,
    limit_source,
    section_mm2,
    unlisted_percent,
)
from estate.links.link import Link
from estate.placement.places import middle

Laid = Mapping[int, Counter[str]]
"""New cables by segment and type."""

Users = Mapping[int, tuple[str, ...]]
"""Cameras by the segment that their links pass."""

OTHER_CURES = "replace several by one fibre, lay another duct, or take another way"


def new_cables_laid(links: Sequence[Link]) -> dict[int, Counter[str]]:
    """Return the cables that links lay, by segment; spare cables in place and shared ones are not among them."""
    laid: dict[int, Counter[str]] = defaultdict(Counter)
    for run in (run for link in links for run in link.runs if run.is_new):
        for segment in run.segments:
            laid[segment][run.cable] += 1
    return dict(sorted(laid.items()))


def fill_findings(containment: Containment, laid: Laid, users: Users) -> list[Finding]:
    """Return what new cables find in containment: too full, not known whether they fit, three that can jam."""
    return [
        *overfilled(containment, laid, users),
        *_not_known(containment, laid, users),
        *_nowhere(containment),
        *_jams(containment, laid, users),
    ]


# Too full


def overfilled(containment: Containment, laid: Laid, users: Users) -> Iterator[Finding]:
    """Yield a finding for what is filled beyond what may be: a fault where cables are new, to watch where not.

    Segments of one route that are alike in that are told together.
    """
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for segment in sorted({*laid, *containment.within}):
        new = laid.get(segment, Counter())
        fill = fill_of(containment, segment, new)
        if fill.verdict is Verdict.OUTSIDE:
            listed = tuple(cable.id for cable in containment.within.get(segment, ()))
            alike[containment.route(segment), tuple(sorted(new.items())), listed].append(segment)
    for segments in alike.values():
        yield _too_full(containment, segments, laid.get(segments[0], Counter()), users)


def _too_full(containment: Containment, segments: Sequence[int], new: Counter[str], users: Users) -> Finding:
    names = [str(containment.network.segment_id[segment]) for segment in segments]
    told = f"segment {names[0]} is" if len(names) == 1 else f"segments {', '.join(names)} are"
    first = segments[0]
    fill = fill_of(containment, first, new)
    x, y = middle(containment.network, first)
    return Finding(
        Severity.FAULT if new else Severity.WATCH,
        Effect.DEGRADED,
        Action.ENLARGE,
        "segment",
        names[0],
        f"{told} filled to {_told(fill)} by {_who(containment, first, new)}, "
        f"{fill.limit_percent:.0f} % may be filled{_how_many_fit(containment, first, new)}",
        x=x,
        y=y,
        measured=fill.least_percent,
        limit=fill.limit_percent,
        unit="%",
        source=limit_source(containment, first),
        remedy=_remedy(containment, first, new, fill),
        cameras=tuple(sorted({camera for segment in segments for camera in users.get(segment, ())})),
    )


def _told(fill: Fill) -> str:
    """Say a fill, where it is not known what it is at least."""
    return f"{'at least ' if np.isnan(fill.percent) else ''}{fill.least_percent:.0f} %"


def _who(containment: Containment, segment: int, new: Counter[str]) -> str:
    """Say which cables fill a segment."""
    listed = len(containment.within.get(segment, ()))
    parts = [f"{new.total()} designed"] if new else []
    parts += [f"{listed} listed"] if listed else []
    told = " and ".join(parts) + " cable" + ("s" if new.total() + listed != 1 else "")
    return told if unlisted_percent(containment, segment) == 0 else f"{told} and those not listed"


def _how_many_fit(containment: Containment, segment: int, new: Counter[str]) -> str:
    """Say how many would fit, where all cables are of one type."""
    types = {*new, *(cable.cable for cable in containment.within.get(segment, ()))}
    if len(types) != 1 or None in types or unlisted_percent(containment, segment) != 0:
        return ""
    (cable,) = types
    return f"; {most_alike(containment, segment, str(cable))} of {cable} fit"


def most_alike(containment: Containment, segment: int, cable: str) -> int:
    """Return how many cables of one type fit a segment that has nothing else; two may fit less well than three."""
    share = 100 * cable_mm2(containment.catalogue, cable) / section_mm2(containment, segment)
    fit = (n for n in range(int(100 / share), 0, -1) if n * share <= limit_percent(containment, segment, n))
    return next(fit, 0)


def _remedy(containment: Containment, segment: int, new: Counter[str], fill: Fill) -> str:
    dead = sorted({cable.id for cable in containment.within.get(segment, ()) if cable.is_dead})
    if not dead:
        return OTHER_CURES
    left = fill_of(containment, segment, new, frozenset(dead))
    return f"recover {', '.join(dead)}: fill falls from {_told(fill)} to {_told(left)}; else {OTHER_CURES}"


# Not known


def _not_known(containment: Containment, laid: Laid, users: Users) -> Iterator[Finding]:
    """Yield one finding for every route into which cables are laid without knowing whether they fit."""
    by_route: dict[int, list[int]] = defaultdict(list)
    for segment in laid:
        route, facts = containment.route(segment), unknown_facts(containment, segment)
        if route >= 0 and facts and fill_of(containment, segment, laid[segment]).verdict is Verdict.VERIFY:
            by_route[route].append(segment)
    for route, segments in sorted(by_route.items()):
        name = str(containment.survey.routes["id"][route])
        facts = sorted({fact for s in segments for fact in unknown_facts(containment, s)})
        x, y = middle(containment.network, segments[0])
        yield Finding(
            Severity.WATCH,
            Effect.RECORDS,
            Action.SURVEY,
            "route",
            name,
            f"whether what is laid in route {name} fits isn't known: {'; '.join(facts)}",
            x=x,
            y=y,
            source="blank in the survey",
            remedy="open it at both ends, measure it and count the cables before ordering",
            cameras=tuple(sorted({camera for s in segments for camera in users.get(s, ())})),
        )


def unknown_facts(containment: Containment, segment: int) -> list[str]:
    """Return what keeps the fill of a segment from being known, in words; nothing where nothing limits it."""
    kind = containment.kind(segment)
    if kind is not None and kind not in LIMITED:
        return []
    facts = ["containment isn't given"] if kind is None else []
    if kind is not None and np.isnan(section_mm2(containment, segment)):
        size = "width_mm or support_mm" if kind in STACKED else "bore_mm or area_mm2"
        facts.append(f"{size} isn't given")
    if np.isnan(unlisted_percent(containment, segment)):
        facts.append("fill_percent isn't given")
    facts += [
        f"the type or diameter of {cable.id} isn't known"
        for cable in containment.within.get(segment, ())
        if np.isnan(cable_mm2(containment.catalogue, cable.cable))
    ]
    return facts


def _nowhere(containment: Containment) -> Iterator[Finding]:
    """Yield one finding for the listed cables of which it isn't known where they lie: no containment counts them."""
    names = [cable.id for cable in containment.lying if cable.basis == "unknown"]
    if names:
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", containment.survey.settings.estate.title,
            f"where {', '.join(names)} {'lies' if len(names) == 1 else 'lie'} isn't known: no fill counts "
            f"{'it' if len(names) == 1 else 'them'}",
            remedy="trace with a tone and enter the routes",
        )  # fmt: skip


# Three that can jam


def _jams(containment: Containment, laid: Laid, users: Users) -> Iterator[Finding]:
    """Yield a finding for every round way that will hold three cables alike that can wedge side by side in a bend."""
    for segment, new in laid.items():
        od_mm = _of_three_alike(containment, segment, new)
        if od_mm is None:
            continue
        bore_mm = float(containment.survey.routes["bore_mm"][containment.route(segment)])
        if not jams(bore_mm, od_mm, JAMMING):
            continue
        name = str(containment.network.segment_id[segment])
        x, y = middle(containment.network, segment)
        yield Finding(
            Severity.WATCH,
            Effect.DEGRADED,
            Action.ENLARGE,
            "segment",
            name,
            f"three cables of {od_mm:g} mm can jam side by side in the {bore_mm:g} mm bore of segment {name}",
            x=x,
            y=y,
            measured=bore_mm / od_mm,
            source="NEC chapter 9, note to table 1: 2.8 to 3.2 diameters",
            remedy="pull them one by one, or take another bore",
            cameras=users.get(segment, ()),
        )


JAMMING = 3
"""How many cables can wedge side by side."""


def _of_three_alike(containment: Containment, segment: int, new: Counter[str]) -> float | None:
    """Return the diameter of the three cables alike that a single round way will hold [mm], else None."""
    route = containment.route(segment)
    if route < 0 or containment.kind(segment) not in ROUND or unlisted_percent(containment, segment) != 0:
        return None
    ways, bore_mm = (float(containment.survey.routes[name][route]) for name in ("ways", "bore_mm"))
    listed = [cable.cable for cable in containment.within.get(segment, ())]
    cables = [*new.elements(), *listed]
    if len(cables) != JAMMING or np.isnan(bore_mm) or ways > 1 or None in listed:
        return None
    sizes = {containment.catalogue.cables[str(cable)].number("od_mm") for cable in cables}
    return sizes.pop() if len(sizes) == 1 and not np.isnan(next(iter(sizes))) else None


# Dead cables


def recover_findings(containment: Containment, laid: Laid) -> Iterator[Finding]:
    """Yield every dead cable that lies in the containment, with what its recovery gives."""
    for cable in containment.lying:
        if not cable.is_dead:
            continue
        fullest = _fullest(containment, cable.segments, laid)
        x, y = (float("nan"),) * 2 if fullest is None else middle(containment.network, fullest)
        yield Finding(
            Severity.NOTE,
            Effect.RECORDS,
            Action.ENLARGE,
            "cable",
            cable.id,
            f"cable {cable.id} is dead{_takes(containment, cable.id, fullest, laid)}",
            x=x,
            y=y,
            remedy=f"recover {cable.id} once it is proven dead, or label it",
        )


def _fullest(containment: Containment, segments: Sequence[int], laid: Laid) -> int | None:
    """Return the segment nearest to its limit, the first of equals; None where no fill is known."""

    def share(segment: int) -> float:
        fill = fill_of(containment, segment, laid.get(segment, Counter()))
        return fill.percent / fill.limit_percent

    known = [segment for segment in dict.fromkeys(segments) if not np.isnan(share(segment))]
    return max(known, key=share, default=None)


def _takes(containment: Containment, cable: str, segment: int | None, laid: Laid) -> str:
    if segment is None:
        return ""
    new = laid.get(segment, Counter())
    filled, left = (fill_of(containment, segment, new, without) for without in (NONE, frozenset({cable})))
    name = str(containment.network.segment_id[segment])
    return f"; recovered, the fill of segment {name} falls from {_told(filled)} to {_told(left)}"


NONE: frozenset[str] = frozenset()
