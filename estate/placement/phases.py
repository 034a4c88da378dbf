"""Phases of works: what is dug, built, pulled and installed in each, and which cameras go live."""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from estate.errors import Problem
from estate.findings import NAN
from estate.links.link import Link
from estate.links.ways import DUG
from estate.network.network import Network
from estate.placement.cabinets import CabinetUse, Trunk
from estate.placement.keep import KEPT
from estate.placement.places import uplinks_of
from estate.placement.recorders import RecorderUse
from estate.survey.survey import Layer, Survey

Key = TypeVar("Key", bound=Hashable)

STEPS = ("dig", "build", "install", "pull", "live")


@dataclass(frozen=True, slots=True)
class Step:
    """One thing done in a phase. `step` is one of STEPS; length [m] and cost [currency] are NaN where it has none."""

    phase: str
    step: str
    subject_kind: str
    """segment, recorder, patch, link or camera."""
    subject: str
    length_m: float = NAN
    cost: float = NAN


@dataclass(frozen=True, slots=True)
class Need:
    """What a camera's link rests on, and the number of its phase."""

    kind: str
    """route, recorder or cabinet."""
    id: str
    phase: int


def phase_problems(
    survey: Survey, network: Network, links: Sequence[Link], trunks: Sequence[Trunk] = ()
) -> list[Problem]:
    """Return a problem for each camera and route, recorder or cabinet that its link needs before it is there.

    The routes of the cabinet's first uplink count, and the cabinets that its trunks pass; a standby uplink may come
    later.
    """
    names = survey.settings.phases.names
    if not names:
        return []
    phases, rows = _number(survey.points, names), survey.points.row_of()
    problems = []
    for link, needs in _needs(survey, network, links, trunks):
        own = phases[link.camera]
        row = rows[link.camera]
        for need in needs:
            if need.phase <= own:
                continue
            blank = survey.points["phase"][row] is None
            problems.append(
                Problem(
                    str(survey.points.origin[row]),
                    f"phase {names[need.phase]} or later: its link needs {need.kind} {need.id}, which is of phase "
                    f"{names[need.phase]}",
                    id=link.camera, field="phase", value=f"{names[own]} (the first; blank)" if blank else names[own],
                    fix=f"bring {need.kind} {need.id} forward, put the camera off, or forbid {need.kind} {need.id}",
                )
            )  # fmt: skip
    return problems


def _number(layer: Layer, names: Sequence[str]) -> dict[str, int]:
    """Return the number of each row's phase by id; the first where it is blank."""
    pairs = zip(layer["id"], layer["phase"], strict=True)
    return {str(name): 0 if phase is None else names.index(phase) for name, phase in pairs}


def _needs(
    survey: Survey, network: Network, links: Sequence[Link], trunks: Sequence[Trunk]
) -> Iterator[tuple[Link, tuple[Need, ...]]]:
    """Yield each camera's link with the recorder, the cabinets and the routes that it needs, each once."""
    names = survey.settings.phases.names
    points, routes = _number(survey.points, names), _number(survey.routes, names)
    uplinks = uplinks_of(links)
    patches = {str(name) for name in survey.points["id"][survey.points["kind"] == "patch"]}
    for link in links:
        if not link.camera or not link.nodes:
            continue
        heads = [("recorder", link.recorder)]
        ways = [link]
        if link.head != link.recorder:
            ways += [links[k] for k in uplinks.get(link.head, []) if links[k].kind == "uplink"]
            passed = {patch for way in ways for patch in _passed(way, trunks)} & patches
            heads += [("cabinet", patch) for patch in sorted(passed | {link.head})]
        used = {int(network.segment_route[s]) for way in ways for s in way.segments} - {-1}
        over = sorted(str(survey.routes["id"][route]) for route in used)
        yield (
            link,
            (
                *(Need(kind, name, points[name]) for kind, name in heads),
                *(Need("route", name, routes[name]) for name in over),
            ),
        )


def _passed(uplink: Link, trunks: Sequence[Trunk]) -> set[str]:
    """Return the places where trunks of an uplink end."""
    own = {run.trunk for run in uplink.runs}
    return {end for trunk in trunks if trunk.id in own for end in (trunk.start, trunk.end)}


