"""Other links for a camera: the cheapest that differ from those known already, in method, head or route.

Known links part what is left into sets of segments to keep out of (after Lawler, "A procedure for computing the K best
solutions to discrete optimization problems and its application to the shortest path problem", Management Science 18
(1972) 401-405; from memory): a link of the same method and head differs where it leaves out a segment of a known one,
so one search with each of that link's segments closed finds all that do. Searches wait in the order of what they could
cost at least; most are never made.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count

import numpy as np
from numpy.typing import NDArray

from estate.links.found import Found
from estate.links.schemes import Scheme
from estate.links.search import LinkSearch


@dataclass(frozen=True, slots=True)
class Known:
    """What another link must differ from: a method, a head by its number among the sites, or a route."""

    method: str
    site: int
    segments: frozenset[int]

    def is_like(self, found: Found) -> bool:
        """Whether a link has the same method and head and leaves out no segment."""
        same = (self.method, self.site) == (found.scheme.name, found.site)
        return same and self.segments <= set(found.segments)


def known(found: Found) -> Known:
    """Return what another link must differ from."""
    return Known(found.scheme.name, found.site, frozenset(found.segments))


def any_method(_name: str) -> bool:
    """Take every method."""
    return True


def other_links(
    search: LinkSearch,
    camera: int,
    sites: Sequence[int],
    others: Sequence[Known] = (),
    *,
    with_verify: bool,
    wanted: Callable[[str], bool] = any_method,
) -> Iterator[Found]:
    """Yield links that stand and differ from `others` and from those yielded before, the cheapest first.

    Exact: what is yielded is the cheapest link of any wanted method, from any of the sites, that differs. What the user
    discourages comes last. Each link bears its works in full, as if nobody shared them.
    """
    if search.network.point_node[search.cameras[camera].row] < 0:
        return
    yield from _Others(search, camera, others, with_verify=with_verify).found(sites, wanted)


Closed = frozenset[int]


@dataclass(frozen=True, slots=True)
class _Part:
    """Links of one scheme from one site that keep out of some segments."""

    site: int
    scheme: Scheme
    discouraged: bool
    closed: Closed


class _Others:
    """The links of one camera, in order. A part waits with what is known of its least cost, its best link likewise."""

    def __init__(
        self, search: LinkSearch, camera: int, others: Sequence[Known], *, with_verify: bool
    ) -> None:
        self.camera, self.with_verify = camera, with_verify
        self.known = list(others)
        self.searches: dict[Closed, LinkSearch] = {frozenset(): search}
        self.seen: set[_Part] = set()
        self.heap: list[tuple[bool, float, int, _Part, Found | None]] = []
        self.bounded: set[_Part] = set()
        self.number = count()

    def found(self, sites: Sequence[int], wanted: Callable[[str], bool]) -> Iterator[Found]:
        """Yield the links that differ from all known ones, the cheapest first."""
        search = self._search(frozenset())
        for site in sites:
            if search.sites[site].node >= 0:
                for scheme, discouraged in search.ways_to_join(
                    site, self.camera, with_verify=self.with_verify
                ):
                    if wanted(scheme.name):
                        self._bound(_Part(site, scheme, discouraged, frozenset()), -np.inf)
        while self.heap:
            _, cost, _, part, link = heappop(self.heap)
            if link is None:
                if part in self.bounded:
                    self._best(part)
                else:
                    self._bound(part, cost)
                continue
            like = next((each for each in self.known if each.is_like(link)), None)
            if like is None:
                like = known(link)
                self.known.append(like)
                yield link
            self._split(part, like, cost)

    def _split(self, part: _Part, like: Known, cost: float) -> None:
        """Put down the parts of a part whose links leave out a segment of a known link; none costs less."""
        for segment in sorted(like.segments):
            less = _Part(part.site, part.scheme, part.discouraged, part.closed | {segment})
            if less not in self.seen:
                self.seen.add(less)
                self._push(cost, less, None)

    def _search(self, closed: Closed) -> LinkSearch:
        if closed not in self.searches:
            self.searches[closed] = self.searches[frozenset()].with_closed(closed)
        return self.searches[closed]

    def _bound(self, part: _Part, at_least: float) -> None:
        """Put a part in its place by what shortest ways tell that it costs at least; drop it where it is empty."""
        self.bounded.add(part)
        search = self._search(part.closed)
        bounds = search.bounds(with_verify=self.with_verify)
        cost = float(bounds.least(part.scheme, search.sites[part.site], [search.cameras[self.camera]])[0])
        if np.isfinite(cost):
            self._push(max(cost, at_least), part, None)

    def _best(self, part: _Part) -> None:
        """Search a part, and put its best link in its place."""
        search = self._search(part.closed)
        link = search.of_scheme(
            part.site, self.camera, part.scheme, discouraged=part.discouraged, with_verify=self.with_verify
        )
        if link is not None:
            self._push(search.made_least(link), part, link)

    def _push(self, cost: float, part: _Part, link: Found | None) -> None:
        heappush(self.heap, (part.discouraged, cost, next(self.number), part, link))


@dataclass(frozen=True, slots=True)
class Parts:
    """What a link is made of, as far as another can do without it."""

    head: str
    segments: tuple[int, ...]
    cables: tuple[str, ...]
    items: tuple[str, ...]

    def without(self, other: "Parts", segment_ids: NDArray[np.object_]) -> tuple[str, ...]:
        """Return what another link does without: segments by id, else cables, else equipment, else the head."""
        segments = [s for s in dict.fromkeys(self.segments) if s not in other.segments]
        return (
            tuple(str(segment_ids[s]) for s in segments)
            or tuple(Counter(self.cables) - Counter(other.cables))
            or tuple(Counter(self.items) - Counter(other.items))
            or ((self.head,) if self.head != other.head else ())
        )


def parts(search: LinkSearch, found: Found) -> Parts:
    """Return what a link is made of."""
    stops = [item for stop in found.scheme.stops for item in stop.items]
    ends = [item for s in found.stretches for item in (*s.at_head, *s.at_camera, *s.items)]
    cables = tuple(cable for stretch in found.stretches for cable in stretch.variant.cables)
    return Parts(search.sites[found.site].id, found.segments, cables, (*ends, *stops))
