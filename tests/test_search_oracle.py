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
from tests.link_oracle import Best, Course, Oracle, Rows

# Random small estates

SCALE_M = {"analogue": 110, "sdi": 60, "ethernet": 40}
"""About a third of what a signal goes."""

METHODS = {
    "analogue": ["coax-local", "coax-power-pair", "coax-powered", "pair-video", "pair-video-power", "pair-active", "analogue-fibre", "ethernet", "ethernet-fibre", "ethernet-coax"],
    "sdi": ["coax-local", "coax-power-pair"],
    "ethernet": ["ethernet", "ethernet-extender", "ethernet-coax", "ethernet-fibre"],
}  # fmt: skip
COAX = ["rg59-cu", "rg6-cu", "rg11-cu"]
PAIR = ["cat5e-utp", "cat5e-ftp", "cat6-utp", "cat6a-ftp", "cat7-sftp"]
POWER = ["power-2x0.5", "power-2x1.0", "power-2x2.5"]
FIBRE = ["om3", "os2"]
SIGNALS = {
    "analogue": ["composite", "analogue-720p", "analogue-1080p", "analogue-5mp"],
    "sdi": ["sdi-hd", "sdi-3g"],
    "ethernet": ["ethernet-100m", "ethernet-1g"],
}
FEEDS = {
    "analogue": ["local", "dc12", "dc24", "ac24", "coax-dc"],
    "sdi": ["local", "dc12", "dc24"],
    "ethernet": ["local", "poe1", "poe2"],
}


def random_estate(seed: int) -> Rows:
    """A tree with a few more ways; equipment can stand on some of its nodes, often at the end of a spur."""
    rng = np.random.default_rng(seed)
    family = str(rng.choice(["analogue", "ethernet", "sdi"], p=[0.5, 0.4, 0.1]))
    points = _points(rng, family)
    buildings = _buildings(rng, points)
    routes = _routes(rng, points, SCALE_M[family], drawn=bool(buildings))
    cables, chosen = _spares(rng, routes, family)
    supplies = _supplies(rng, points)
    return Rows(_toml(rng, family, chosen), points, routes, cables, buildings, supplies)


def _points(rng, family: str) -> list[dict]:
    count = int(rng.integers(3, 5))
    rows = [{"id": "R1", "kind": "recorder", "status": "candidate", "height_m": int(rng.integers(0, 3))}]
    if rng.random() < 0.25:
        rows.append({"id": "R2", "kind": "recorder", "status": "candidate"})
    for row in rows:
        if rng.random() < 0.3:
            row["poe_ports"] = int(rng.integers(0, 5))
        if rng.random() < 0.3:
            row |= {"channels_network": 8, "channels_analogue": 8}
        if rng.random() < 0.2:
            row["accepts"] = str(rng.choice(["analogue", "ethernet", "analogue;ethernet"]))
    for k in range(count - len(rows) + 1):
        kind = str(rng.choice(["patch", "junction", "pit"], p=[0.7, 0.2, 0.1]))
        power = str(rng.choice(["unswitched", "ups", "none"], p=[0.55, 0.15, 0.3])) if kind == "patch" else ""
        rows.append({"id": f"P{k}", "kind": kind, "power": power})
    for k in range(1 + (rng.random() < 0.4)):
        rows.append(_camera(rng, f"C{k}", family))
    return rows


def _camera(rng, name: str, family: str) -> dict:
    feeds = sorted(rng.choice(FEEDS[family], size=int(rng.integers(1, 4)), replace=False).tolist())
    day_w = round(float(rng.uniform(2, 11)), 1)
    row = {
        "id": name,
        "kind": "camera",
        "signal": str(rng.choice(SIGNALS[family])),
        "feeds": ";".join(feeds),
        "power": str(rng.choice(["unswitched", "none"], p=[0.45, 0.55])),
        "load_w": day_w,
        "load_night_w": round(day_w + float(rng.uniform(0, 12)), 1),
        "height_m": int(rng.integers(0, 5)),
    }
    if rng.random() < 0.3 and set(feeds) <= {"local", "dc12"}:
        row |= {"volts": 12, "volts_min": float(rng.choice([10, 10.8, 11.4]))}
    return row


def _buildings(rng, points: list[dict]) -> list[dict]:
    if rng.random() < 0.65:
        return []
    kinds = rng.choice(["TN-S", "TN-C-S", "TT", ""], size=2, p=[0.35, 0.35, 0.2, 0.1])
    for row in points:
        row["earth_zone"] = str(rng.choice(["Z1", "Z2"], p=[0.65, 0.35]))
        if row["kind"] == "camera":
            row["insulated"] = str(rng.choice(["yes", "no", ""]))
    return [{"id": f"B{k}", "earth_zone": f"Z{k + 1}", "earthing": str(kind)} for k, kind in enumerate(kinds)]


