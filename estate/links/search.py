"""Candidate links: for every camera and recorder site, the cheapest way of every method that stands."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.links.assess import assess
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions, cable_length_m
from estate.links.lines import verdict_of
from estate.links.link import BudgetLine
from estate.links.prices import PriceBook
from estate.links.separation import SegmentSeparation
from estate.links.site import SiteFacts
from estate.links.variants import Variant, variants
from estate.links.ways import WayRules, lay_rate, pull_rates, way_rules, works_money
from estate.network.network import Network
from estate.network.paths import PathGraph, Tree, matrix, tree, way
from estate.settings import Settings
from estate.survey.survey import Survey

Way = tuple[tuple[int, ...], tuple[int, ...]]
"""Node and segment indices from the head to the camera."""

Searched = tuple[PathGraph, Tree]

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
        self._rules: dict[tuple[str, ...], WayRules] = {}
        self._reach: dict[tuple[object, ...], float] = {}

    # Rules and conditions

    def rules(self, cables: tuple[str, ...]) -> WayRules:
        """Return where a set of cables may lie and at what cost."""
        if cables not in self._rules:
            self._rules[cables] = way_rules(
                self.network, cables, self.works, self.separation, self.catalogue, self.settings, self.prices
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

        Every budget line gets worse with length, so halving finds it. Where nothing fails within the longest way
        that the estate has, that is returned.
        """
        conditions = self.conditions(site, ())
        if verdict_of(assess(variant, camera, 1.0, conditions)) in (Verdict.VERIFY, Verdict.OUTSIDE):
            return -1.0
        low, high = 1.0, self._longest_m
        if verdict_of(assess(variant, camera, high, conditions)) is not Verdict.OUTSIDE:
            return high
        while high - low > resolution * high:
            middle = (low + high) / 2
            if verdict_of(assess(variant, camera, middle, conditions)) is Verdict.OUTSIDE:
                high = middle
            else:
                low = middle
        return high

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
        """Yield the best link of each kind (port, PoE feed, discouraged) from one site to each camera."""
        best: dict[tuple[int, str, str, bool], Found] = {}
        for cables, users in self._by_cables(site, cameras).items():
            for found in self._with_cables(site, cables, users, with_verify):
                port = self.catalogue.methods[found.variant.method].delivers
                feed = found.variant.feed if found.variant.feed.startswith("poe") else ""
                key = (found.camera, port, feed, found.discouraged)
                if key not in best or self._rank(found) < self._rank(best[key]):
                    best[key] = found
        yield from (best[key] for key in sorted(best))

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
                if self.reach_m(variant, self.cameras[camera], facts) > 0:
                    groups[variant.cables].append((camera, variant))
        return groups

    def _with_cables(
        self, site: int, cables: tuple[str, ...], users: list[tuple[int, Variant]], with_verify: bool
    ) -> Iterator[Found]:
        """Yield what stands with one set of cables: on the preferred way, else on the shortest."""
        rules = self.rules(cables)
        is_open = rules.open_with_verify if with_verify else rules.open
        facts = self.sites[site]
        limit_m = max(self.reach_m(variant, self.cameras[camera], facts) for camera, variant in users)
        shortest, cheapest = self._trees(facts.node, is_open, rules.weight, limit_m)
        trees = (
            [shortest, cheapest] if self.settings.design.objective == "cable_length" else [cheapest, shortest]
        )
        ways = [self._ways(each, [c for c, _ in users]) for each in trees]
        for camera, variant in users:
            for found_ways in ways:
                found = self.judged(site, camera, variant, found_ways.get(camera))
                if found is not None and self._stands(found, with_verify):
                    yield found
                    break

    def _trees(
        self, source: int, is_open: NDArray[np.bool_], weight: NDArray[np.float64], limit_m: float
    ) -> tuple[Searched, Searched]:
        """Return the trees of shortest and of preferred ways, both within the reach of the longest link."""
        network = self.network
        by_length = matrix(network, np.where(is_open, network.segment_length_m, np.inf))
        shortest = tree(by_length, source, limit_m)
        near = np.isfinite(shortest.distance)
        inside = is_open & near[network.segment_from] & near[network.segment_to]
        by_weight = matrix(network, np.where(inside, weight, np.inf))
        return (by_length, shortest), (by_weight, tree(by_weight, source))

    def _ways(self, searched: Searched, cameras: Iterable[int]) -> dict[int, Way]:
        """Return the way (nodes, segments) to each camera that a search reaches."""
        graph, found = searched
        nodes = {c: int(self.network.point_node[self.cameras[c].row]) for c in sorted(set(cameras))}
        return {c: way(graph, found, node) for c, node in nodes.items() if np.isfinite(found.distance[node])}

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

    def judged(self, site: int, camera: int, variant: Variant, found_way: Way | None) -> Found | None:
        """Assess one variant on one way."""
        if found_way is None:
            return None
        nodes, segments = found_way
        facts, place = self.cameras[camera], self.sites[site]
        lengths = self.settings.lengths
        way_m = float(self.network.segment_length_m[list(segments)].sum()) if segments else 0.0
        length_m = cable_length_m(way_m, facts.height_m + place.height_m, lengths)
        lines = assess(variant, facts, length_m, self.conditions(place, segments))
        separation = self._separation_lines(segments, variant)
        signal_m = length_m * len(variant.cables)
        discouraged = set(self.settings.design.discouraged)
        return Found(
            camera=camera,
            site=site,
            variant=variant,
            nodes=nodes,
            segments=segments,
            way_m=way_m,
            cable_length_m=length_m,
            lines=(*lines, *separation),
            own_cost=self._own_cost(variant, segments, length_m),
            works_cost=float(self.works[list(segments)].sum()) if segments else 0.0,
            new_cable_m=signal_m,
            discouraged=bool(discouraged & {variant.method, *variant.cables}),
        )

    def _separation_lines(self, segments: tuple[int, ...], variant: Variant) -> list[BudgetLine]:
        """Return the separation line of the cable that asks for most."""
        classes = [self.catalogue.cables[cable].separation_class for cable in variant.cables]
        informs = self.settings.design.proximity == "cost"
        lines = [self.separation.line(segments, c, informs) for c in dict.fromkeys(classes)]
        worst_first = [Verdict.OUTSIDE, Verdict.VERIFY, Verdict.MARGINAL, Verdict.WITHIN]
        known = sorted((x for x in lines if x is not None), key=lambda x: worst_first.index(x.verdict))
        return known[:1]

    def _own_cost(self, variant: Variant, segments: tuple[int, ...], length_m: float) -> float:
        """Money of a link's own cable, pulling, terminations and end equipment [currency]."""
        method = self.catalogue.methods[variant.method]
        cable_rate = lay_rate(variant.cables, self.prices, 0.0, self.settings.lengths.waste_percent)
        index = list(segments)
        pulled = float((self.network.segment_length_m[index] * self.pull[index]).sum()) if index else 0.0
        families = [self.catalogue.cables[cable].family for cable in variant.cables]
        ends = sum(2 * self.prices.rate("termination", family).value for family in families)
        items = sum(self.prices.rate("equipment", i).value for i in (*method.at_camera, *method.at_head))
        return length_m * cable_rate + len(families) * pulled + ends + items
