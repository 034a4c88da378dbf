"""The link search against a second opinion that looks at everything, on random small estates.

Each estate is written to disk and read as a user's would be. Its few nodes leave nothing out that matters: spurs to
equipment, parallel ways, proposed ways, unfit and forbidden ones, spare cables, two earths.
"""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pytest

from estate import workflow
from estate.links.camera import camera_facts
from estate.links.found import Reuse
from estate.links.judging import Laid, judged, quoted, stands
from estate.links.prices import PriceBook
from estate.links.schemes import schemes
from estate.links.search import LinkSearch
from estate.links.site import recorder_sites
from estate.links.variants import Variant
from tests.estates import write_estate
from tests.link_oracle import Best, Oracle
from tests.oracle_walks import Rows
from tests.small_estates import random_estate


@dataclass
class Compared:
    """What two opinions on one estate came to."""

    counts: Counter = field(default_factory=Counter)
    differences: list[str] = field(default_factory=list)


def prepared(folder, rows: Rows) -> LinkSearch:
    checked = workflow.prepare(write_estate(folder, rows.toml, **rows.layers()))
    survey, catalogue, network = checked.survey, checked.catalogue, checked.network
    return LinkSearch(
        network,
        survey,
        catalogue,
        PriceBook(survey.settings.prices, catalogue.rates),
        checked.separation,
        camera_facts(survey.points),
        recorder_sites(survey, network, catalogue),
    )


def oracle_of(rows: Rows, search: LinkSearch, **more) -> Oracle:
    lengths = search.settings.lengths
    for row in rows.cables:
        drawn_m = row["_way_m"] * (1 + lengths.slack_percent / 100) + 2 * lengths.end_m
        row["_cable_m"] = float(row["_measured"] or drawn_m)
    return Oracle(rows, search.catalogue, search.settings, **more)


def silent(_stage: str) -> None:
    pass


def compared(folder, seed: int, *, thorough: bool = False) -> Compared:
    """Search the links of an estate and look at all of them."""
    rows = random_estate(seed)
    search = prepared(folder, rows)
    oracle = oracle_of(rows, search, thorough=thorough)
    found = Compared()
    assert search.network.segments == len(rows.routes)
    assert search.network.nodes == len(rows.points)
    found.counts["estates"] += 1
    for c, camera in enumerate(search.cameras):
        given = search.candidates([c], with_verify=False, progress=silent)
        each = search.per_scheme(c, with_verify=False)
        for s, site in enumerate(search.sites):
            offered = schemes(camera, site.head, search.catalogue, search.settings.design)
            pair = _Pair(search, oracle, c, s, seed, found)
            pair.compare(offered, [f for f in given if f.site == s], [f for f in each if f.site == s])
    return found


