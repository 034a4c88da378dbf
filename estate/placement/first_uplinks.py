"""Ways of uplinks for a first answer: one cabinet after the other, each by the cheapest way that still fits."""

from dataclasses import dataclass, field
from heapq import heappop, heappush

from estate.placement.channels import uplinks_allowed
from estate.placement.columns import other_end
from estate.placement.loads import Loads
from estate.placement.task import PlacementTask


@dataclass
class Uplinks:
    """The sections laid so far: their cables, what they carry, the ways of the cabinets."""

    loads: Loads
    cable: dict[int, int] = field(default_factory=dict)
    carried: dict[int, int] = field(default_factory=dict)
    ways: dict[int, tuple[tuple[int, ...], ...]] = field(default_factory=dict)
    works: set[int] = field(default_factory=set)
    standing: set[int] = field(default_factory=set)

    @property
    def task(self) -> PlacementTask:
        """The task."""
        return self.loads.task

    def open(self, cabinet: int, homes: set[int]) -> bool:
        """Home a cabinet to one of some sites by the cheapest way that fits; return whether there is one."""
        before = dict(self.cable), dict(self.carried), self.loads.filled.copy()
        ways: list[tuple[int, ...]] = []
        for _ in range(2 if self.task.diverse_uplinks else 1):
            closed = {r for way in ways for a in way for r in self.task.sections[a].routes}
            site, way = self._cheapest(cabinet, homes, closed, {a for way in ways for a in way})
            if site < 0 or not self._lay(way):
                self.cable, self.carried, self.loads.filled = before
                return False
            ways.append(way)
            homes = {site}
        self.loads.home[cabinet] = min(homes)
        self.ways[cabinet] = tuple(ways)
        self._stand(cabinet, ways)
        return True

    def _stand(self, cabinet: int, ways: list[tuple[int, ...]]) -> None:
        self.standing.add(len(self.task.sites) + cabinet)
        for way in ways:
            for a in way:
                section = self.task.sections[a]
                self.works.update(section.works)
                self.standing.update((section.tail, section.head))

    def _lay(self, way: tuple[int, ...]) -> bool:
        """Lay a way; return whether its sections, each of which fits, fit together."""
        for a in way:
            section = self.task.sections[a]
            size, old = self._size(a), self.cable.get(a)
            if size < 0:
                return False
            if old is not None:
                self.loads.lay(section.sizes[old].fill, -1.0)
            self.loads.lay(section.sizes[size].fill)
            self.cable[a], self.carried[a] = size, self.carried.get(a, 0) + 1
        return True

    def _size(self, a: int) -> int:
        """Return the cheapest cable with which a section carries one uplink more; -1 where none does or fits."""
        section, uplinks = self.task.sections[a], self.carried.get(a, 0) + 1
        old = section.sizes[self.cable[a]].fill if a in self.cable else ()
        self.loads.lay(old, -1.0)
        fitting = [
            n
            for n, size in enumerate(section.sizes)
            if uplinks_allowed(self.task, section, n) >= uplinks and not self.loads.full(size.fill)
        ]
        self.loads.lay(old)
        return min(fitting, key=lambda n: (section.sizes[n].cost, n), default=-1)

    def _cheapest(
        self, cabinet: int, homes: set[int], routes: set[str], sections: set[int]
    ) -> tuple[int, tuple[int, ...]]:
        """Return a site and the cheapest way there, off some routes and sections; (-1, ()) where there is none."""
        start = len(self.task.sites) + cabinet
        front: list[tuple[float, int, tuple[int, ...]]] = [(0.0, start, ())]
        done: set[int] = set()
        while front:
            cost, place, way = heappop(front)
            if place in done:
                continue
            done.add(place)
            if place in homes:
                return place, way
            for a, section in enumerate(self.task.sections):
                if a in sections or routes & set(section.routes):
                    continue
                for end in other_end(section, place):
                    step = self._cost(a, end)
                    if end not in done and step is not None and self._in_reach((*way, a)):
                        heappush(front, (cost + step, end, (*way, a)))
        return -1, ()

    def _in_reach(self, way: tuple[int, ...]) -> bool:
        """Whether a way keeps the limits of an uplink."""
        return all(sum(used) <= 1 for used in zip(*(self.task.sections[a].shares for a in way), strict=True))

    def _cost(self, a: int, end: int) -> float | None:
        """Return what it costs to run one uplink more through a section; None where that cannot be."""
        section, size = self.task.sections[a], self._size(a)
        cabinet = end - len(self.task.sites)
        if size < 0:
            return None
        old = section.sizes[self.cable[a]].cost if a in self.cable else 0.0
        works = sum(self.task.works_cost[w] for w in sorted(set(section.works) - self.works))
        stand = self.task.cabinets[cabinet].cost if cabinet >= 0 and end not in self.standing else 0.0
        return max(0.0, section.sizes[size].cost - old + works + stand)
