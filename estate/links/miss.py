"""Why a camera has no link: per method, the check it comes nearest to passing, in words."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from estate.findings import Action, Verdict
from estate.links.lines import governing, in_words
from estate.links.link import BudgetLine
from estate.links.search import Found, LinkSearch
from estate.links.variants import Variant, mismatch, usable_methods, variants
from estate.links.ways import barred_by_place
from estate.network.paths import matrix, tree, way

STRETCH = ("fixed part", "channel", "reach", "loss", "fibre loss", "fibre reach")
"""Quantities that a repeater mends."""


@dataclass(frozen=True, slots=True)
class Miss:
    """The nearest miss of one method for one camera.

    `excess` is how far its worst line is over the limit, as a share of the limit; infinite where the
    method doesn't match or no way joins the two.
    """

    method: str
    text: str
    excess: float
    line: BudgetLine | None = None
    found: Found | None = None

    @property
    def action(self) -> Action:
        """What would mend it."""
        if self.line is None:
            return Action.CONNECT
        if self.line.verdict is Verdict.VERIFY:
            return Action.SURVEY
        if self.line.quantity == "separation":
            return Action.RELOCATE
        return Action.REPEATER if self.line.quantity in STRETCH else Action.CONVERT


def nearest_misses(search: LinkSearch, camera: int) -> list[Miss]:
    """Return one miss per method a design may use, the nearest first; empty where there is no recorder site."""
    facts = search.cameras[camera]
    if facts.signal is None:
        return [Miss("", "the camera's signal is not known", np.inf)]
    if search.network.point_node[facts.row] < 0:
        return [Miss("", "the camera joins no route", np.inf)]
    best: dict[str, Miss] = {}
    for site in range(len(search.sites)):
        for miss in _at_site(search, camera, site):
            if miss.method not in best or miss.excess < best[miss.method].excess:
                best[miss.method] = miss
    order = {
        method.id: k for k, method in enumerate(usable_methods(search.catalogue, search.settings.design))
    }
    return sorted(best.values(), key=lambda m: (m.excess, order[m.method]))


def miss_in_words(misses: list[Miss]) -> str:
    """Say in one line why a camera has no link; methods that don't match are told only if none does."""
    near = [miss for miss in misses if np.isfinite(miss.excess)]
    if not near:
        near = misses
    return "; ".join(f"{miss.method}: {miss.text}" if miss.method else miss.text for miss in near)


def _at_site(search: LinkSearch, camera: int, site: int) -> Iterator[Miss]:
    """Yield the miss of every method at one site."""
    facts, place = search.cameras[camera], search.sites[site]
    signal = search.catalogue.signals[str(facts.signal)]
    for method in usable_methods(search.catalogue, search.settings.design):
        reason = mismatch(method, facts, place.head, signal)
        if reason:
            yield Miss(method.id, reason, np.inf)
    for variant in variants(facts, place.head, search.catalogue, search.settings.design):
        yield _of_variant(search, camera, site, variant)


def _of_variant(search: LinkSearch, camera: int, site: int, variant: Variant) -> Miss:
    """Return the miss of one variant on its shortest way."""
    node = int(search.network.point_node[search.cameras[camera].row])
    source = search.sites[site].node
    if source < 0:
        return Miss(variant.method, f"recorder {search.sites[site].id} joins no route", np.inf)
    barred = barred_by_place(search.network, variant.cables, search.catalogue)
    length_m = search.network.segment_length_m
    open_graph, any_graph = (
        matrix(search.network, w) for w in (np.where(barred, np.inf, length_m), length_m)
    )
    open_tree = tree(open_graph, source)
    if np.isfinite(open_tree.distance[node]):
        found = search.judged(site, camera, variant, way(open_graph, open_tree, node))
        assert found is not None
        return _worst_line(found)
    any_tree = tree(any_graph, source)
    if not np.isfinite(any_tree.distance[node]):
        return Miss(variant.method, f"no route joins the camera to recorder {search.sites[site].id}", np.inf)
    _, segments = way(any_graph, any_tree, node)
    first = next(s for s in segments if barred[s])
    where = f"{search.network.segment_id[first]} ({search.network.segment_environment[first]})"
    return Miss(variant.method, f"{' with '.join(variant.cables)} may not lie in {where}", 1e6)


def _worst_line(found: Found) -> Miss:
    """Return the line of a link that is farthest over its limit."""
    failing = [line for line in governing(found.lines) if line.verdict in (Verdict.OUTSIDE, Verdict.VERIFY)]
    if not failing:
        return Miss(found.variant.method, "stands alone, but no recorder has room for it", 0.0, None, found)
    worst = max(failing, key=_excess)
    return Miss(found.variant.method, in_words(worst), _excess(worst), worst, found)


def _excess(line: BudgetLine) -> float:
    """How far a line is from passing, as a share of its limit."""
    if line.verdict is Verdict.VERIFY:
        return 1e-6
    if np.isnan(line.value) or np.isnan(line.limit) or line.limit == 0:
        return 1e3
    return abs(line.value - line.limit) / abs(line.limit)
