"""The link search against a second opinion that looks at everything, on random small estates.

Each estate is written to disk and read as a user's would be. A walk that passes a proposed segment twice pays for it
twice while it is sought: where such a walk is the best, the search may only be dearer, never cheaper.
"""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pytest

from estate import workflow
from estate.links.camera import camera_facts
from estate.links.found import Found, Reuse
from estate.links.judging import Laid, judged, quoted, stands
from estate.links.prices import PriceBook
from estate.links.schemes import Scheme, schemes
from estate.links.search import LinkSearch
from estate.links.site import recorder_sites
from estate.links.variants import Variant
from tests.estates import write_estate
from tests.link_oracle import Best, Oracle
from tests.oracle_walks import Rows, Table
from tests.small_estates import random_estate

ESTATES = 180


@dataclass
class Compared:
    """What two opinions on one estate came to."""

    counts: Counter = field(default_factory=Counter)
    differences: list[str] = field(default_factory=list)


def prepared(folder, rows: Rows) -> LinkSearch:
    checked = workflow.prepare(write_estate(folder, rows.toml, **rows.layers()))
    survey, catalogue, network = checked.survey, checked.catalogue, checked.network
    assert (network.nodes, network.segments) == (len(rows.points), len(rows.routes))
    return LinkSearch(
        network,
        survey,
        catalogue,
        PriceBook(survey.settings.prices, catalogue.rates),
        checked.separation,
        camera_facts(survey.points),
        recorder_sites(survey, network, catalogue),
    )


def silent(_stage: str) -> None:
    pass


def per_scheme(search, camera):
    """The best link of every scheme from every site to one camera."""
    sure = {"with_verify": False}
    found = [
        search.of_scheme(site, camera, scheme, discouraged=discouraged, **sure)
        for site, place in enumerate(search.sites)
        if place.node >= 0
        for scheme, discouraged in search.ways_to_join(site, camera, **sure)
    ]
    return sorted(filter(None, found), key=lambda f: (search.rank(f), f.site, f.scheme.name, f.scheme.feed))


def compared(folder, rows: Rows, seed: int = 0, *, schemes_too: bool = True) -> Compared:
    """Search the links of an estate, and look at all of them; by scheme too, or only the best of each kind."""
    search = prepared(folder, rows)
    oracle = Oracle(rows, search.catalogue, search.settings)
    found = Compared(Counter(estates=1))
    for c, camera in enumerate(search.cameras):
        given = search.candidates([c], with_verify=False, progress=silent)
        each = per_scheme(search, c) if schemes_too else None
        for s, site in enumerate(search.sites):
            offered = schemes(camera, site.head, search.catalogue, search.settings.design, search.prices)
            pair = Pair(search, oracle, c, s, seed, found)
            by_scheme = None if each is None else [f for f in each if f.site == s]
            pair.compare(list(dict.fromkeys(offered)), [f for f in given if f.site == s], by_scheme)
    return found


