"""What pulling the designed cables into ducts and conduits takes, and what that gives to do."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Action, Effect, Finding, Severity, Verdict
from estate.links.link import Link
from estate.links.pulling import Part, Pull, PullSection, best_pit, pull, pull_parts, pull_section
from estate.network.network import Network
from estate.placement.places import middle, served_by
from estate.survey.survey import Survey


@dataclass(frozen=True, slots=True)
class DesignedPull:
    """Cables of one type that links pull through one section, each by itself."""

    pull: Pull
    count: int
    cameras: tuple[str, ...]


def designed_pulls(
    survey: Survey, network: Network, catalogue: Catalogue, links: Sequence[Link]
) -> tuple[DesignedPull, ...]:
    """Return every pull of new cable, by section and type, in order of section."""
    users: dict[tuple[tuple[int, ...], str], list[Link]] = defaultdict(list)
    parts: dict[tuple[int, ...], Part] = {}
    for link in links:
        for run in (run for run in link.runs if run.is_new):
            for part in pull_parts(network, run.nodes, run.segments):
                key = min(part[1], part[1][::-1])
                parts.setdefault(key, part)
                users[key, run.cable].append(link)
    sections = {key: pull_section(survey, network, part) for key, part in parts.items()}
    friction = survey.settings.limits.friction
    return tuple(
        DesignedPull(pull(sections[key], cable, catalogue, friction), len(some), served_by(links, some))
        for (key, cable), some in sorted(users.items())
    )


def pull_findings(
    survey: Survey, network: Network, catalogue: Catalogue, pulls: Sequence[DesignedPull]
) -> list[Finding]:
    """Return what the pulls give to do: above a cable's limit, not to be evaluated, more than the trade's rules."""
    hard = [each for each in pulls if each.pull.verdict is Verdict.OUTSIDE]
    unknown = [each for each in pulls if each.pull.verdict is Verdict.VERIFY]
    told = {each.pull.section.segments for each in hard}
    rest = {each.pull.section.segments: each for each in pulls if each.pull.section.segments not in told}
    return [
        *(_too_hard(survey, network, catalogue, each) for each in hard),
        *_not_evaluated(network, catalogue, unknown),
        *(f for each in rest.values() for f in _beyond_rules(network, catalogue, each)),
    ]


def _too_hard(survey: Survey, network: Network, catalogue: Catalogue, designed: DesignedPull) -> Finding:
    """Return the fault of a cable whose pull passes its limit from either end."""
    found = designed.pull
    ends = [str(network.node_id[node]) for node in found.section.nodes]
    fed = str(network.node_id[found.feed_node])
    friction = survey.settings.limits.friction
    return Finding(
        **_on(network, found.section),
        severity=Severity.FAULT,
        action=Action.ENLARGE,
        text=f"pulling {found.cable} from {ends[0]} to {ends[1]}, {found.section.length_m:.0f} m with "
        f"{found.section.bends_deg:.0f}° of bends, takes {found.kinder_n:.0f} N fed in at {fed}, the kinder end; "
        f"{found.limit_n:.0f} N may be pulled (friction {friction:g})",
        measured=found.kinder_n,
        limit=found.limit_n,
        unit="N",
        source=catalogue.cables[found.cable].source("pull_max_n"),
        remedy=_cure(network, catalogue, found, friction),
        cameras=designed.cameras,
    )


def _cure(network: Network, catalogue: Catalogue, found: Pull, friction: float) -> str:
    pit = best_pit(found.section, found.cable, catalogue, friction)
    start = str(network.node_id[found.section.nodes[0]])
    if pit is None or pit.tension_n > found.limit_n:
        return "build several pull points between, take a stronger cable, or another way"
    return (
        f"build a pull point {pit.from_start_m:.0f} m from {start}: {pit.tension_n:.0f} N are left; "
        "or pull with lubricant to a measured tension, or take a stronger cable"
    )


def _not_evaluated(
    network: Network, catalogue: Catalogue, unknown: Sequence[DesignedPull]
) -> Iterator[Finding]:
    """Yield one finding for each section whose pulls can't be evaluated, with what is not known."""
    by_section: dict[tuple[int, ...], list[DesignedPull]] = defaultdict(list)
    for each in unknown:
        by_section[each.pull.section.segments].append(each)
    for group in by_section.values():
        section = group[0].pull.section
        facts = ["how many bends there are"] if np.isnan(section.bends_deg) else []
        facts += sorted({fact for each in group for fact in _missing(catalogue, each.pull.cable)})
        yield Finding(
            **_on(network, section),
            severity=Severity.NOTE,
            action=Action.SURVEY,
            text=f"pulling {', '.join(sorted({each.pull.cable for each in group}))} isn't evaluated; "
            f"not known: {'; '.join(facts)}",
            remedy="count the bends and enter them as bends; ask the cable's maker for mass and pulling limit",
            cameras=tuple(sorted({camera for each in group for camera in each.cameras})),
        )


