"""Candidate links: for every camera and recorder site the cheapest that stands, of every kind that matters."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from estate.links.assess import assess
from estate.links.camera import CameraFacts
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

    def with_works_paid(self) -> "LinkSearch":
        """Return the same search as if every proposed route were made already."""
        paid = LinkSearch(
            self.network,
            self.survey,
            self.catalogue,
            self.prices,
            self.separation,
            self.cameras,
            self.sites,
            self.powered_at_cost,
        )
        paid.works = np.zeros(self.network.segments)
        paid.limits = self.limits
        return paid

    # Search

    def bounds(self, *, with_verify: bool) -> SchemeBounds:
        """Return what schemes cost at least, with or without segments whose separation is to be established."""
        if with_verify not in self._bounds:
            self._bounds[with_verify] = SchemeBounds(self.book, with_verify)
        return self._bounds[with_verify]

    def candidates(
        self, wanted: Iterable[int], *, with_verify: bool, progress: Callable[[str], None]
    ) -> list[Found]:
        """Return the links that stand for the wanted cameras, the best of its kind per camera and site.

        `with_verify` opens segments whose separation is still to be established.
        """
        cameras = [c for c in wanted if self.network.point_node[self.cameras[c].row] >= 0]
        found: list[Found] = []
        for site in range(len(self.sites)):
            progress(f"links from {self.sites[site].id}")
            if self.sites[site].node >= 0:
                best = _FromSite(self, site, with_verify=with_verify).best(cameras)
                found.extend(best[key] for key in sorted(best))
        return found

    def per_scheme(self, camera: int, *, with_verify: bool) -> list[Found]:
        """Return the best link of every scheme from every site to one camera, the cheapest first."""
        found: list[Found] = []
        if self.network.point_node[self.cameras[camera].row] < 0:
            return found
        for site in range(len(self.sites)):
            if self.sites[site].node >= 0:
                from_site = _FromSite(self, site, with_verify=with_verify)
                found += from_site.every_scheme(camera)
        return sorted(found, key=lambda f: (self.rank(f), f.site, f.scheme.name, f.scheme.feed))

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

    def _preference(self, found: Found) -> float:
        """Return by how much discouraged routes count as dearer, and preferred ones as cheaper."""
        total = 0.0
        for stretch in found.stretches:
            spared = {k for each in stretch.reused for k in range(each.first, each.beyond)}
            new = [s for k, s in enumerate(stretch.segments) if k not in spared]
            rules = self.rules(stretch.variant.cables)
            total += float((rules.weight[new] - rules.money[new]).sum()) if new else 0.0
        return total


def kind_of(scheme: Scheme, ground: Ground, *, discouraged: bool) -> Kind:
    """Return what the choice of recorders sees of a scheme's links."""
    first = scheme.stages[0]
    port = ground.catalogue.methods[first.method].delivers
    return port, first.feed if first.feed.startswith("poe") else "", discouraged


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
        users = self._users(cameras)
        for scheme in sorted(users, key=lambda s: (len(s.stages), self.bounds.floor(s))):
            for discouraged in self._passes(scheme):
                kind = self._kind(scheme, discouraged=discouraged)
                hopeful = self._hopeful(scheme, users[scheme], kind, best)
                for group in self._groups(scheme, hopeful):
                    self._search(scheme, group, kind, best, discouraged=discouraged)
        return best

    def every_scheme(self, camera: int) -> list[Found]:
        """Return the best link of each scheme to one camera."""
        found: list[Found] = []
        for scheme in self._users([camera]):
            best: Best = {}
            for discouraged in self._passes(scheme):
                kind = self._kind(scheme, discouraged=discouraged)
                self._search(scheme, [camera], kind, best, discouraged=discouraged)
            found += best.values()
        return found

    def _kind(self, scheme: Scheme, *, discouraged: bool) -> Kind:
        """Return what the choice of recorders sees of a scheme here: ports and power only where the site limits them."""
        points, row = self.search.survey.points, self.search.sites[self.site].row

        def limited(*columns: str) -> bool:
            return any(not np.isnan(float(points[column][row])) for column in columns)

        port, poe, _ = kind_of(scheme, self.search, discouraged=discouraged)
        by_port = limited("channels_analogue", "channels_network")
        return port if by_port else "", poe if limited("poe_ports", "poe_w") else "", discouraged

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
                alike[key] = schemes(facts, head, search.catalogue, search.settings.design)
            for scheme in alike[key]:
                users[scheme].append(c)
        return users

    def _passes(self, scheme: Scheme) -> Iterator[bool]:
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

    def _reaches(self, scheme: Scheme, camera: int) -> tuple[object, ...]:
        """Return what decides over how far a camera's signal goes, its loads apart where they don't matter."""
        search, facts = self.search, self.search.cameras[camera]
        mbps = None if np.isnan(facts.mbps) else facts.mbps
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

    def _hopeful(self, scheme: Scheme, cameras: Sequence[int], kind: Kind, best: Best) -> list[int]:
        """Return the cameras that a scheme could serve for less than is known, as far as shortest ways tell."""
        search, alike = self.search, defaultdict(list)
        for c in cameras:
            facts = search.cameras[c]
            alike[facts.signal, None if np.isnan(facts.mbps) else facts.mbps].append(c)
        found = []
        for group in alike.values():
            least = self.bounds.least(scheme, search.sites[self.site], [search.cameras[c] for c in group])
            for c, cost in zip(group, least, strict=True):
                known = best.get((c, kind))
                if np.isfinite(cost) and (known is None or cost < search.rank(known)[0]):
                    found.append(c)
        return sorted(found)

    # One scheme

    def _search(
        self, scheme: Scheme, cameras: Sequence[int], kind: Kind, best: Best, *, discouraged: bool
    ) -> None:
        """Put down the links of one scheme that beat what is known."""
        search = self.search
        wanted = Wanted(search.book, scheme, self.site, tuple(cameras), self.with_verify, discouraged)
        made = scheme_graph(wanted)
        if made is None:
            return
        judge = _Judge(made, with_verify=self.with_verify)
        known = [best.get((c, kind)) for c in cameras]
        below = np.array([np.inf if k is None else search.rank(k)[0] for k in known])
        walks = cheapest_walks(made.graph, made.start, made.targets, judge.accepts, below)
        for target, walk in enumerate(walks):
            if walk is None:
                continue
            found, key = judge.known[target], (cameras[target], kind)
            if key not in best or search.rank(found) < search.rank(best[key]):
                best[key] = found


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
