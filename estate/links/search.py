"""Candidate links: for every camera and recorder site the cheapest that stands, of every kind that matters."""

from bisect import insort
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from estate.links.assess import assess
from estate.links.camera import CameraFacts
from estate.links.conditions import stream_that_counts
from estate.links.found import Found
from estate.links.ground import Ground
from estate.links.judging import Laid, judged, quoted, stands
from estate.links.labels import Walk, cheapest_walks, least_overruns
from estate.links.reach import farthest_m
from estate.links.scheme_bounds import SchemeBounds
from estate.links.scheme_graph import SchemeGraph, Wanted, scheme_graph
from estate.links.schemes import Scheme, Stage, schemes, stage_variants
from estate.links.site import SiteFacts
from estate.links.stretch_options import StretchBook
from estate.links.variants import Variant

EXACTLY = 1e-6
"""How much too high a reach may be where it decides, as a share."""

ROUGHLY = 0.05
"""How much too high a reach may be where it only bounds a search, as a share."""

Kind = tuple[str, str, bool]
"""What the choice of recorders sees of a link: its port at the head, power taken from there, discouraged."""

Best = dict[tuple[int, Kind], Found]


@dataclass(frozen=True, slots=True)
class _Try:
    """A scheme that could serve a camera, with or without what the user discourages, and what that costs at least."""

    least: float
    number: int
    scheme: Scheme
    discouraged: bool
    is_loose: bool = False
    """Whether the cost is that of a looser search."""

    def order(self) -> tuple[float, int]:
        """The cheapest comes last, of equals the first."""
        return -self.least, -self.number