class _Pair:
    """One camera and one recorder."""

    def __init__(self, search, oracle, camera: int, site: int, seed: int, found: Compared):
        self.search, self.oracle, self.c, self.s, self.seed, self.out = (
            search,
            oracle,
            camera,
            site,
            seed,
            found,
        )
        self.camera = oracle.point[search.cameras[camera].id]
        self.site = oracle.point[search.sites[site].id]
        self.by_length = search.settings.design.objective == "cable_length"

    def compare(self, offered, given, each) -> None:
        kinds: dict[tuple, list[tuple]] = {}
        plain: list[tuple[float, bool]] = []
        for scheme in dict.fromkeys(offered):
            table = self.oracle.links(scheme, self.camera, self.site)
            mine = self._least(scheme, table)
            self._same(
                scheme, mine, [f for f in each if f.scheme == scheme], f"scheme {scheme.name} {scheme.feed}"
            )
            kinds.setdefault(self._kind(scheme), []).extend((b, scheme, d) for d, b in mine.items())
            free = self.oracle.plain(scheme, self.camera, self.site)
            if free and len(free["cost"]):
                plain.append(min(zip(free["cost"].tolist(), (~free["ok"]).tolist(), strict=True)))
                self._judge_some(scheme)
        for kind, links in kinds.items():
            mine = {
                d: min((b for b, _, dd in links if dd <= d), key=self._rank, default=None)
                for d in (False, True)
            }
            mine = {d: b for d, b in mine.items() if b is not None}
            self._same(None, mine, [f for f in given if self._kind(f.scheme) == kind], f"kind {kind}")
        self._count(plain, [x for links in kinds.values() for x in links])

    def _rank(self, best: Best) -> tuple[float, float]:
        return (round(best.metres, 7), best.cost) if self.by_length else (best.cost, best.metres)

    def _kind(self, scheme) -> tuple[str, str]:
        """What choosing recorders sees: the port where ports are limited, power from the port where that is."""
        first = scheme.stages[0]
        ports = any(self.site.get(n, "") != "" for n in ("channels_analogue", "channels_network"))
        power = any(self.site.get(n, "") != "" for n in ("poe_ports", "poe_w"))
        port = self.search.catalogue.methods[first.method].delivers
        return port if ports else "", first.feed if power and first.feed.startswith("poe") else ""

    def _least(self, scheme, table) -> dict[bool, Best]:
        """The best link without what is discouraged, and the best of all."""
        found = {}
        for discouraged in (False, True):
            rows = np.arange(len(table["cost"])) if table else np.array([], dtype=int)
            if table and not discouraged:
                rows = rows[~table["disc"]]
            if len(rows):
                order = (table["cost"][rows], np.round(table["metres"][rows], 7))
                row = rows[np.lexsort(order if self.by_length else order[::-1])[0]]
                found[discouraged] = self.oracle.best(scheme, table, row)
        return found

    def _same(self, scheme, mine: dict[bool, Best], theirs, where: str) -> None:
        for discouraged in (False, True):
            links = [f for f in theirs if discouraged or not f.discouraged]
            best, link = mine.get(discouraged), min(links, key=self.search.rank, default=None)
            if best is None or link is None:
                if (best is None) != (link is None):
                    self._differ(
                        f"{where}: oracle {best}, search {link and (self.search.rank(link), link.segments)}"
                    )
                continue
            told = self.search.rank(link)
            if best.twice:
                self._proposed_twice(self._rank(best)[0], told[0], where)
                continue
            wanted = (best.metres, best.cost) if self.by_length else (best.cost,)
            if any(not np.isclose(a, b, rtol=1e-9, atol=2e-9) for a, b in zip(told, wanted, strict=False)):
                self._differ(
                    f"{where}: oracle {wanted} {best}, search {told} {[(s.variant, s.nodes, s.segments, s.reused) for s in link.stretches]}"
                )
            elif scheme is not None:
                self._accept(scheme, best, told[0])

    def _proposed_twice(self, least: float, told: float, where: str) -> None:
        """A walk that passes a proposed segment twice pays for it twice while it is sought: it may lose to a dearer one."""
        self.out.counts["proposed twice"] += 1
        self.out.counts["proposed twice, dearer"] += told > least * (1 + 1e-9) + 2e-9
        if where.startswith("kind"):
            self.out.counts["kinds proposed twice"] += 1
            self.out.counts["kinds proposed twice, dearer"] += told > least * (1 + 1e-9) + 2e-9
        if told < least * (1 - 1e-9) - 2e-9:
            self._differ(f"{where}: oracle {least}, search {told}")

    def _differ(self, text: str) -> None:
        self.out.differences.append(f"seed {self.seed} {self.camera['id']} {self.site['id']} {text}")

    # The same link, by the program's own rules

    def _laid(self, scheme, best: Best) -> list[Laid]:
        network = self.search.network
        node = {name: k for k, name in enumerate(network.node_id)}
        segment = {name.rsplit(".", 1)[0]: k for k, name in enumerate(network.segment_id)}
        return [
            Laid(
                Variant(stage.method, stage.feed, *cables),
                tuple(node[n] for n in course.nodes),
                tuple(segment[n] for n in course.segments),
                tuple(Reuse(n, a, b, self.oracle.spare[n]["_cable_m"]) for n, a, b in course.spares),
            )
            for stage, (cables, course) in zip(scheme.stages, best.stretches, strict=True)
        ]

    def _told(self, scheme, best: Best):
        laid = self._laid(scheme, best)
        return judged(self.search, quoted(self.search, self.c, self.s, scheme, laid))

    def _accept(self, scheme, best: Best, cost: float) -> None:
        """The oracle's best link is priced and accepted by the program too."""
        link = self._told(scheme, best)
        if not stands(link, with_verify=False):
            self._differ(
                f"judged: refused {best} {[x for x in link.lines if x.verdict in ('outside', 'verify')]}"
            )
        if not np.isclose(self.search.rank(link)[0], cost, rtol=1e-9, atol=2e-9):
            self._differ(f"quoted: {self.search.rank(link)} {best}")

    def _judge_some(self, scheme) -> None:
        """Some links, good or bad: the program says the same of them."""
        rng = np.random.default_rng(self.seed)
        table = self.oracle.some(scheme, self.camera, self.site, rng)
        for row in range(min(2, len(table["cost"]))):
            best, good = self.oracle.best(scheme, table, row), bool(table["ok"][row])
            link = self._told(scheme, best)
            self.out.counts["judged"] += 1
            self.out.counts["judged good"] += good
            if stands(link, with_verify=False) != good:
                lines = [
                    (x.quantity, x.stretch, x.state, x.value, x.limit, x.verdict.value) for x in link.lines
                ]
                self._differ(f"judged: oracle {good} {scheme} {best} {lines}")
            told, cost = (
                self.search.rank(link),
                (best.metres, best.cost) if self.by_length else (best.cost, best.metres),
            )
            if not np.allclose(told, cost, rtol=1e-9, atol=2e-9):
                self._differ(f"quoted: oracle {cost} {best}, program {told}")

    # What happened

    def _count(self, plain, links) -> None:
        counts = self.out.counts
        if not plain:
            counts["no way"] += 1
            return
        counts["connected pairs"] += 1
        counts["plain cheapest fails"] += min(plain)[1]
        if not links:
            counts["no link"] += 1
            return
        best, scheme, _ = min(links, key=lambda x: self._rank(x[0]))
        counts["linked"] += 1
        for name in kinds_of(scheme, best, self.search.catalogue):
            counts[name] += 1


def kinds_of(scheme, best: Best, catalogue) -> set[str]:
    """What is special about a link."""
    kinds = {catalogue.items[i].kind for stop in scheme.stops for i in stop.items}
    found = {f"with {kind}" for kind in kinds}
    families = [catalogue.cables[cables[0]].family for cables, _ in best.stretches]
    if len(set(families)) > 1:
        found.add("with a change of medium")
    segments = [segment for _, course in best.stretches for segment in course.segments]
    if len(set(segments)) < len(segments):
        found.add("spur walks")
    if any(course.spares for _, course in best.stretches):
        found.add("with spares")
    if len(scheme.stages) > 1:
        found.add(f"{len(scheme.stages)} stretches")
    return found


@pytest.mark.parametrize("block", range(8))
def test_equals_looking_at_everything(tmp_path, block):
    differences = []
    for seed in range(block * 40, block * 40 + 40):
        differences += compared(tmp_path / str(seed), seed).differences
    assert differences == []