@dataclass
class Pair:
    """One camera and one recorder, seen by the search and by the oracle."""

    search: LinkSearch
    oracle: Oracle
    c: int
    s: int
    seed: int
    out: Compared

    def __post_init__(self):
        self.camera = self.oracle.point[self.search.cameras[self.c].id]
        self.site = self.oracle.point[self.search.sites[self.s].id]
        self.by_length = self.search.settings.design.objective == "cable_length"

    def compare(self, offered: list[Scheme], given: list[Found], each: list[Found] | None) -> None:
        kinds: dict[tuple, list[tuple[bool, Best, Scheme]]] = {}
        plain = []
        for scheme in offered:
            mine = self.least(scheme, self.oracle.links(scheme, self.camera, self.site))
            if each is not None:
                self.same(mine, [f for f in each if f.scheme == scheme], f"{scheme.name} {scheme.feed}")
                for best in mine.values():
                    self.accept(scheme, best, good=True)
            kinds.setdefault(self.kind(scheme), []).extend((d, b, scheme) for d, b in mine.items())
            cheapest = self.oracle.plain(scheme, self.camera, self.site)
            if cheapest and len(cheapest["cost"]):
                plain.append(min(zip(cheapest["cost"].tolist(), cheapest["ok"] == 0, strict=True)))
                self.judge_some(scheme)
        for kind, links in kinds.items():
            bests = {d: [b for disc, b, _ in links if disc <= d] for d in (False, True)}
            mine = {d: min(found, key=self.rank) for d, found in bests.items() if found}
            self.same(mine, [f for f in given if self.kind(f.scheme) == kind], f"kind {kind}")
        self.count(plain, [x for links in kinds.values() for x in links])

    def rank(self, best: Best) -> tuple[float, float]:
        return (round(best.metres, 7), best.cost) if self.by_length else (best.cost, best.metres)

    def kind(self, scheme: Scheme) -> tuple[str, str]:
        """What the choice of recorders sees: the port where ports are limited, power from it where that is."""
        first = scheme.stages[0]
        ports = any(n in self.site for n in ("channels_analogue", "channels_network"))
        power = any(n in self.site for n in ("poe_ports", "poe_w"))
        port = self.search.catalogue.methods[first.method].delivers
        return port if ports else "", first.feed if power and first.feed.startswith("poe") else ""

    def least(self, scheme: Scheme, table: Table) -> dict[bool, Best]:
        """The best link without what is discouraged, and the best of all."""
        found = {}
        for discouraged in (False, True):
            rows = np.flatnonzero(~table["disc"] | discouraged) if table else []
            if len(rows):
                keys = table["cost"][rows], np.round(table["metres"][rows], 7)
                row = rows[np.lexsort(keys if self.by_length else keys[::-1])[0]]
                found[discouraged] = self.oracle.best(scheme, table, row)
        return found

    # Differences

    def same(self, mine: dict[bool, Best], theirs: list[Found], where: str) -> None:
        """Cost to 1e-9 and feasibility exactly."""
        for discouraged in (False, True):
            best = mine.get(discouraged)
            links = [f for f in theirs if discouraged or not f.discouraged]
            link = min(links, key=self.search.rank, default=None)
            if (best is None) != (link is None):
                self.differ(f"{where}: oracle {best}, search {link and link.key}")
            if best is None or link is None:
                continue
            told, wanted = self.search.rank(link), self.rank(best)
            if best.twice:
                name = "kinds" if where.startswith("kind") else "schemes"
                self.out.counts[f"{name} with a proposed segment twice"] += 1
                self.out.counts[f"{name} with a proposed segment twice, dearer"] += told[0] > wanted[0] + 1e-6
                wanted = (max(wanted[0], told[0]), *wanted[1:])
            told, wanted = (told, wanted) if self.by_length and not best.twice else (told[:1], wanted[:1])
            if not np.allclose(told, wanted, rtol=1e-9, atol=2e-9):
                self.differ(f"{where}: oracle {wanted} {best}, search {told} {link.key}")

    def differ(self, text: str) -> None:
        self.out.differences.append(f"seed {self.seed} {self.camera['id']} {self.site['id']} {text}")

    def accept(self, scheme: Scheme, best: Best, *, good: bool) -> None:
        """The program prices and judges a link of the oracle's as the oracle does."""
        link = judged(self.search, quoted(self.search, self.c, self.s, scheme, self.laid(scheme, best)))
        if stands(link, with_verify=False) != good:
            lines = [(x.quantity, x.stretch, x.state, x.value, x.limit, x.verdict.value) for x in link.lines]
            self.differ(f"judged: oracle {good} {scheme} {best} {lines}")
        if not np.allclose(self.search.rank(link), self.rank(best), rtol=1e-9, atol=2e-7):
            self.differ(f"priced: oracle {self.rank(best)} {best}, program {self.search.rank(link)}")

    def judge_some(self, scheme: Scheme) -> None:
        """Some links, good or bad."""
        table = self.oracle.some(scheme, self.camera, self.site, np.random.default_rng(self.seed))
        for row in range(min(2, len(table["cost"]))):
            good = bool(table["ok"][row])
            self.out.counts["judged"] += 1
            self.out.counts["judged good"] += good
            self.accept(scheme, self.oracle.best(scheme, table, row), good=good)

    def laid(self, scheme: Scheme, best: Best) -> list[Laid]:
        """The same stretches in the program's numbers."""
        network = self.search.network
        node = {name: k for k, name in enumerate(network.node_id)}
        segment = {name.rsplit(".", 1)[0]: k for k, name in enumerate(network.segment_id)}
        return [
            Laid(
                Variant(stage.method, stage.feed, *cables),
                tuple(node[n] for n in course.nodes),
                tuple(segment[n] for n in course.segments),
                tuple(Reuse(n, a, b, self.oracle.spare_m[n]) for n, a, b in course.spares),
            )
            for stage, (cables, course) in zip(scheme.stages, best.stretches, strict=True)
        ]

    # What happened

    def count(self, plain: list[tuple[float, bool]], links: list[tuple[bool, Best, Scheme]]) -> None:
        counts = self.out.counts
        if not plain:
            counts["no way"] += 1
            return
        counts["connected pairs"] += 1
        counts["plain cheapest fails"] += bool(min(plain)[1])
        if not links:
            counts["no link"] += 1
            return
        _, best, scheme = min(links, key=lambda x: self.rank(x[1]))
        counts["linked"] += 1
        counts.update(kinds_of(scheme, best, self.search.catalogue))


