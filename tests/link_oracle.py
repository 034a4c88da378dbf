"""A second opinion on the cheapest link: every walk, every place, every cable and every spare, added up and judged apart.

The oracle knows an estate by the rows that were written to disk, the catalogue by its figures and the settings by their
values. The list of schemes, what the catalogue offers between a camera and a head, it takes as given. Everything else is
its own: walks (nodes and segments may be passed again), where equipment stands, which spare cables are taken, money,
limits, volts.

Nothing is searched: all stretches are written down and all combinations of them are formed. A stretch is left out only
where another between the same ends, with the same works and spare cables, is no worse in money, metres, share of reach
and ohms; `thorough` leaves out none. So a link that keeps its greatest volts only by a longer cable is not counted, here
as in the search; the random estates have no supply that needs one.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.oracle_stretches import TOLERANCE, Stretches
from tests.oracle_walks import Course, Table, taken


@dataclass(frozen=True)
class Best:
    """The least cost of a link and the stretches that it has: variant and course of each."""

    cost: float
    metres: float
    stretches: tuple[tuple[tuple[str, ...], Course], ...]
    twice: bool
    """Whether it passes a proposed segment twice."""


class Oracle(Stretches):
    """One estate, looked at as a whole."""

    def links(self, scheme, camera: dict, site: dict) -> Table:
        """Every link of a scheme that keeps all limits, or every one that nothing betters."""
        keep = (lambda table: table) if self.thorough else unbeaten
        return self._linked(
            scheme,
            camera,
            site,
            lambda table: keep(taken(table, table["ok"])),
            lambda table: taken(table, table["ok"]),
        )

    def plain(self, scheme, camera: dict, site: dict) -> Table:
        """The cheapest links of a scheme, limits disregarded; `ok` where they are kept all the same."""
        return self._linked(
            scheme, camera, site, lambda table: unbeaten(table, ("money", "bad")), lambda table: table
        )

    def some(self, scheme, camera: dict, site: dict, rng) -> Table:
        """Some links of a scheme, good and bad."""

        def drawn(table: Table) -> Table:
            size = len(table["end"])
            return taken(table, rng.choice(size, size=min(25, size), replace=False)) if size else table

        return self._linked(scheme, camera, site, drawn, drawn)

    def _linked(self, scheme, camera: dict, site: dict, keep, finish) -> Table:
        """Put stretches together to links, of each stretch and of each beginning what is to be kept."""
        poe = self.catalogue.feeds[scheme.feed].kind == "poe"
        whole: Table = {}
        last = len(scheme.stages) - 1
        for k in range(last + 1):
            leg = self.legs(scheme, k, camera, site)
            if not leg:
                return {}
            leg = keep({**leg, "bad": ~leg["ok"]})
            size = len(leg["end"])
            feeds_here = k >= scheme.source and (not poe or k == last or scheme.extended)
            leg |= {
                f"course{k}": leg["course"],
                f"variant{k}": leg["variant"],
                "run": leg["share"],
                "stretches": np.ones(size, dtype=int),
                "before": np.zeros(size),
                "ohm": leg["ohm"] * feeds_here,
            }
            whole = self._joined(scheme, k, whole, leg) if k else leg
            whole = keep(whole) if k < last else whole
        whole["ok"] = whole["ok"] & self.feed_ok(scheme, camera, site, whole["before"], whole["ohm"])
        stops = sum(self.item_money(i) for stop in scheme.stops for i in stop.items)
        whole["cost"] = whole["money"] + stops + self.works_of[whole["works"]]
        whole["disc"] = whole["disc"] | (scheme.name in self.settings.design.discouraged)
        return finish(whole)

    def _joined(self, scheme, k: int, whole: Table, leg: Table) -> Table:
        """Every stretch k behind every row so far that ends where it begins."""
        pairs = [
            (np.repeat(first, len(then)), np.tile(then, len(first)))
            for node in np.unique(whole["end"])
            for first, then in [(np.flatnonzero(whole["end"] == node), np.flatnonzero(leg["start"] == node))]
        ]
        if not pairs:
            pairs = [(np.empty(0, dtype=int), np.empty(0, dtype=int))]
        one, two = (np.concatenate(side) for side in zip(*pairs, strict=True))
        free = (whole["taken"][one] & leg["taken"][two]) == 0
        one, two = one[free], two[free]
        assert len(one) < 5_000_000, "the estate is too large to be looked at as a whole"
        a, b = taken(whole, one), taken(leg, two)
        stop = scheme.stops[k - 1]
        run = b["share"] + a["run"] * (not stop.restores)
        stretches = 1 + a["stretches"] * (not stop.restores)
        together = (stretches == 1) | (100 * run <= 100 + TOLERANCE)
        joined = {**a, **{name: b[name] for name in (f"course{k}", f"variant{k}", "end")}}
        for name in ("money", "metres"):
            joined[name] = a[name] + b[name]
        joined["twice"] = a["twice"] | b["twice"] | (a["works"] & b["works"])
        for name in ("works", "taken", "disc"):
            joined[name] = a[name] | b[name]
        joined["ok"] = a["ok"] & b["ok"] & together
        joined["bad"] = ~joined["ok"]
        joined["run"], joined["stretches"] = run, stretches
        joined["before"] = a["ohm"] if scheme.extended else a["before"]
        joined["ohm"] = b["ohm"] if scheme.extended else a["ohm"] + b["ohm"]
        return joined

    def best(self, scheme, table: Table, row: int) -> Best:
        """Put one row of links into words."""
        stretches = tuple(
            (
                self.variants(stage)[int(table[f"variant{k}"][row])],
                self.courses[int(table[f"course{k}"][row])],
            )
            for k, stage in enumerate(scheme.stages)
        )
        return Best(
            float(table["cost"][row]), float(table["metres"][row]), stretches, bool(table["twice"][row])
        )


KEYS = ("start", "end", "works", "twice", "taken", "disc", "stretches")
WORSE = ("money", "metres", "share", "run", "before", "ohm")


def unbeaten(table: Table, worse: tuple[str, ...] = WORSE) -> Table:
    """Leave out rows that another of the same ends, works and spares is no worse than in everything."""
    names = [name for name in KEYS if name in table]
    size = len(table["end"])
    if not size:
        return table
    order = np.lexsort([table[name] for name in (*reversed(worse), *names) if name in table])
    keys = np.stack([table[name][order].astype(np.int64) for name in names])
    begins = np.flatnonzero(np.append(True, (np.diff(keys) != 0).any(axis=0)))
    values = np.stack([table[name] for name in worse if name in table], axis=1)[order]
    kept = []
    for first, beyond in pairwise([*begins.tolist(), size]):
        left = np.arange(first, beyond)
        while len(left):
            kept.append(left[0])
            left = left[(values[left] < values[left[0]]).any(axis=1)]
    return taken(table, order[kept])
