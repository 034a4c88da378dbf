"""Candidate links: for every camera and recorder site, the cheapest way of every method that stands."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.links.assess import assess
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions, cable_length_m
from estate.links.earths import Earths, with_items
from estate.links.lines import verdict_of
from estate.links.link import BudgetLine
from estate.links.prices import PriceBook
from estate.links.protectors import leaves_building, protectors
from estate.links.reach import farthest_m
from estate.links.separation import SegmentSeparation
from estate.links.site import SiteFacts
from estate.links.variants import Variant, variants
from estate.links.ways import WayRules, lay_rate, pull_rates, way_rules, works_money
from estate.links.within import Way, cheapest_within
from estate.network.network import Network
from estate.network.paths import PathGraph, Tree, matrix, tree, way
from estate.settings import Settings
from estate.survey.survey import Survey

Searched = tuple[PathGraph, Tree]

EXACTLY = 1e-6
"""How much too high a reach may be where it decides, as a share."""

ROUGHLY = 0.05
"""How much too high a reach may be where it only bounds a search, as a share."""


@dataclass(frozen=True, slots=True)
class Found:
    """A way of one variant from one site to one camera, with its budget lines and its own money."""

    camera: int
    site: int
    variant: Variant
    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    way_m: float
    cable_length_m: float
    lines: tuple[BudgetLine, ...]
    own_cost: float
    works_cost: float
    new_cable_m: float
    discouraged: bool
    inline: tuple[str, ...] = ()
    """Items in the link at the head: an isolator where a screen would join two earths."""
    protectors: tuple[str, ...] = ()
    """Surge protectors at each end, where copper leaves a building."""

    @property
    def verdict(self) -> Verdict:
        """Worst verdict of its lines."""
        return verdict_of(self.lines)


@dataclass
class LinkSearch:
    """What is searched: the network, the cameras and sites, and the rules. Caches hold per cable set."""

    network: Network
    survey: Survey
    catalogue: Catalogue
    prices: PriceBook
    separation: SegmentSeparation
    cameras: list[CameraFacts]
    sites: list[SiteFacts]

    def __post_init__(self) -> None:
        self.settings: Settings = self.survey.settings
        self.works: NDArray[np.float64] = works_money(self.network, self.survey, self.prices)
        self.pull: NDArray[np.float64] = pull_rates(self.network, self.prices)
        heights_m = sum(camera.height_m for camera in self.cameras) + sum(
            site.height_m for site in self.sites
        )
        every_m = float(self.network.segment_length_m.sum())
        self._longest_m = cable_length_m(every_m, heights_m, self.settings.lengths) + 1.0
        self.earths = Earths(self.survey, self.network, self.catalogue)
        self._joining = self.earths.barred()
        self._rules: dict[tuple[str, ...], WayRules] = {}
        self._reach: dict[tuple[object, ...], float] = {}

    # Rules and conditions

    def rules(self, cables: tuple[str, ...]) -> WayRules:
        """Return where a set of cables may lie and at what cost."""
        if cables not in self._rules:
            rules = way_rules(
                self.network, cables, self.works, self.separation, self.catalogue, self.settings, self.prices
            )
            free = ~self._joining
            self._rules[cables] = replace(
                rules, open=rules.open & free, open_with_verify=rules.open_with_verify & free
            )
        return self._rules[cables]

    def conditions(self, site: SiteFacts, segments: tuple[int, ...]) -> Conditions:
        """Return what a way from a site is judged by: aerial stretches are taken as hot."""
        limits = self.settings.limits
        ambient_c = limits.ambient_c
        if any(self.network.segment_environment[s] == "aerial" for s in segments):
            ambient_c = max(ambient_c, float(self.catalogue.rules["ambient"]["aerial_c"].value))
        return Conditions(self.catalogue, limits, self.settings.lengths, ambient_c, site.supplies)

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
        conditions = self.conditions(site, ())
        _, fails_m = farthest_m(
            lambda length_m: assess(variant, camera, length_m, conditions), self._longest_m, resolution
        )
        return -1.0 if fails_m <= 1 else min(fails_m, self._longest_m)

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
        )
        paid.works = np.zeros(self.network.segments)
        return paid

    # Search

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
                found.extend(self._from_site(site, cameras, with_verify))
        return found

    def _from_site(self, site: int, cameras: list[int], with_verify: bool) -> Iterator[Found]:
        """Yield the best link of each kind (port, PoE feed, discouraged) from one site to each camera.

        Cheap cables come first, and a way is judged only where it would beat what already stands.
        """
        best: dict[tuple[int, str, str, bool], Found] = {}
        groups = self._by_cables(site, cameras)
        graphs = self._length_trees(site, groups, with_verify)
        for cables in sorted(groups, key=self._lay_rate):
            shortest = graphs[self._open(cables, with_verify).tobytes()]
            users = [u for u in groups[cables] if self._within_reach(site, *u, shortest[1])]
            if users:
                self._with_cables(site, cables, users, shortest, best, with_verify)
        yield from (best[key] for key in sorted(best))

    def _with_cables(
        self,
        site: int,
        cables: tuple[str, ...],
        users: list[tuple[int, Variant]],
        shortest: Searched,
        best: dict[tuple[int, str, str, bool], Found],
        with_verify: bool,
    ) -> None:
        """Put down what stands with one set of cables and beats what is known.

        The way of least weight is tried first; where it is too long, the one of least weight within the length at
        which the variant fails; last the shortest, which stands if any does.
        """
        open_segments = self._open(cables, with_verify)
        weight = self._weight_within(cables, open_segments, shortest[1])
        graph = matrix(self.network, weight)
        lightest = (graph, tree(graph, self.sites[site].node))
        first, second = lightest, shortest
        by_length = self.settings.design.objective == "cable_length"
        if by_length:
            first, second = shortest, lightest
        left = self._put_down(site, users, self._ways(first, users), best, with_verify)
        if left and not by_length:
            left = self._put_down(site, left, self._ways_within(site, left, weight), best, with_verify)
        if left:
            self._put_down(site, left, self._ways(second, left), best, with_verify)

    def _weight_within(
        self, cables: tuple[str, ...], open_segments: NDArray[np.bool_], shortest: Tree
    ) -> NDArray[np.float64]:
        """Return the weight of every segment that the longest link could use, inf elsewhere."""
        near = np.isfinite(shortest.distance)
        inside = open_segments & near[self.network.segment_from] & near[self.network.segment_to]
        return np.where(inside, self.rules(cables).weight, np.inf)

    def _ways(self, searched: Searched, users: list[tuple[int, Variant]]) -> list[Way | None]:
        """Return the way that a tree gives for each user."""
        graph, found = searched
        nodes = [int(self.network.point_node[self.cameras[camera].row]) for camera, _ in users]
        ways = {n: way(graph, found, n) for n in sorted(set(nodes)) if np.isfinite(found.distance[n])}
        return [ways.get(node) for node in nodes]

    def _ways_within(
        self, site: int, users: list[tuple[int, Variant]], weight: NDArray[np.float64]
    ) -> list[Way | None]:
        """Return the way of least weight that is short enough for each user."""
        nodes = [int(self.network.point_node[self.cameras[camera].row]) for camera, _ in users]
        limits_m = [self._way_limit_m(site, camera, variant) for camera, variant in users]
        return cheapest_within(self.network, weight, self.sites[site].node, nodes, limits_m)

    def _way_limit_m(self, site: int, camera: int, variant: Variant) -> float:
        """Return the length of way at which a variant fails [m]."""
        facts, place, lengths = self.cameras[camera], self.sites[site], self.settings.lengths
        cable_m = self.limit_m(variant, facts, place, EXACTLY)
        way_m = (cable_m - 2 * lengths.end_m) / (1 + lengths.slack_percent / 100)
        return max(way_m - facts.height_m - place.height_m, 0.0)

    def _put_down(
        self,
        site: int,
        users: list[tuple[int, Variant]],
        ways: list[Way | None],
        best: dict[tuple[int, str, str, bool], Found],
        with_verify: bool,
    ) -> list[tuple[int, Variant]]:
        """Judge one way per user and keep what stands; return the users whose way doesn't stand.

        A user whose way costs no less than what is known is done: every other way of its cables weighs more.
        """
        left = []
        for (camera, variant), found_way in zip(users, ways, strict=True):
            if found_way is None:
                continue
            key = (camera, *self._kind(variant))
            quote = self.quoted(site, camera, variant, found_way)
            if key in best and self._rank(quote) >= self._rank(best[key]):
                continue
            if quote.cable_length_m > self.reach_m(variant, self.cameras[camera], self.sites[site]):
                left.append((camera, variant))
                continue
            found = self.judged(quote)
            if self._stands(found, with_verify):
                best[key] = found
            else:
                left.append((camera, variant))
        return left

    def _within_reach(self, site: int, camera: int, variant: Variant, shortest: Tree) -> bool:
        """Whether the shortest way there is could be short enough."""
        facts, place = self.cameras[camera], self.sites[site]
        way_m = float(shortest.distance[self.network.point_node[facts.row]])
        length_m = cable_length_m(way_m, facts.height_m + place.height_m, self.settings.lengths)
        return length_m <= self.reach_m(variant, facts, place)

    def _kind(self, variant: Variant) -> tuple[str, str, bool]:
        """Return what the choice of recorders sees of a variant: port, PoE feed, discouraged."""
        port = self.catalogue.methods[variant.method].delivers
        return port, variant.feed if variant.feed.startswith("poe") else "", self._is_discouraged(variant)

    def _is_discouraged(self, variant: Variant) -> bool:
        return bool(set(self.settings.design.discouraged) & {variant.method, *variant.cables})

    def _lay_rate(self, cables: tuple[str, ...]) -> float:
        return lay_rate(cables, self.prices, 0.0, 0.0)

    def _rank(self, found: Found) -> tuple[float, ...]:
        cost = found.own_cost + found.works_cost
        if self.settings.design.objective == "cable_length":
            return (round(found.new_cable_m, 9), round(cost, 9))
        return (round(cost, 9), round(found.new_cable_m, 9))

    def _by_cables(self, site: int, cameras: list[int]) -> dict[tuple[str, ...], list[tuple[int, Variant]]]:
        """Group the variants that match and reach anywhere by their cables: one search serves each group."""
        groups: dict[tuple[str, ...], list[tuple[int, Variant]]] = defaultdict(list)
        facts = self.sites[site]
        for camera in cameras:
            for variant in variants(self.cameras[camera], facts.head, self.catalogue, self.settings.design):
                stands = self.reach_m(variant, self.cameras[camera], facts) > 0
                if stands and self.earths.may_stand(*self._ends(site, camera, variant)):
                    groups[variant.cables].append((camera, variant))
        return groups

    def _open(self, cables: tuple[str, ...], with_verify: bool) -> NDArray[np.bool_]:
        rules = self.rules(cables)
        return rules.open_with_verify if with_verify else rules.open

    def _length_trees(
        self, site: int, groups: dict[tuple[str, ...], list[tuple[int, Variant]]], with_verify: bool
    ) -> dict[bytes, Searched]:
        """Return the tree of shortest ways for every set of open segments, within the longest reach there."""
        reach: dict[bytes, float] = {}
        facts, network = self.sites[site], self.network
        for cables, users in groups.items():
            mask = self._open(cables, with_verify).tobytes()
            longest_m = max(self.reach_m(variant, self.cameras[camera], facts) for camera, variant in users)
            reach[mask] = max(reach.get(mask, 0.0), longest_m)
        trees = {}
        for mask, limit_m in reach.items():
            is_open = np.frombuffer(mask, dtype=bool)
            graph = matrix(network, np.where(is_open, network.segment_length_m, np.inf))
            trees[mask] = (graph, tree(graph, facts.node, limit_m))
        return trees

    def _stands(self, found: Found, with_verify: bool) -> bool:
        """Whether a link may be designed: nothing outside; to be verified only what is a fact of the site."""
        allowed = {Verdict.WITHIN, Verdict.MARGINAL}
        for line in found.lines:
            if line.informs or line.verdict in allowed:
                continue
            if line.quantity == "separation" and line.verdict is Verdict.VERIFY and with_verify:
                continue
            return False
        return True

    def quoted(self, site: int, camera: int, variant: Variant, found_way: Way) -> Found:
        """Return one variant on one way with its length and its money, not judged yet."""
        nodes, segments = found_way
        facts, place = self.cameras[camera], self.sites[site]
        inline = self.earths.inline(*self._ends(site, camera, variant))
        leaves = leaves_building(self.survey, self.network, segments)
        protect = protectors(variant, str(facts.signal), self.catalogue)[0] if leaves else ()
        index = list(segments)
        way_m = float(self.network.segment_length_m[index].sum()) if index else 0.0
        length_m = cable_length_m(way_m, facts.height_m + place.height_m, self.settings.lengths)
        return Found(
            camera=camera,
            site=site,
            variant=variant,
            nodes=nodes,
            segments=segments,
            way_m=way_m,
            cable_length_m=length_m,
            lines=(),
            own_cost=self._own_cost(variant, segments, length_m, (*inline, *protect, *protect)),
            works_cost=float(self.works[index].sum()) if index else 0.0,
            new_cable_m=length_m * len(variant.cables),
            discouraged=self._is_discouraged(variant),
            inline=inline,
            protectors=protect,
        )

    def judged(self, quote: Found) -> Found:
        """Return a quoted link with its budget lines."""
        facts, place = self.cameras[quote.camera], self.sites[quote.site]
        conditions = self.conditions(place, quote.segments)
        lines = assess(quote.variant, facts, quote.cable_length_m, conditions)
        items = (*quote.inline, *quote.protectors, *quote.protectors)
        if items:
            lines = tuple(with_items(lines, items, self.catalogue, self.settings.limits))
        cables, feed, camera_row, head_row, _ = self._ends(quote.site, quote.camera, quote.variant)
        earths = self.earths.line(
            cables, feed, camera_row, head_row, quote.segments, isolated=bool(quote.inline)
        )
        near_mains = self._separation_lines(quote.segments, quote.variant)
        return replace(quote, lines=(*lines, *near_mains, *([earths] if earths is not None else [])))

    def _ends(self, site: int, camera: int, variant: Variant) -> tuple[tuple[str, ...], str, int, int, str]:
        """Return what decides how a link stands between earths: cables, feed, both rows of points, signal."""
        facts = self.cameras[camera]
        return variant.cables, variant.feed, facts.row, self.sites[site].row, str(facts.signal)

    def _separation_lines(self, segments: tuple[int, ...], variant: Variant) -> list[BudgetLine]:
        """Return the separation line of the cable that asks for most."""
        classes = [self.catalogue.cables[cable].separation_class for cable in variant.cables]
        informs = self.settings.design.proximity == "cost"
        lines = [self.separation.line(segments, c, informs) for c in dict.fromkeys(classes)]
        worst_first = [Verdict.OUTSIDE, Verdict.VERIFY, Verdict.MARGINAL, Verdict.WITHIN]
        known = sorted((x for x in lines if x is not None), key=lambda x: worst_first.index(x.verdict))
        return known[:1]

    def _own_cost(
        self, variant: Variant, segments: tuple[int, ...], length_m: float, inline: tuple[str, ...]
    ) -> float:
        """Money of a link's own cable, pulling, terminations and end equipment [currency]."""
        method = self.catalogue.methods[variant.method]
        cable_rate = lay_rate(variant.cables, self.prices, 0.0, self.settings.lengths.waste_percent)
        index = list(segments)
        pulled = float((self.network.segment_length_m[index] * self.pull[index]).sum()) if index else 0.0
        families = [self.catalogue.cables[cable].family for cable in variant.cables]
        ends = sum(2 * self.prices.rate("termination", family).value for family in families)
        items = sum(
            self.prices.rate("equipment", i).value for i in (*method.at_camera, *method.at_head, *inline)
        )
        return length_m * cable_rate + len(families) * pulled + ends + items
