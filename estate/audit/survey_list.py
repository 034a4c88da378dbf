"""What to find out on site: the unknown facts, by what each settles, building by building in the order of a walk."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from estate.installed.link import InstalledLink, Unknown
from estate.links.search import LinkSearch
from estate.network.network import Network
from estate.placement.places import cameras_of

Key = tuple[str, str, str]

NOWHERE_M = 1e9
"""Distance to what has no place: beyond everything that has one [m]."""


@dataclass(frozen=True, slots=True)
class Question:
    """One unknown fact: its rank, what it settles, and where to ask."""

    rank: int
    subject_kind: str
    subject: str
    fact: str
    test: str
    verdicts: int
    """Links that it settles by itself."""
    cameras: int
    """Cameras on those links."""
    building: str
    """Empty outdoors."""
    with_others: int
    """Links that it settles together with other facts."""
    values: tuple[str, ...]
    links: tuple[str, ...]


def survey_list(search: LinkSearch, installed: Sequence[InstalledLink]) -> tuple[Question, ...]:
    """Return the facts that decide links, ranked by the verdicts and then the cameras that each settles.

    In the order of a walk: the building with the best rank first, in it from its entry to the nearest next place.
    """
    served = cameras_of([each.link for each in installed])
    facts: dict[Key, Unknown] = {}
    waiting: dict[Key, list[InstalledLink]] = defaultdict(list)
    for each in installed:
        for fact in each.deciding:
            key = (fact.subject_kind, fact.subject, fact.fact)
            facts.setdefault(key, fact)
            waiting[key].append(each)
    ordered = sorted(facts, key=lambda key: _weight(key, waiting[key], served))
    places = {key: _node(search, facts[key], waiting[key]) for key in ordered}
    questions = {
        key: _question(rank, facts[key], waiting[key], served, _building(search, places[key]))
        for rank, key in enumerate(ordered, 1)
    }
    return tuple(questions[key] for key in _walk(search.network, questions, places))


def _alone(waiting: Sequence[InstalledLink]) -> list[InstalledLink]:
    return [each for each in waiting if len(each.deciding) == 1]


def _cameras(links: Sequence[InstalledLink], served: Mapping[str, tuple[str, ...]]) -> int:
    return len({camera for each in links for camera in served[each.link.id]})


def _weight(
    key: Key, waiting: Sequence[InstalledLink], served: Mapping[str, tuple[str, ...]]
) -> tuple[object, ...]:
    alone = _alone(waiting)
    return -len(alone), -_cameras(alone, served), -len(waiting), -_cameras(waiting, served), key


def _question(
    rank: int,
    fact: Unknown,
    waiting: Sequence[InstalledLink],
    served: Mapping[str, tuple[str, ...]],
    building: str,
) -> Question:
    alone = _alone(waiting)
    return Question(
        rank=rank,
        subject_kind=fact.subject_kind,
        subject=fact.subject,
        fact=fact.fact,
        test=fact.test,
        verdicts=len(alone),
        cameras=_cameras(alone, served),
        building=building,
        with_others=len(waiting) - len(alone),
        values=fact.values,
        links=tuple(each.link.id for each in waiting),
    )


# Where to ask


def _node(search: LinkSearch, fact: Unknown, waiting: Sequence[InstalledLink]) -> int:
    """Return the node where a fact is found out: at the camera's end of a cable; -1 where nothing has a place."""
    survey, network = search.survey, search.network
    rows = survey.points.row_of()
    if fact.subject_kind == "segment":
        found = np.flatnonzero(network.segment_id == fact.subject)
        return int(network.segment_from[found[0]]) if len(found) else -1
    name = fact.subject
    if fact.subject_kind == "cable":
        row = survey.cables.row_of().get(name, -1)
        ends = [survey.cables[column][row] for column in ("camera", "from", "to")] if row >= 0 else []
        name = next((str(end) for end in ends if end in rows), "")
    if name not in rows:
        name = next((each.link.camera for each in waiting if each.link.camera in rows), "")
    return int(network.point_node[rows[name]]) if name in rows else -1


def _building(search: LinkSearch, node: int) -> str:
    row = int(search.network.node_building[node]) if node >= 0 else -1
    if row >= 0:
        return str(search.survey.buildings["id"][row])
    at = np.flatnonzero(search.network.point_node == node).tolist() if node >= 0 else []
    declared = (search.survey.points["building"][point] for point in at)
    return next((str(name) for name in declared if name is not None), "")


# The walk


def _walk(network: Network, questions: Mapping[Key, Question], places: Mapping[Key, int]) -> list[Key]:
    """Return the facts building by building, each building from its entry on to the nearest next place."""
    by_building: dict[str, list[Key]] = defaultdict(list)
    for key, question in questions.items():
        by_building[question.building].append(key)
    best = sorted(by_building, key=lambda name: min(questions[key].rank for key in by_building[name]))
    return [key for name in best for key in _in_turn(network, by_building[name], places)]


def _in_turn(network: Network, keys: Sequence[Key], places: Mapping[Key, int]) -> list[Key]:
    """Return facts from the entry of their building, or the first place from the west, to the nearest next one."""
    ordered = sorted(keys)
    xy = np.array([_xy(network, places[key]) for key in ordered])
    left, walk = np.ones(len(ordered), dtype=bool), list[Key]()
    at = _start(network, [places[key] for key in ordered])
    while left.any():
        distance_m = np.nan_to_num(np.hypot(xy[:, 0] - at[0], xy[:, 1] - at[1]), nan=NOWHERE_M)
        nearest = int(np.argmin(np.where(left, distance_m, np.inf)))
        at = (float(xy[nearest, 0]), float(xy[nearest, 1]))
        left[nearest] = False
        walk.append(ordered[nearest])
    return walk


def _start(network: Network, nodes: Sequence[int]) -> tuple[float, float]:
    known = [node for node in nodes if node >= 0]
    building = int(network.node_building[known[0]]) if known else -1
    entries = np.flatnonzero((network.node_kind == "entry") & (network.node_building == building))
    if building >= 0 and len(entries):
        return _xy(network, int(entries[0]))
    return min((_xy(network, node) for node in known), default=(np.nan, np.nan))


def _xy(network: Network, node: int) -> tuple[float, float]:
    return (float(network.node_x[node]), float(network.node_y[node])) if node >= 0 else (np.nan, np.nan)