def _missing(catalogue: Catalogue, cable: str) -> list[str]:
    figures = {"mass_kg_per_km": "the mass", "pull_max_n": "the pulling limit"}
    return [
        f"{told} of {cable}"
        for name, told in figures.items()
        if np.isnan(catalogue.cables[cable].number(name))
    ]


def _beyond_rules(network: Network, catalogue: Catalogue, designed: DesignedPull) -> Iterator[Finding]:
    """Yield the notes on a section within the cables' limits but beyond what the trade allows between pull points."""
    section, rules = designed.pull.section, catalogue.rules["pulling"]
    most_deg = 90 * float(rules["bends_between_pits"].value)
    most_m = float(rules["section_m"].value)
    indoor = all(network.segment_containment[s] == "conduit" for s in section.segments)
    said: list[tuple[str, float, float, str, str]] = []
    if section.bends_deg > most_deg + TOLERANCE:
        words = f"turns through {section.bends_deg:.0f}° where {most_deg:.0f}° are usual"
        said.append((words, section.bends_deg, most_deg, "°", "bends_between_pits"))
    if indoor and section.length_m > most_m + TOLERANCE:
        words = f"is {section.length_m:.0f} m of conduit where {most_m:.0f} m are usual"
        said.append((words, section.length_m, most_m, "m", "section_m"))
    ends = " to ".join(str(network.node_id[node]) for node in section.nodes)
    for words, measured, limit, unit, rule in said:
        yield Finding(
            **_on(network, section), severity=Severity.NOTE, action=Action.ENLARGE,
            text=f"pull section {ends} {words} between pull points", measured=measured, limit=limit, unit=unit,
            source=rules[rule].source, remedy="build a pull point after the second right-angle bend",
            cameras=designed.cameras,
        )  # fmt: skip


TOLERANCE = 0.5
"""Half of the last digit told."""


def _on(network: Network, section: PullSection) -> dict[str, Any]:
    """Return what findings on a section have in common: they stand on its longest segment."""
    segment = max(section.segments, key=lambda s: (float(network.segment_length_m[s]), -s))
    x, y = middle(network, segment)
    subject = str(network.segment_id[segment])
    return {"effect": Effect.DEGRADED, "subject_kind": "segment", "subject": subject, "x": x, "y": y}


def worst_by_route(network: Network, pulls: Sequence[DesignedPull]) -> Mapping[int, Pull]:
    """Return for each route the pull through it that is nearest to its limit; one not evaluated counts as worst."""
    worst: dict[int, Pull] = {}
    for each in pulls:
        for route in {int(network.segment_route[s]) for s in each.pull.section.segments}:
            if route not in worst or _share(each.pull) > _share(worst[route]):
                worst[route] = each.pull
    return worst


def _share(found: Pull) -> float:
    share = found.kinder_n / found.limit_n
    return float("inf") if np.isnan(share) else share
