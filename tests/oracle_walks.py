"""Every walk over a small estate, for a second opinion on links: nodes and segments may be passed again.

The estate is known by the rows that were written to disk, the catalogue by its figures.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

USE = {"preferred": 0.8, "discouraged": 2.0}
"""What money counts for on a route, by its use: common practice, no source."""


@dataclass(frozen=True)
class Course:
    """A walk of one stretch, and which of its segments lie in spare cables: spare, from, up to."""

    nodes: tuple[str, ...]
    segments: tuple[str, ...]
    spares: tuple[tuple[str, int, int], ...] = ()


@dataclass
class Rows:
    """An estate as it was written to disk."""

    toml: str
    points: list[dict]
    routes: list[dict]
    cables: list[dict] = field(default_factory=list)
    buildings: list[dict] = field(default_factory=list)
    supplies: list[dict] = field(default_factory=list)

    def layers(self) -> dict[str, list[dict]]:
        """Return the rows of every layer, without what only the oracle has to know."""
        names = ("points", "routes", "cables", "buildings", "supplies")
        return {
            name: [{k: v for k, v in row.items() if not k.startswith("_")} for row in rows]
            for name in names
            if (rows := getattr(self, name))
        }


Table = dict[str, np.ndarray]


def taken(table: Table, rows) -> Table:
    return {name: column[rows] for name, column in table.items()}


class Walks:
    """One estate: every walk that a stretch of a link could take, and the money of its parts."""

    def __init__(self, rows: Rows, catalogue, settings, longest: int = 6, *, thorough: bool = False):
        self.rows, self.catalogue, self.settings = rows, catalogue, settings
        self.longest, self.thorough = longest, thorough
        self.point = {row["id"]: row for row in rows.points}
        self.route = {row["id"]: row for row in rows.routes}
        self.names = sorted(self.route)
        self.node = {name: number for number, name in enumerate(sorted(self.point))}
        self.spare = {row["id"]: row for row in rows.cables if row["status"] == "spare"}
        self.spare_names = sorted(self.spare)
        self.spare_m = {name: self._own_m(row) for name, row in self.spare.items()}
        self.bad = {name: int(row["joints"] or 5) for name, row in self.spare.items()}  # unknown: 5 at most
        drawn = {end for row in rows.routes if row.get("wkt") for end in (row["_a"], row["_b"])}
        self.passing = {name for name, row in self.point.items() if row["kind"] != "camera" or name in drawn}
        self.fed = {name for name in self.passing if self._is_fed(self.point[name])}
        cabinets = {name for name, row in self.point.items() if row["kind"] in ("patch", "recorder")}
        self.stands = {True: self.fed | cabinets, False: self.fed}
        self.earthing = self._earthing()

    # The estate

    def _is_fed(self, row: dict) -> bool:
        if row["kind"] == "recorder":
            return True
        house = {b["id"]: b for b in self.rows.buildings}.get(row.get("building"), {}).get("power")
        if row["kind"] == "patch" and row.get("power"):
            return row["power"] in ("unswitched", "ups")
        return row["kind"] in ("patch", "junction") and house in ("unswitched", "ups")

    def _earthing(self) -> dict[str, str | None]:
        found: dict[str, set] = {}
        for row in self.rows.buildings:
            found.setdefault(row["earth_zone"], set()).add(row["earthing"] or None)
        return {zone: next(iter(kinds)) if len(kinds) == 1 else None for zone, kinds in found.items()}

    def _own_m(self, row: dict) -> float:
        """Length of a spare cable: as measured, else that of its way with slack and ends."""
        lengths = self.settings.lengths
        way_m = sum(self.route[name]["length_m"] for name in row["_way"][1])
        return float(row["length_m"] or way_m * (1 + lengths.slack_percent / 100) + 2 * lengths.end_m)

    # Walks

    @cached_property
    def courses(self) -> list[Course]:
        """Every walk between places where a stretch may begin and end, spare cables laid in every way."""
        recorders = {name for name, row in self.point.items() if row["kind"] == "recorder"}
        cameras = {name for name, row in self.point.items() if row["kind"] == "camera"}
        begins, ends = self.stands[True] | recorders, self.stands[True] | cameras
        return [
            Course(nodes, segments, spares)
            for start in sorted(begins)
            for nodes, segments in self._walks((start,), ())
            if nodes[-1] in ends
            for spares in self._laid(nodes, segments, 0)
        ]

    def _walks(self, nodes: tuple[str, ...], segments: tuple[str, ...]) -> Iterator[tuple[tuple, tuple]]:
        yield nodes, segments
        if len(segments) == self.longest or (nodes[-1] not in self.passing and segments):
            return
        for name in self.names:
            ends = self.route[name]["_a"], self.route[name]["_b"]
            if nodes[-1] in ends:
                onward = ends[1] if ends[0] == nodes[-1] else ends[0]
                yield from self._walks((*nodes, onward), (*segments, name))

    def _laid(self, nodes, segments, begin: int) -> Iterator[tuple]:
        """Every way of taking spare cables from a place in a walk on, each no more than once."""
        yield ()
        for first in range(begin, len(segments)):
            for name in self.spare_names:
                way = self.spare[name]["_way"]
                beyond = first + len(way[1])
                here = nodes[first : beyond + 1], segments[first:beyond]
                if here in (way, (way[0][::-1], way[1][::-1])):
                    for rest in self._laid(nodes, segments, beyond):
                        types = {self.spare[each[0]]["cable"] for each in rest}
                        if name not in {each[0] for each in rest} and types <= {self.spare[name]["cable"]}:
                            yield ((name, first, beyond), *rest)

    @cached_property
    def table(self) -> Table:
        """What every course is, whatever cable lies there."""
        courses, index = self.courses, {name: k for k, name in enumerate(self.names)}
        passed = np.zeros((len(courses), len(self.names)))
        spared = np.zeros_like(passed)
        for k, course in enumerate(courses):
            for segment in course.segments:
                passed[k, index[segment]] += 1
            for _, first, beyond in course.spares:
                for segment in course.segments[first:beyond]:
                    spared[k, index[segment]] += 1
        routes = [self.route[name] for name in self.names]
        length_m = np.array([row["length_m"] for row in routes], dtype=float)
        pull = length_m * [self.rate("pull_m", row.get("containment") or "other") for row in routes]
        factor = np.array([USE.get(row.get("use"), 1.0) for row in routes]) - 1
        proposed = np.array([row.get("status") == "proposed" for row in routes])
        outdoors = np.array([bool(row.get("wkt")) for row in routes]) & bool(self.rows.buildings)
        bits = 2 ** np.arange(len(routes))
        spare_m = np.array([self._taken_m(c) for c in courses])
        bad = np.array([sum(self.bad[s] for s, _, _ in c.spares) for c in courses])
        count = np.array([len(c.spares) for c in courses])
        whole = np.array([len(c.spares) == 1 and c.spares[0][1:] == (0, len(c.segments)) for c in courses])
        new = passed - spared
        return {
            "course": np.arange(len(courses)),
            "start": np.array([self.node[c.nodes[0]] for c in courses]),
            "end": np.array([self.node[c.nodes[-1]] for c in courses]),
            "way_m": passed @ length_m,
            "spare_way_m": spared @ length_m,
            "spare_m": spare_m,
            "bad": bad,
            "good": np.where(whole, 0, 2 * count),
            "whole": whole,
            "pieces": np.array([self._pieces(c) for c in courses]),
            "kind": np.array(
                [self.spare[c.spares[0][0]]["cable"] if c.spares else "" for c in courses], dtype=object
            ),
            "works": (passed > 0) @ (bits * proposed),
            "twice": (passed > 1) @ (bits * proposed),
            "taken": np.array(
                [sum(1 << self.spare_names.index(s) for s, _, _ in c.spares) for c in courses], dtype=int
            ),
            "hot": (passed @ np.array([row["environment"] == "aerial" for row in routes])) > 0,
            "outdoors": (passed @ outdoors) > 0,
            "pull_new": new @ pull,
            "pull_all": passed @ pull,
            "extra_m": new @ (factor * length_m),
            "extra_pull": new @ (factor * pull),
            "passed": passed,
        }

    def _taken_m(self, course: Course) -> float:
        return float(sum(self.spare_m[s] for s, _, _ in course.spares))

    def _pieces(self, course: Course) -> int:
        """How many pieces the signal cable of a course has: its spare cables and the new ones between."""
        count = at = 0
        for _, first, beyond in course.spares:
            count += 1 + (first > at)
            at = beyond
        return count + (at < len(course.segments) or not count)

    # Money

    def rate(self, table: str, key: str) -> float:
        own = getattr(self.settings.prices, table) or {}
        known = self.catalogue.rates.tables[table]
        return float(own.get(key, known.get(key, known["other"])))

    def item_money(self, name: str) -> float:
        item = self.catalogue.items[name]
        if item.kind == "switch" and name not in (self.settings.prices.equipment or {}):
            return self.rate("switch", str(int(item.figures["ports"].value)))
        return self.rate("equipment", name)

    def _works(self, row: dict) -> float:
        if row.get("status") != "proposed":
            return 0.0
        if row.get("build_cost_m") not in (None, ""):
            return row["length_m"] * float(row["build_cost_m"])
        containment = row.get("containment") or "surface"
        each_m = self.rate("containment_m", containment)
        if containment in ("duct", "buried"):
            each_m += self.rate("trench_m", row.get("surface") or "other")
        return row["length_m"] * each_m

    @cached_property
    def works_of(self) -> np.ndarray:
        """Money of every set of proposed segments, each once."""
        money = np.zeros(1)
        for name in self.names:
            row = self.route[name]
            money = np.concatenate([money, money + self._works(row) * USE.get(row.get("use"), 1.0)])
        return money
