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
from estate.links.reach import farthest_m
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
    inline: tuple[str, ...] = ()
    """Items in the link at the head: an isolator where a screen would join two earths."""

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

        Where nothing fails within the longest way that the estate has, that is returned; -1 where nothing stands.
        """
        conditions = self.conditions(site, ())
        _, fails_m = farthest_m(
            lambda length_m: assess(variant, camera, length_m, conditions), self._longest_m, resolution
        )
        return -1.0 if fails_m <= 1 else min(fails_m, self._longest_m)

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
            trees = self._trees(site, cables, graphs, with_verify)
            shortest = graphs[self._open(cables, with_verify).tobytes()][1]
            ways: list[dict[int, Way]] = [{} for _ in trees]
            for camera, variant in groups[cables]:
                if not self._within_reach(site, camera, variant, shortest):
                    continue
                key = (camera, *self._kind(variant))
                for searched, known in zip(trees, ways, strict=True):
                    found = self._better(site, camera, variant, searched, known, best.get(key))
                    if found is not None and self._stands(found, with_verify):
                        best[key] = found
                        break
        yield from (best[key] for key in sorted(best))

    def _within_reach(self, site: int, camera: int, variant: Variant, shortest: Tree) -> bool:
        """Whether the shortest way there is could be short enough."""
        facts, place = self.cameras[camera], self.sites[site]
        way_m = float(shortest.distance[self.network.point_node[facts.row]])
        length_m = cable_length_m(way_m, facts.height_m + place.height_m, self.settings.lengths)
        return length_m <= self.reach_m(variant, facts, place)

    def _better(
        self,
        site: int,
        camera: int,
        variant: Variant,
        searched: Searched,
        known: dict[int, Way],
        best: Found | None,
    ) -> Found | None:
        """Return a link on the way that a tree gives, None where there is none or another is better already."""
        graph, found = searched
        node = int(self.network.point_node[self.cameras[camera].row])
        if not np.isfinite(found.distance[node]):
            return None
        if camera not in known:
            known[camera] = way(graph, found, node)
        quote = self.quoted(site, camera, variant, known[camera])
        if best is not None and self._rank(quote) >= self._rank(best):
            return None
        if quote.cable_length_m > self.reach_m(variant, self.cameras[camera], self.sites[site]):
            return None
        return self.judged(quote)

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

    def _trees(
        self, site: int, cables: tuple[str, ...], shortest: dict[bytes, Searched], with_verify: bool
    ) -> list[Searched]:
        """Return the trees of one set of cables in the order they are tried: what the objective prefers first."""
        is_open = self._open(cables, with_verify)
        by_length = shortest[is_open.tobytes()]
        network = self.network
        near = np.isfinite(by_length[1].distance)
        inside = is_open & near[network.segment_from] & near[network.segment_to]
        graph = matrix(network, np.where(inside, self.rules(cables).weight, np.inf))
        by_weight = (graph, tree(graph, self.sites[site].node))
        shortest_first = self.settings.design.objective == "cable_length"
        return [by_length, by_weight] if shortest_first else [by_weight, by_length]

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
            own_cost=self._own_cost(variant, segments, length_m, inline),
            works_cost=float(self.works[index].sum()) if index else 0.0,
            new_cable_m=length_m * len(variant.cables),
            discouraged=self._is_discouraged(variant),
            inline=inline,
        )

    def judged(self, quote: Found) -> Found:
        """Return a quoted link with its budget lines."""
        facts, place = self.cameras[quote.camera], self.sites[quote.site]
        conditions = self.conditions(place, quote.segments)
        lines = assess(quote.variant, facts, quote.cable_length_m, conditions)
        if quote.inline:
            lines = tuple(with_items(lines, quote.inline, self.catalogue, self.settings.limits))
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
