"""What else would serve each camera: the cheapest links beside the chosen one, as rows to be told."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice

from estate.findings import Verdict
from estate.links.alternatives import Known, Parts, known, other_links, parts
from estate.links.chosen import chosen_link
from estate.links.found import Found
from estate.links.search import LinkSearch


@dataclass(frozen=True, slots=True)
class Alternative:
    """A link that stands and was not chosen; the first of a camera is the cheapest."""

    camera: str
    rank: int
    head: str
    method: str
    cable_length_m: float
    cost: float
    """Its own and its works in full [currency]."""
    margin_percent: float
    avoids: tuple[str, ...]


def alternatives(
    search: LinkSearch,
    chosen: Mapping[int, Found],
    standing: Mapping[int, bool],
    heads: Iterable[str],
    count: int,
    progress: Callable[[str], None],
) -> tuple[Alternative, ...]:
    """Return the cheapest links beside the chosen ones, at most `count` for each camera.

    `standing` holds the cameras that any link stands for, and whether only one that is still to be verified does;
    `heads` are the recorders and cabinets that a link may end at.
    """
    if not count:
        return ()
    wanted = set(heads)
    sites = [k for k, site in enumerate(search.sites) if site.id in wanted]
    found: list[Alternative] = []
    for camera, to_verify in sorted(standing.items()):
        progress(f"alternatives for {search.cameras[camera].id}")
        taken = chosen.get(camera)
        others = [known(taken)] if taken is not None else []
        links = other_links(search, camera, sites, others, with_verify=to_verify)
        beside = parts(search, taken) if taken is not None else None
        found += alternative_rows(search, beside, islice(links, count))
    return tuple(found)


def alternative_rows(
    search: LinkSearch, chosen: Parts | None, links: Iterable[Found]
) -> Iterator[Alternative]:
    """Yield links of one camera as alternatives, in the order given, to a chosen one or to none."""
    for rank, found in enumerate(links, 1):
        site = search.sites[found.site]
        yield Alternative(
            camera=search.cameras[found.camera].id,
            rank=rank,
            head=site.id,
            method=found.scheme.name,
            cable_length_m=found.cable_length_m,
            cost=found.own_cost + found.works_cost,
            margin_percent=chosen_link(search, found, site).margin_percent,
            avoids=chosen.without(parts(search, found), search.network.segment_id)
            if chosen is not None
            else (),
        )


def link_heads(search: LinkSearch, cabinets: Iterable[str]) -> list[str]:
    """Return where links may end: recorders that are not forbidden, and cabinets with a switch in the design."""
    forbidden = search.settings.design.forbid_recorders
    return [*(s.id for s in search.sites[: search.recorders] if s.id not in forbidden), *cabinets]


def standing_cameras(found: Iterable[Found]) -> dict[int, bool]:
    """Return the cameras that links were found for, and whether every one of theirs is to be verified."""
    only: dict[int, bool] = {}
    for each in found:
        only[each.camera] = only.get(each.camera, True) and each.verdict is Verdict.VERIFY
    return only


# What a saved link beat


@dataclass(frozen=True, slots=True)
class Saved:
    """A link as a result holds it, by ids."""

    method: str
    head: str
    segments: tuple[str, ...]
    cables: tuple[str, ...]
    items: tuple[str, ...]
    to_verify: bool


Beaten = tuple[Alternative | None, Alternative | None]
"""The next best of another method, and of the same method by another head or route."""


def beaten(search: LinkSearch, camera: str, saved: Saved, cabinets: Iterable[str]) -> Beaten | None:
    """Return what a saved link beat; None where it isn't one of this estate."""
    numbers = {str(name): k for k, name in enumerate(search.network.segment_id)}
    heads = {site.id: k for k, site in enumerate(search.sites)}
    index = {facts.id: k for k, facts in enumerate(search.cameras)}
    if camera not in index or saved.head not in heads or not set(saved.segments) <= set(numbers):
        return None
    segments = tuple(numbers[name] for name in saved.segments)
    chosen = Known(saved.method, heads[saved.head], frozenset(segments))
    used = Parts(saved.head, segments, saved.cables, saved.items)
    sites = [heads[name] for name in link_heads(search, cabinets) if name in heads]

    def cheapest(wanted: Callable[[str], bool]) -> Alternative | None:
        links = other_links(
            search, index[camera], sites, [chosen], with_verify=saved.to_verify, wanted=wanted
        )
        return next(alternative_rows(search, used, islice(links, 1)), None)

    return cheapest(lambda name: name != saved.method), cheapest(lambda name: name == saved.method)


def standing(search: LinkSearch, camera: str, cabinets: Iterable[str], count: int) -> list[Alternative]:
    """Return the cheapest links that stand for a camera by themselves."""
    index = {facts.id: k for k, facts in enumerate(search.cameras)}
    heads = {site.id: k for k, site in enumerate(search.sites)}
    sites = [heads[name] for name in link_heads(search, cabinets) if name in heads]
    rules = [False, True] if search.settings.limits.verify_in_design == "last" else [False]
    for with_verify in rules if camera in index else []:
        links = other_links(search, index[camera], sites, with_verify=with_verify)
        found = list(alternative_rows(search, None, islice(links, count)))
        if found:
            return found
    return []