def phase_steps(
    survey: Survey,
    network: Network,
    links: Sequence[Link],
    works: Mapping[int, float],
    recorders: Sequence[RecorderUse],
    cabinets: Sequence[CabinetUse] = (),
    trunks: Sequence[Trunk] = (),
) -> list[Step]:
    """Return what is done in each phase, in the order of the phases and of STEPS; nothing without [phases].

    A link belongs to the phase of its camera, an uplink to that of the first camera that hangs on it, a standby
    uplink to the first in which its routes are there too. A proposed segment is opened once, with the first link
    that uses it; recorders and cabinets come with the first link that ends there, or whose trunk passes there.
    """
    names = survey.settings.phases.names
    if not names:
        return []
    phase = link_phases(survey, network, links)
    steps = [
        *_works(network, links, phase, works, names),
        *_heads(survey, links, phase, recorders, names),
        *_cabinets(links, phase, cabinets, trunks, names),
        *_pulled(links, phase, names),
    ]
    return sorted(steps, key=lambda s: (names.index(s.phase), STEPS.index(s.step), s.subject_kind, s.subject))


def link_phases(survey: Survey, network: Network, links: Sequence[Link]) -> dict[int, int]:
    """Return the number of the phase that each link is pulled in, by its place in `links`."""
    names = survey.settings.phases.names
    points, routes = _number(survey.points, names), _number(survey.routes, names)
    uplinks = uplinks_of(links)
    phase = {k: points[link.camera] for k, link in enumerate(links) if link.camera and link.nodes}
    hanging: dict[str, list[int]] = defaultdict(list)
    for k, own in phase.items():
        if links[k].head != links[k].recorder:
            hanging[links[k].head].append(own)
    for patch, feeds in uplinks.items():
        for k in feeds:
            over = {int(network.segment_route[s]) for s in links[k].segments} - {-1}
            there = max((routes[str(survey.routes["id"][route])] for route in over), default=0)
            phase[k] = max(min(hanging[patch], default=0), there if links[k].kind == "standby" else 0)
    return phase


def _first(pairs: Iterable[tuple[Key, int]]) -> dict[Key, int]:
    """Return the least number of each key."""
    least: dict[Key, int] = {}
    for key, number in pairs:
        least[key] = min(number, least.get(key, number))
    return least


def _works(
    network: Network,
    links: Sequence[Link],
    phase: Mapping[int, int],
    works: Mapping[int, float],
    names: Sequence[str],
) -> Iterator[Step]:
    opened = _first((s, phase[k]) for k in phase for s in links[k].segments if network.segment_proposed[s])
    for segment, number in opened.items():
        step = "dig" if network.segment_containment[segment] in DUG else "build"
        name, length_m = str(network.segment_id[segment]), float(network.segment_length_m[segment])
        yield Step(names[number], step, "segment", name, length_m, works.get(segment, 0.0))


def _heads(
    survey: Survey,
    links: Sequence[Link],
    phase: Mapping[int, int],
    recorders: Sequence[RecorderUse],
    names: Sequence[str],
) -> Iterator[Step]:
    """Yield the new recorders; one that no link ends at comes with its own phase."""
    own = _number(survey.points, names)
    for use in recorders:
        served = [phase[k] for k in phase if links[k].recorder == use.site.id]
        if not use.site.existing:
            number = min(served, default=own[use.site.id])
            yield Step(names[number], "install", "recorder", use.site.id, NAN, use.cost)


def _cabinets(
    links: Sequence[Link],
    phase: Mapping[int, int],
    cabinets: Sequence[CabinetUse],
    trunks: Sequence[Trunk],
    names: Sequence[str],
) -> Iterator[Step]:
    """Yield the cabinets where something is put up; what one costs is known for those of `cabinets`."""
    uses = {use.patch.id: use for use in cabinets}
    ends = [(links[k].head, phase[k]) for k in phase if links[k].head != links[k].recorder]
    ends += [(patch, phase[k]) for k in phase for patch in sorted(_passed(links[k], trunks) & set(uses))]
    for patch, number in _first(ends).items():
        use = uses.get(patch)
        if use is None or _puts_up(use):
            yield Step(names[number], "install", "patch", patch, NAN, use.cost if use else NAN)


def _puts_up(use: CabinetUse) -> bool:
    """Whether a cabinet, its switch or its power is new."""
    return (
        not use.patch.existing or use.power_cost > 0 or (use.switch is not None and not use.switch.existing)
    )


def _pulled(links: Sequence[Link], phase: Mapping[int, int], names: Sequence[str]) -> Iterator[Step]:
    for k, number in phase.items():
        link = links[k]
        pulled_m = sum(run.cable_length_m for run in link.runs if run.is_new)
        if link.basis != KEPT:
            yield Step(names[number], "pull", "link", link.id, pulled_m, link.own_cost)
        if link.camera:
            yield Step(names[number], "live", "camera", link.camera)
