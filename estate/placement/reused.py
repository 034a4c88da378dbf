"""Candidates that take over installed cables: what is best where each cable goes to one link alone.

With every cable free to all, links that want the same one leave each other none. So each camera whose link is not kept
is searched with its own cables alone, and after a choice those who got less than they wanted with what is left.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence

from estate.findings import Verdict
from estate.links.found import Found
from estate.links.reusable import cable_of
from estate.links.search import LinkSearch
from estate.placement.candidates import taken
from estate.placement.task import PlacementAnswer, PlacementTask

Progress = Callable[[str], None]

ROUNDS = 3
"""How often what a choice leaves over is searched for those who could use it."""


def own_cable_links(search: LinkSearch, kept: Sequence[Found], progress: Progress) -> list[Found]:
    """Return the links without the cables of links that may be kept, and for each other camera with its own alone."""
    keeps = {each.camera for each in kept}
    own: dict[int, set[str]] = defaultdict(set)
    for camera, name in _owners(search):
        own[camera].add(name)
    others = [camera for camera in own if camera not in keeps]
    found: list[Found] = []
    if keeps:
        free = search.without_spares(name for camera in keeps for name in own[camera])
        found += _sure(free, [k for k in range(len(search.cameras)) if k not in keeps], progress)
    every = {spare.id for spare in search.reusable}
    for camera in others:
        found += _sure(search.without_spares(every - own[camera]), [camera], progress)
    return found


def _owners(search: LinkSearch) -> Iterable[tuple[int, str]]:
    """Yield each reusable cable, whole or a length of it, with the camera whose it is."""
    rows, cables = search.survey.cables.row_of(), search.survey.cables["camera"]
    index = {camera.id: k for k, camera in enumerate(search.cameras)}
    for spare in search.reusable:
        camera = str(cables[rows[cable_of(spare.id, search.survey)]])
        if camera in index:
            yield index[camera], spare.id


def left_over_links(
    search: LinkSearch, task: PlacementTask, answer: PlacementAnswer, progress: Progress
) -> list[Found]:
    """Return links from the installed cables that a choice leaves, for cameras that got less than they wanted."""
    chosen = [task.candidates[int(k)] for k in answer.choice if k >= 0]
    used = {part for each in chosen for part in each.spares}
    least = {c: min(x.cost for x in task.candidates if x.camera == c) for c in {x.camera for x in chosen}}
    wanting = sorted(each.camera for each in chosen if each.cost > least[each.camera])
    gone = [spare.id for spare in search.spares if used & set(spare.taken)]
    if not wanting or not gone:
        return []
    return _sure(search.without_spares(gone), wanting, progress)


def _sure(search: LinkSearch, cameras: Sequence[int], progress: Progress) -> list[Found]:
    """Return the candidates of some cameras that rest on no unverified fact, and take no part of a cable twice."""
    links = search.candidates(cameras, with_verify=False, progress=progress)
    return [each for each in links if each.verdict is not Verdict.VERIFY and possible(search, each)]


def possible(search: LinkSearch, found: Found) -> bool:
    """Whether a link takes no part of an installed cable twice."""
    parts = taken(search, found)
    return len(parts) == len(set(parts))