def _routes(rng, points: list[dict], scale_m: float, *, drawn: bool) -> list[dict]:
    names = [row["id"] for row in points]
    inner = [name for name in names if not name.startswith("C")]
    pairs = [(inner[int(rng.integers(max(0, k - 2), k))], inner[k]) for k in range(1, len(inner))]
    pairs += [(inner[int(rng.integers(max(0, len(inner) - 3), len(inner)))], c) for c in names if c[0] == "C"]
    for _ in range(int(rng.integers(0, 3))):
        a, b = rng.choice(len(names), 2, replace=False)
        pairs.append((names[a], names[b]))
    angle = dict(zip(names, np.linspace(0, 2 * np.pi, len(names), endpoint=False), strict=True))
    outdoors = {k for k in range(len(pairs)) if drawn and rng.random() < 0.5 and _alone(pairs, k)}
    rows = []
    for k, (a, b) in enumerate(pairs):
        length_m = float(max(5, 5 * round(scale_m / 5 * float(rng.uniform(0.1, 1.6)))))
        row = {"id": f"S{k}", "_a": a, "_b": b, "length_m": length_m, "environment": _environment(rng)}
        if k in outdoors:
            ends = [f"{1000 * np.cos(angle[n]):.3f} {1000 * np.sin(angle[n]):.3f}" for n in (a, b)]
            row["wkt"] = f"LINESTRING ({ends[0]}, {ends[1]})"
        else:
            row |= {"from": a, "to": b}
        row["containment"] = str(rng.choice(["duct", "tray", "surface", "trunking"]))
        row["status"] = "existing"
        spur = sum(b in pair for pair in pairs) == 1 and b[0] != "C"
        if rng.random() < 0.25 and not spur:
            row["status"] = "proposed"
            row |= {"build_cost_m": int(rng.integers(1, 20))} if rng.random() < 0.5 else {"surface": "grass"}
        row["use"] = str(rng.choice(["", "preferred", "discouraged", "forbidden"], p=[0.8, 0.08, 0.08, 0.04]))
        rows.append(row)
    if drawn:
        for row in points:
            row |= {
                "x": round(1000 * np.cos(angle[row["id"]]), 3),
                "y": round(1000 * np.sin(angle[row["id"]]), 3),
            }
    return rows


def _alone(pairs: list[tuple[str, str]], k: int) -> bool:
    """Whether a way may be drawn: no other lies along it, and it is the only one of its camera."""
    others = [pair for j, pair in enumerate(pairs) if j != k]
    cameras = {name for name in pairs[k] if name.startswith("C")}
    return not any(set(pair) == set(pairs[k]) or cameras & set(pair) for pair in others)


def _environment(rng) -> str:
    return str(
        rng.choice(
            ["indoor", "riser", "duct_wet", "aerial", "buried", "hazardous"],
            p=[0.4, 0.1, 0.33, 0.12, 0.03, 0.02],
        )
    )


def _spares(rng, routes: list[dict], family: str) -> tuple[list[dict], list[str]]:
    """Spare cables on one way or on two that follow each other; and the cables that a design may use."""
    coax, pair = (
        sorted(rng.choice(kind, size=int(rng.integers(1, 3)), replace=False)) for kind in (COAX, PAIR)
    )
    fibre = [str(rng.choice(FIBRE))]
    power = sorted(rng.choice(POWER, size=int(rng.integers(1, 3)), replace=False))
    signal_cables = [str(c) for c in (*coax, *pair, *fibre)]
    laid = [row for row in routes if row["status"] == "existing"]
    rows = []
    for k in range(int(rng.choice([0, 1, 2], p=[0.45, 0.35, 0.2])) if laid else 0):
        one = laid[int(rng.integers(len(laid)))]
        nodes, segments = (one["_a"], one["_b"]), (one["id"],)
        after = [
            r for r in laid if r["_a"] == one["_b"] and r["_b"] != one["_a"] and not one["_b"].startswith("C")
        ]
        if after and rng.random() < 0.4:
            nodes, segments = (*nodes, after[0]["_b"]), (*segments, after[0]["id"])
        joints = str(rng.choice(["0", "1", ""], p=[0.7, 0.15, 0.15]))
        way_m = sum(row["length_m"] for row in routes if row["id"] in segments)
        measured = round(way_m * float(rng.uniform(1.0, 1.2))) if rng.random() < 0.5 else ""
        rows.append(
            {
                "id": f"K{k}", "from": nodes[0], "to": nodes[-1], "status": "spare", "routes": ";".join(segments),
                "cable": str(rng.choice(signal_cables)), "joints": joints, "length_m": measured,
                "_way": (nodes, segments), "_bad": 5 if joints == "" else int(joints), "_measured": measured, "_way_m": way_m,
            }
        )  # fmt: skip
    return rows, [*signal_cables, *(str(c) for c in power)]