@dataclass
class LinkSearch(Ground):
    """Searches links on a ground."""

    designed: dict[str, Found] = field(default_factory=dict)
    """The links that were chosen, by the camera's id."""

    def __post_init__(self) -> None:
        super().__post_init__()
        self._reach: dict[tuple[object, ...], float] = {}
        self.book = StretchBook(self)
        self._bounds: dict[bool, SchemeBounds] = {}
        self.loose_least: dict[tuple[object, ...], float] = {}

    def _harder(self, **changes: Any) -> "LinkSearch":
        """Return the search with changes by which no link costs less than where all works are paid and nothing is taken.

        What links cost there at least holds here too; it is known once one of these searches is that one.
        """
        made = replace(self, designed={}, **changes)
        made.loose_least = self.loose_least
        return made

    @property
    def is_loosest(self) -> bool:
        """Whether no change of `_harder` could make a link cheaper."""
        return not (self.taken or self.closed or self.works.any() or self.cured)

    # One method, one length

    def reach_m(self, variant: Variant, camera: CameraFacts, site: SiteFacts) -> float:
        """Return a cable length beyond which something is outside, little above the least such length [m].

        -1 where a fact of the link itself is unknown or no length stands.
        """
        key = (variant, camera.kind, tuple(sorted(site.supplies.items())))
        if key not in self._reach:
            self._reach[key] = self.limit_m(variant, camera, site, ROUGHLY)
        return self._reach[key]

    def limit_m(
        self, variant: Variant, camera: CameraFacts, site: SiteFacts, resolution: float = 0.001
    ) -> float:
        """Return the cable length at which a link fails [m], high by less than the resolution (a share of it).

        Where nothing fails within the longest way that the estate has, that is returned; -1 where nothing stands.
        """
        conditions, longest_m = self.conditions(site), self.limits.longest_m
        _, fails_m = farthest_m(
            lambda length_m: assess(variant, camera, length_m, conditions), longest_m, resolution
        )
        return -1.0 if fails_m <= 1 else min(fails_m, longest_m)

    def single(self, variant: Variant, camera: int) -> Scheme:
        """Return the scheme of one stretch of a variant."""
        method = self.catalogue.methods[variant.method]
        signal = str(self.cameras[camera].signal)
        stage = Stage(variant.method, signal, variant.feed, method.at_head, method.at_camera)
        return Scheme(variant.method, (stage,))

    def on_way(
        self, site: int, camera: int, variant: Variant, nodes: tuple[int, ...], segments: tuple[int, ...]
    ) -> Found:
        """Return one stretch of a variant on a given way, judged."""
        laid = Laid(variant, nodes, segments)
        return judged(self, quoted(self, camera, site, self.single(variant, camera), [laid]))

    def with_works_paid(self, paid: Iterable[int] | None = None) -> "LinkSearch":
        """Return the same search as if proposed segments were made already: all of them, or those given."""
        made = np.flatnonzero(self.works).tolist() if paid is None else paid
        return self._harder(paid=self.paid | frozenset(made))

    def without_spares(self, taken: Iterable[str] | None = None) -> "LinkSearch":
        """Return the same search as if no installed cable were spare, or none of those given."""
        gone = (spare.id for spare in self.spares) if taken is None else taken
        return self._harder(taken=self.taken | frozenset(gone))

    def with_closed(self, segments: Iterable[int]) -> "LinkSearch":
        """Return the same search with segments where nothing new may lie."""
        return self._harder(closed=self.closed | frozenset(segments))

    # Search

    def bounds(self, *, with_verify: bool) -> SchemeBounds:
        """Return what schemes cost at least, with or without segments whose separation is to be established."""
        if with_verify not in self._bounds:
            self._bounds[with_verify] = SchemeBounds(self.book, with_verify)
        return self._bounds[with_verify]

    def candidates(
        self,
        wanted: Iterable[int],
        *,
        with_verify: bool,
        progress: Callable[[str], None],
        easier: Sequence[Found] | None = None,
        others: Sequence[Found] = (),
    ) -> list[Found]:
        """Return the links that stand for the wanted cameras, the best of its kind per camera and site.

        `with_verify` opens segments whose separation is still to be established. `easier` are all candidates of a
        search under which no link costs more: where one of them costs no more here, or none was found, nothing else
        is sought. `others` are links of other searches: what they cost here need not be matched.
        """
        cameras = [c for c in wanted if self.network.point_node[self.cameras[c].row] >= 0]
        known: dict[int, list[Found]] = defaultdict(list)
        elsewhere: dict[int, list[Found]] = defaultdict(list)
        for each in easier or ():
            known[each.site].append(each)
        for each in others:
            elsewhere[each.site].append(each)
        found: list[Found] = []
        for site in range(len(self.sites)):
            progress(f"links from {self.sites[site].id}")
            if self.sites[site].node >= 0:
                from_site = _FromSite(self, site, with_verify=with_verify)
                best = (
                    from_site.best(cameras)
                    if easier is None
                    else from_site.best_after(known[site], elsewhere[site])
                )
                found.extend(best[key] for key in sorted(best))
        return found

    def ways_to_join(self, site: int, camera: int, *, with_verify: bool) -> list[tuple[Scheme, bool]]:
        """Return the schemes that could serve a camera from a site, without and with what the user discourages."""
        from_site = _FromSite(self, site, with_verify=with_verify)
        return [(scheme, kind) for scheme in from_site.schemes(camera) for kind in from_site.passes(scheme)]

    def of_scheme(
        self, site: int, camera: int, scheme: Scheme, *, discouraged: bool, with_verify: bool
    ) -> Found | None:
        """Return the best link of one scheme from one site to one camera, None as the proof that none stands."""
        from_site = _FromSite(self, site, with_verify=with_verify)
        return from_site.of_scheme(scheme, camera, discouraged=discouraged)

    def nearest(self, site: int, cameras: Sequence[int]) -> list[tuple[int, Found, float]]:
        """Return for each camera and scheme with equipment on the way the link nearest to standing from one site.

        With it by how much its worst stretch passes its reach, as a share; 0 where something else fails.
        """
        return _FromSite(self, site, with_verify=True).nearest(cameras)

    def kind(self, found: Found) -> Kind:
        """Return what the choice of recorders sees of a link."""
        return kind_of(found.scheme, self, discouraged=found.discouraged)

    def rank(self, found: Found) -> tuple[float, float]:
        """Return what is made least: money as routes are preferred, or metres of new cable and then that money."""
        cost = found.own_cost + found.works_cost + self._preference(found)
        if self.settings.design.objective == "cable_length":
            return (round(found.new_cable_m, 9), round(cost, 9))
        return (round(cost, 9), round(found.new_cable_m, 9))

    def made_least(self, found: Found) -> float:
        """Return a link's cost as the search adds it up, metres and money in one."""
        cost = found.own_cost + found.works_cost + self._preference(found)
        return self.book.least(cost, found.new_cable_m)

    def _preference(self, found: Found) -> float:
        """Return by how much discouraged routes count as dearer, and preferred ones as cheaper."""
        total, made = 0.0, set[int]()
        for stretch in found.stretches:
            spared = {k for each in stretch.reused for k in range(each.first, each.beyond)}
            rules = self.rules(stretch.variant.cables)
            once = self.works + self.cure_money(stretch.variant.cables)
            for segment in (s for k, s in enumerate(stretch.segments) if k not in spared):
                works = once[segment] if segment in made else 0.0  # made once, however often passed
                share = rules.weight[segment] / rules.money[segment] - 1 if rules.money[segment] else 0.0
                total += float(share * (rules.money[segment] - works))
                made.add(segment)
        return total