def kinds_of(scheme: Scheme, best: Best, catalogue) -> set[str]:
    """What is special about a link."""
    found = {f"with {catalogue.items[i].kind}" for stop in scheme.stops for i in stop.items}
    families = {catalogue.cables[cables[0]].family for cables, _ in best.stretches}
    segments = [segment for _, course in best.stretches for segment in course.segments]
    found |= {"with change of medium"} if len(families) > 1 else set()
    found |= {"spur walks"} if len(set(segments)) < len(segments) else set()
    found |= {"with spare cable"} if any(course.spares for _, course in best.stretches) else set()
    found |= {"several stretches"} if len(scheme.stages) > 1 else set()
    return found


# Random estates


@pytest.fixture(scope="module")
def opinions(tmp_path_factory) -> Compared:
    """Two opinions on many estates; scheme by scheme on a third of them."""
    folder, total = tmp_path_factory.mktemp("estates"), Compared()
    for seed in range(ESTATES):
        found = compared(folder / str(seed), random_estate(seed), seed, schemes_too=seed % 3 == 0)
        total.counts += found.counts
        total.differences += found.differences
    return total


def test_the_search_equals_looking_at_everything(opinions):
    assert opinions.differences == []


def test_the_estates_are_hard(opinions):
    """The comparison means something only where limits, equipment, spurs and spares decide."""
    counts = opinions.counts
    assert counts["plain cheapest fails"] > counts["connected pairs"] / 3
    assert counts["no link"] > 20
    assert counts["judged good"] > 100
    for name in ("repeater", "switch", "supply", "encoder", "extender"):
        assert counts[f"with {name}"] >= 3, name
    for name in ("with change of medium", "with spare cable", "spur walks"):
        assert counts[name] >= 5, name


@pytest.mark.parametrize("seed", range(6))
def test_what_the_oracle_leaves_out_is_no_better(tmp_path, seed):
    """With every combination of stretches kept, the best is the same."""
    rows = random_estate(seed)
    search = prepared(tmp_path / "estate", rows)
    brief, thorough = (
        Oracle(rows, search.catalogue, search.settings, longest=4, thorough=t) for t in (False, True)
    )
    for c, camera in enumerate(search.cameras):
        for s, site in enumerate(search.sites):
            for scheme in schemes(camera, site.head, search.catalogue, search.settings.design, search.prices):
                ends = rows_of(brief, search, c, s)
                tables = [oracle.links(scheme, *ends) for oracle in (brief, thorough)]
                costs = [float(t["cost"].min()) if t and len(t["cost"]) else None for t in tables]
                assert costs[0] == (None if costs[1] is None else pytest.approx(costs[1], rel=1e-12))