def _supplies(rng, points: list[dict]) -> list[dict]:
    if rng.random() < 0.6:
        return []
    volts = int(rng.choice([12, 24]))
    at = str(rng.choice([row["id"] for row in points if row["kind"] == "recorder"]))
    return [
        {
            "id": "U1", "at": at, "kind": "dc", "volts": volts,
            "volts_min": round(volts * float(rng.uniform(0.93, 1.0)), 2),
            "volts_max": round(volts * float(rng.uniform(1.0, 1.08)), 2),
        }
    ]  # fmt: skip


def _toml(rng, family: str, cables: list[str]) -> str:
    known = METHODS[family]
    methods = [m for m in known if rng.random() < 0.55] or [known[0]]
    discouraged = [str(rng.choice([*methods, *cables]))] if rng.random() < 0.2 else []
    slack, end, waste, cords = (
        (0, 0, 0, 10) if rng.random() < 0.4 else (5, int(rng.integers(0, 4)), 10, int(rng.integers(4, 12)))
    )
    equipment = {
        name: int(rng.integers(2, 80))
        for name in (
            "repeater-coax",
            "repeater-pair",
            "repeater-sdi",
            "extender-poe",
            "encoder",
            "supply-dc12",
            "supply-dc24",
            "converter-fibre",
            "fibre-module",
            "balun-passive",
            "switch-4-60w",
        )
        if rng.random() < 0.6
    }
    objective = "cable_length" if rng.random() < 0.12 else "cost"
    return "\n".join(
        [
            '[estate]\ntitle = "Test"\ncrs = "local"',
            f'[design]\nobjective = "{objective}"\nmethods = {methods}\ncables = {cables}\ndiscouraged = {discouraged}'.replace(
                "'", '"'
            ),
            f"[lengths]\nend_m = {end}\nslack_percent = {slack}\nwaste_percent = {waste}\ncords_m = {cords}",
            f'[limits]\nprofile = "{rng.choice(["cautious", "typical"])}"\nambient_c = {rng.choice([20, 30])}',
            "[prices.equipment]",
            *(f"{name} = {money}" for name, money in equipment.items()),
            "[catalogue.cables.cat7-sftp]",
            f'conductor_ohm_per_km = {{ value = {rng.choice([70.0, 93.8, 120.0])}, source = "practice", status = "common_practice" }}',
            "[catalogue.applications.1000base-sx]",
            f'reach_m = {{ value = {rng.choice([120, 250, 550])}, source = "practice", status = "common_practice" }}',
            "",
        ]
    )


# One estate, twice


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
            free = self.oracle.links(scheme, self.camera, self.site, limited=False)
            if free and len(free["cost"]):
                plain.append(min(zip(free["cost"].tolist(), (~free["ok"]).tolist(), strict=True)))
                self._judge_some(scheme, free)
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
            if best.twice:
                self.out.counts["proposed twice"] += 1
                continue
            told = self.search.rank(link)
            wanted = (best.metres, best.cost) if self.by_length else (best.cost,)
            if any(not np.isclose(a, b, rtol=1e-9, atol=2e-9) for a, b in zip(told, wanted, strict=False)):
                self._differ(
                    f"{where}: oracle {wanted} {best}, search {told} {[(s.variant, s.nodes, s.segments, s.reused) for s in link.stretches]}"
                )
            elif scheme is not None:
                self._accept(scheme, best, told[0])

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

    def _judge_some(self, scheme, table) -> None:
        """Some links, good or bad: the program says the same of them."""
        rng = np.random.default_rng(self.seed)
        for row in rng.choice(len(table["cost"]), size=min(2, len(table["cost"])), replace=False):
            best = self.oracle.best(scheme, table, row)
            link = self._told(scheme, best)
            self.out.counts["judged"] += 1
            self.out.counts["judged good"] += bool(table["ok"][row])
            if stands(link, with_verify=False) != bool(table["ok"][row]):
                self._differ(
                    f"judged: oracle {table['ok'][row]} {scheme} {best} {[(x.quantity, x.stretch, x.state, x.value, x.limit, x.verdict) for x in link.lines]}"
                )
            if not np.isclose(
                self.search.rank(link)[not self.by_length - 1 if False else 0],
                self._rank(best)[0],
                rtol=1e-9,
                atol=1e-6,
            ):
                self._differ(f"quoted: {self.search.rank(link)} {best}")

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