def kind_of(scheme: Scheme, ground: Ground, *, discouraged: bool) -> Kind:
    """Return what the choice of recorders sees of a scheme's links."""
    first = scheme.stages[0]
    port = ground.catalogue.methods[first.method].delivers
    return port, first.feed if first.feed.startswith("poe") else "", discouraged


FREE = 1e-9
"""Money by which a link may differ between two searches and still be the same [currency]."""


def again(ground: Ground, found: Found) -> Found:
    """Return a link of another search of the same estate with its works priced as they are here: all else is the same."""
    laid = ((stretch.variant.cables, stretch.segments) for stretch in found.stretches)
    return replace(found, works_cost=ground.works_cost(laid))


class _FromSite:
    """The links from one site."""

    def __init__(self, search: LinkSearch, site: int, *, with_verify: bool) -> None:
        self.search, self.site, self.with_verify = search, site, with_verify
        self.bounds = search.bounds(with_verify=with_verify)

    def best(self, cameras: Sequence[int]) -> Best:
        """Return the best link of each kind to each camera.

        Schemes come in the order of what they cost at least; each is searched only for the cameras that it could
        still serve for less.
        """
        best: Best = {}
        self._improve(best, cameras, None)
        return best

    def best_after(self, easier: Sequence[Found], others: Sequence[Found]) -> Best:
        """Return the same, from the best links of a search under which no link costs more, and from others."""
        best: Best = {}
        open_: set[tuple[int, Kind]] = set()
        for each, is_least in (*((f, True) for f in easier), *((f, False) for f in others)):
            key = (each.camera, self._kind(each.scheme, discouraged=each.discouraged))
            if not self._allowed(each):
                open_.update([key] if is_least else [])
                continue
            here = again(self.search, each)
            if is_least and here.own_cost + here.works_cost > each.own_cost + each.works_cost + FREE:
                open_.add(key)
            if not stands(here, with_verify=self.with_verify):
                continue
            if key not in best or self.search.rank(here) < self.search.rank(best[key]):
                best[key] = here
        self._improve(best, sorted({camera for camera, _ in open_}), open_)
        return best

    def _allowed(self, found: Found) -> bool:
        """Whether a link found elsewhere may lie where it does in this search."""
        spares = {spare.id for spare in self.search.spares}
        return spares.issuperset(found.spares) and not self.search.closed & set(found.segments)

    def _improve(self, best: Best, cameras: Sequence[int], open_: set[tuple[int, Kind]] | None) -> None:
        """Put down what beats the best known, of the kinds that are open; None: all.

        Every camera tries the scheme that could cost it least, then the next, until none could beat what it has. What
        is known of the cost from a looser search is looked at again first.
        """
        left = self._by_least(cameras, open_)
        while left:
            rounds: dict[tuple[Scheme, bool, Kind], list[int]] = defaultdict(list)
            loose: dict[Scheme, list[tuple[int, Kind, _Try]]] = defaultdict(list)
            for (camera, kind), tries in list(left.items()):
                known = best.get((camera, kind))
                below = np.inf if known is None else self.search.made_least(known)
                if not tries or tries[-1].least >= below - FREE:
                    del left[camera, kind]
                    continue
                one = tries.pop()
                if one.is_loose:
                    loose[one.scheme].append((camera, kind, one))
                else:
                    rounds[one.scheme, one.discouraged, kind].append(camera)
            for scheme, waiting in loose.items():
                least = dict(self._least(scheme, sorted({camera for camera, _, _ in waiting})))
                for camera, kind, one in waiting:
                    if camera in least:
                        again_ = replace(one, least=least[camera], is_loose=False)
                        insort(left[camera, kind], again_, key=_Try.order)
            for (scheme, discouraged, kind), users in rounds.items():
                for group in self._groups(scheme, users):
                    self._search(scheme, group, kind, best, discouraged=discouraged)

    def _by_least(
        self, cameras: Sequence[int], open_: set[tuple[int, Kind]] | None
    ) -> dict[tuple[int, Kind], list["_Try"]]:
        """Return for each camera and kind the schemes that could serve it, the one that could cost least last."""
        left: dict[tuple[int, Kind], list[_Try]] = defaultdict(list)
        for number, (scheme, users) in enumerate(self._users(cameras).items()):
            for discouraged in self.passes(scheme):
                kind = self._kind(scheme, discouraged=discouraged)
                wanted = [c for c in users if open_ is None or (c, kind) in open_]
                loose = {c: known for c in wanted if (known := self._loosely(scheme, c)) is not None}
                for camera, least in self._least(scheme, [c for c in wanted if c not in loose]):
                    left[camera, kind].append(_Try(least, number, scheme, discouraged))
                for camera, least in loose.items():
                    if np.isfinite(least):
                        left[camera, kind].append(_Try(least, number, scheme, discouraged, is_loose=True))
        for tries in left.values():
            tries.sort(key=_Try.order)
        return dict(sorted(left.items()))

    def schemes(self, camera: int) -> list[Scheme]:
        """Return the schemes that could serve a camera."""
        return list(self._users([camera]))

    def of_scheme(self, scheme: Scheme, camera: int, *, discouraged: bool) -> Found | None:
        """Return the best link of one scheme to one camera."""
        best: Best = {}
        kind = self._kind(scheme, discouraged=discouraged)
        self._search(scheme, [camera], kind, best, discouraged=discouraged)
        return best.get((camera, kind))

    def _kind(self, scheme: Scheme, *, discouraged: bool) -> Kind:
        """Return what the choice of recorders sees of a scheme here: ports and power only where the site limits them."""
        points, row = self.search.survey.points, self.search.sites[self.site].row

        def limited(*columns: str) -> bool:
            return any(not np.isnan(float(points[column][row])) for column in columns)

        port, poe, _ = kind_of(scheme, self.search, discouraged=discouraged)
        by_port = limited("channels_analogue", "channels_network")
        by_power = self.search.sites[self.site].is_cabinet or limited("poe_ports", "poe_w")
        return port if by_port else "", poe if by_power else "", discouraged

    def nearest(self, cameras: Sequence[int]) -> list[tuple[int, Found, float]]:
        """Return the links with equipment on the way that are nearest to standing, with their overrun."""
        found = []
        for scheme, users in self._users(cameras).items():
            for group in self._groups(scheme, users) if scheme.stops else ():
                made = scheme_graph(
                    Wanted(self.search.book, scheme, self.site, tuple(group), self.with_verify)
                )
                if made is None:
                    continue
                misses = least_overruns(made.graph, made.start, made.targets, 0, others=False)
                for target, miss in enumerate(misses):
                    if miss is not None:
                        link = judged(self.search, made.found(target, miss.walk))
                        found.append((group[target], link, miss.overrun))
        return found

    def _users(self, cameras: Sequence[int]) -> dict[Scheme, list[int]]:
        """Return the schemes that could serve anyone, with whom."""
        search, users = self.search, defaultdict(list)
        alike: dict[tuple[object, ...], list[Scheme]] = {}
        for c in cameras:
            facts = search.cameras[c]
            key = (facts.signal, facts.feeds, facts.has_own_power, str(facts.volts))
            if key not in alike:
                head = search.sites[self.site].head
                alike[key] = [
                    scheme
                    for scheme in schemes(
                        facts, head, search.catalogue, search.settings.design, search.prices
                    )
                    if not search.sites[self.site].is_cabinet or self._from_cabinet(scheme)
                ]
            for scheme in alike[key]:
                users[scheme].append(c)
        return users

    def _from_cabinet(self, scheme: Scheme) -> bool:
        """Whether a scheme may begin at a cabinet's switch: one stretch, an extender, or an encoder beside it."""
        kinds = {self.search.catalogue.items[i].kind for stop in scheme.stops for i in stop.items}
        return not scheme.stops or scheme.extended or ("encoder" in kinds and len(scheme.stages) == 2)

    def passes(self, scheme: Scheme) -> Iterator[bool]:
        """Yield whether discouraged methods and cables are in: first without, then, if there are any here, with."""
        search = self.search
        named = {scheme.name, *(stage.method for stage in scheme.stages)}
        variants = [v for stage in scheme.stages for v in self._variants(stage)]
        if not any(search.is_discouraged(name, ()) for name in named):
            yield False
        if any(search.is_discouraged(v.method, v.cables) for v in variants) or search.is_discouraged(
            scheme.name, ()
        ):
            yield True

    def _variants(self, stage: Stage) -> list[Variant]:
        return stage_variants(stage, self.search.catalogue, self.search.settings.design)

    def _groups(self, scheme: Scheme, cameras: Sequence[int]) -> list[list[int]]:
        """Return cameras by how far their signal goes and by what their earths allow: one search serves each group."""
        groups = defaultdict(list)
        for c in cameras:
            groups[(*self._reaches(scheme, c), *self._earths(scheme, c))].append(c)
        return list(groups.values())

    def _stream(self, scheme: Scheme, facts: CameraFacts) -> float | None:
        methods = [stage.method for stage in scheme.stages]
        return stream_that_counts(facts, methods, self.search.catalogue)

    def _reaches(self, scheme: Scheme, camera: int) -> tuple[object, ...]:
        """Return what decides over how far a camera's signal goes, its loads apart where they don't matter."""
        search, facts = self.search, self.search.cameras[camera]
        mbps = self._stream(scheme, facts)
        if scheme.extended or not scheme.feed.startswith("poe"):
            return facts.signal, mbps
        cool, hot = search.conditions(None), search.conditions(None, hot=True)
        variants = self._variants(scheme.stages[-1])
        limits = [search.limits.length_m(v, facts, at, powered=True) for v in variants for at in (cool, hot)]
        return facts.signal, mbps, *limits

    def _earths(self, scheme: Scheme, camera: int) -> tuple[object, ...]:
        """Return what the earths allow of the stretch that ends at a camera, by where it begins."""
        search, stage, row = self.search, scheme.stages[-1], self.search.cameras[camera].row
        begins = [search.sites[self.site].row, *(search.stop_places if scheme.stops else ())]
        return tuple(
            search.earths.settled(v.cables, stage.feed, row, near, stage.signal)
            for v in self._variants(stage)
            for near in begins
        )

    # Bounds

    def _least(self, scheme: Scheme, cameras: Sequence[int]) -> Iterator[tuple[int, float]]:
        """Yield what a link of a scheme costs each camera at least, of those that one could reach."""
        search, alike = self.search, defaultdict(list)
        for c in cameras:
            facts = search.cameras[c]
            alike[facts.signal, self._stream(scheme, facts)].append(c)
        for group in alike.values():
            least = self.bounds.least(scheme, search.sites[self.site], [search.cameras[c] for c in group])
            if search.is_loosest:
                known = ((self._key(scheme, c), float(cost)) for c, cost in zip(group, least, strict=True))
                search.loose_least.update(known)
            yield from ((c, float(cost)) for c, cost in zip(group, least, strict=True) if np.isfinite(cost))

    def _loosely(self, scheme: Scheme, camera: int) -> float | None:
        """Return what a link costs at least in a looser search, None where that isn't known or is this search."""
        return None if self.search.is_loosest else self.search.loose_least.get(self._key(scheme, camera))

    def _key(self, scheme: Scheme, camera: int) -> tuple[object, ...]:
        return self.site, self.with_verify, scheme, camera

    # One scheme

    def _search(
        self, scheme: Scheme, cameras: Sequence[int], kind: Kind, best: Best, *, discouraged: bool
    ) -> None:
        """Put down the links of one scheme that beat what is known.

        A walk that takes a spare cable twice is sought again, with that cable counted.
        """
        search, once, left = self.search, frozenset[str](), tuple(cameras)
        while left:
            wanted = Wanted(
                search.book, scheme, self.site, left, self.with_verify, discouraged, tuple(sorted(once))
            )
            links = self._walked(wanted, [best.get((c, kind)) for c in left])
            twice = {c: spares for c, found in links.items() if (spares := taken_twice(found))}
            for c, found in links.items():
                if c not in twice and (
                    (c, kind) not in best or search.rank(found) < search.rank(best[c, kind])
                ):
                    best[c, kind] = found
            once, left = once.union(*twice.values()), tuple(twice)

    def _walked(self, wanted: Wanted, known: Sequence[Found | None]) -> dict[int, Found]:
        """Return the cheapest links of one search, of the cameras that have one cheaper than what is known."""
        made = scheme_graph(wanted)
        if made is None:
            return {}
        judge = _Judge(made, with_verify=self.with_verify)
        below = np.array([np.inf if k is None else self.search.made_least(k) for k in known])
        walks = cheapest_walks(made.graph, made.start, made.targets, judge.accepts, below)
        return {
            wanted.cameras[target]: judge.known[target]
            for target, walk in enumerate(walks)
            if walk is not None
        }


def taken_twice(found: Found) -> frozenset[str]:
    """Return the spare cables that a link takes more than once."""
    return frozenset(spare for spare, count in Counter(found.spares).items() if count > 1)


class _Judge:
    """Judges finished walks by every budget line."""

    def __init__(self, made: SchemeGraph, *, with_verify: bool) -> None:
        self.made, self.with_verify = made, with_verify
        self.known: dict[int, Found] = {}

    def accepts(self, target: int, walk: Walk) -> bool:
        """Whether the link that a walk is may be designed."""
        found = judged(self.made.wanted.book.ground, self.made.found(target, walk))
        self.known[target] = found
        return stands(found, with_verify=self.with_verify)