def rows_of(oracle: Oracle, search: LinkSearch, camera: int, site: int) -> tuple[dict, dict]:
    return oracle.point[search.cameras[camera].id], oracle.point[search.sites[site].id]


# Estates made by hand


def estate(design: str, points: list[dict], routes: list[tuple], *spares: tuple, more: str = "") -> Rows:
    """Routes are (id, from, to, length); spare cables are (id, cable, route)."""
    ways = {
        name: {
            "id": name,
            "_a": a,
            "_b": b,
            "from": a,
            "to": b,
            "length_m": length_m,
            "environment": "indoor",
        }
        for name, a, b, length_m in routes
    }
    cables = [
        {
            "id": name, "from": ways[way]["_a"], "to": ways[way]["_b"], "status": "spare", "cable": cable,
            "routes": way, "joints": "0", "length_m": "", "_way": ((ways[way]["_a"], ways[way]["_b"]), (way,)),
        }
        for name, cable, way in spares
    ]  # fmt: skip
    toml = f'[estate]\ntitle = "Test"\ncrs = "local"\n[design]\n{design}\n'
    toml += "[lengths]\nend_m = 0\nslack_percent = 0\nwaste_percent = 0\n" + more
    return Rows(toml, points, list(ways.values()), cables)


def point(identity: str, kind: str, power: str = "", **more) -> dict:
    return {"id": identity, "kind": kind, "power": power, **more}


def analogue(signal: str = "composite") -> dict:
    return point("C", "camera", "unswitched", signal=signal, feeds="local", load_w=4, load_night_w=8)


def recorder(height_m: float = 0.0) -> dict:
    return point("R", "recorder", status="candidate", height_m=height_m)


def agreed(folder, rows: Rows) -> list[Found]:
    """Return the links of the only camera by scheme, the cheapest first, that both opinions agree on."""
    assert compared(folder / "one", rows).differences == []
    return per_scheme(prepared(folder / "two", rows), 0)


def test_a_spare_cable_on_a_spur_goes_in_or_comes_back_not_both(tmp_path):
    rows = estate(
        'methods = ["coax-local"]\ncables = ["rg59-cu"]',
        [recorder(), point("J", "junction"), point("Q", "patch", "unswitched"), analogue()],
        [("A", "R", "J", 190.0), ("S", "J", "Q", 10.0), ("D", "J", "C", 190.0)],
        ("K", "rg59-cu", "S"),
    )
    best = agreed(tmp_path, rows)[0]
    assert best.spares == ("K",)
    assert [stretch.way_m for stretch in best.stretches] == [200, 200]


def test_a_spare_cable_elsewhere_makes_no_stretch_free(tmp_path):
    """A repeater beside the recorder needs its own short cable: the cheaper of two, though one lies spare elsewhere."""
    rows = estate(
        'methods = ["coax-local"]\ncables = ["rg59-cu", "rg11-cu"]',
        [recorder(10.0), point("P", "patch"), point("Q", "patch"), analogue()],
        [("A", "R", "P", 50.0), ("B", "P", "C", 50.0), ("D", "P", "Q", 20.0)],
        ("K", "rg11-cu", "D"),
        more="[prices.cable_m]\nrg11-cu = 1.0\nrg59-cu = 0.5\n",
    )
    repeated = next(f for f in agreed(tmp_path, rows) if len(f.stretches) == 2)
    assert [stretch.variant.signal_cable for stretch in repeated.stretches] == ["rg59-cu", "rg59-cu"]


def test_a_spare_cable_that_is_the_stretch_may_have_any_power_cable_beside_it(tmp_path):
    """HD serial digital on 82 m loses 19.9 of 20 dB: no joint more; 8 W at 12 V need 2.5 mm² there."""
    camera = point("C", "camera", "none", signal="sdi-hd", feeds="dc12", load_w=6, load_night_w=8)
    rows = estate(
        'methods = ["coax-power-pair"]\ncables = ["rg59-cu", "power-2x0.5", "power-2x2.5"]',
        [recorder(), camera],
        [("A", "R", "C", 82.0)],
        ("K", "rg59-cu", "A"),
    )
    best = agreed(tmp_path, rows)[0]
    assert (best.spares, best.variant.cables) == (("K",), ("rg59-cu", "power-2x2.5"))


def test_media_in_series_share_a_reach_longer_than_the_estate(tmp_path):
    """Analogue at 720 lines: 200 of 250 m on pair and 135 of 700 m on coax, on an estate of 335 m of ways."""
    rows = estate(
        'methods = ["coax-local", "pair-video"]\ncables = ["rg6-cu", "cat5e-utp"]',
        [recorder(), point("P", "patch", "unswitched"), analogue("analogue-720p")],
        [("A", "R", "P", 200.0), ("B", "P", "C", 135.0)],
        more="[prices.cable_m]\nrg6-cu = 9.0\n",
    )
    mixed = next(f for f in agreed(tmp_path, rows) if f.scheme.name == "pair-video+coax-local")
    shared = next(line for line in mixed.lines if line.quantity == "several media")
    assert shared.value == pytest.approx(100 * (200 / 250 + 135 / 700), abs=1e-6)


def test_each_leg_at_an_extender_has_the_resistance_of_its_own_cable(tmp_path):
    """80 m and 30 m, 11 W at 50 V: cheap cable of 300 Ω/km is too much on both legs, not on the short one alone."""
    rows = estate(
        'methods = ["ethernet", "ethernet-extender"]\ncables = ["cat5e-utp", "cat7-sftp"]',
        [recorder(), point("P", "patch"), point("C", "camera", "none", signal="ethernet-1g", feeds="poe2", load_w=6, load_night_w=11)],
        [("A", "R", "P", 80.0), ("B", "P", "C", 30.0)],
        more='[prices.cable_m]\ncat7-sftp = 0.1\n[catalogue.cables.cat7-sftp]\n'
        'conductor_ohm_per_km = { value = 300, source = "practice", status = "common_practice" }\n',
    )  # fmt: skip
    best = next(f for f in agreed(tmp_path, rows) if f.scheme.extended)
    assert [stretch.variant.signal_cable for stretch in best.stretches] == ["cat5e-utp", "cat7-sftp"]


def test_two_spare_fibres_lose_at_four_splices(tmp_path):
    """Connectors 1.5 dB and a splice 0.3 dB (TIA-568.3): of 2.9 dB four splices leave 67 m at 3 dB/km, two leave 267 m."""
    rows = estate(
        'methods = ["ethernet-fibre"]\ncables = ["om3"]',
        [recorder(), point("P", "pit"), point("Q", "pit"), point("C", "camera", "unswitched", signal="ethernet-1g", feeds="local", load_w=4, load_night_w=8)],
        [("A", "R", "P", 60.0), ("B", "P", "Q", 60.0), ("D", "Q", "C", 60.0)],
        ("K1", "om3", "A"), ("K2", "om3", "B"),
        more='[catalogue.applications.1000base-sx]\nloss_db = { value = 2.9, source = "practice", status = "common_practice" }\n',
    )  # fmt: skip
    best = agreed(tmp_path, rows)[0]
    assert len(best.spares) == 1
    loss = next(line for line in best.lines if line.quantity == "fibre loss")
    assert loss.value == pytest.approx(1.5 + 2 * 0.3 + 180 * 3 / 1000)
