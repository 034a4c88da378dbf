"""A small network whose ways are not given in advance, for the tests: pricing by shortest paths, and every way."""

from itertools import pairwise, product

import networkx as nx

from tests.placement_cases import link, site, task


def random_network(rng, nodes=7, extra=4, free=0.3):
    """A connected graph; each edge has cable money `cable` and trench money `trench`, some trenches are there."""
    graph = nx.Graph()
    for n in range(1, nodes):
        graph.add_edge(int(rng.integers(n)), n)
    for _ in range(extra):
        a, b = (int(v) for v in rng.choice(nodes, 2, replace=False))
        graph.add_edge(a, b)
    for number, (_, _, data) in enumerate(sorted(graph.edges(data=True), key=lambda e: e[:2])):
        length = float(rng.integers(1, 20))
        there = rng.random() < free
        data |= {"number": number, "cable": length, "trench": 0.0 if there else length * 8.0}
    return graph


class Estate:
    """Cameras and recorder sites at nodes of a network."""

    def __init__(self, graph, cameras, sites, places):
        self.graph, self.cameras, self.sites, self.places = graph, cameras, sites, places
        self.works = {d["number"]: d["trench"] for _, _, d in graph.edges(data=True) if d["trench"] > 0}

    def along(self, camera, s, way):
        """The link of a camera to a site along a way of nodes."""
        edges = [self.graph.edges[pair] for pair in pairwise(way)]
        works = tuple(sorted(d["number"] for d in edges if d["trench"] > 0))
        return link(camera, s, sum(d["cable"] for d in edges), works=works)

    def price(self, prices):
        """The cheapest way of every camera to every site, with trenches at their prices."""
        found = []
        for c, (s, end) in product(range(len(self.cameras)), enumerate(self.sites)):

            def weight(_a, _b, data, c=c):
                return data["cable"] + (float(prices[data["number"]][c]) if data["trench"] > 0 else 0.0)

            found.append(self.along(c, s, nx.dijkstra_path(self.graph, self.cameras[c], end, weight)))
        return found

    def first(self, **other):
        """The task with one link for every camera and site: the one with the least cable."""
        links = self.price({w: [0.0] * len(self.cameras) for w in self.works})
        return task(self.places, links, len(self.cameras), works_cost=self.works, **other)

    def full(self, **other):
        """The task with every way that passes no node twice."""
        links = [
            self.along(c, s, way)
            for c in range(len(self.cameras))
            for s, end in enumerate(self.sites)
            for way in (
                [[end]] if self.cameras[c] == end else nx.all_simple_paths(self.graph, self.cameras[c], end)
            )
        ]
        return task(self.places, links, len(self.cameras), works_cost=self.works, **other)


def random_estate(rng, cameras=4, sites=2, **network):
    """Cameras and sites at random nodes; recorders with a cost and few channels."""
    graph = random_network(rng, **network)
    nodes = sorted(graph)
    at = [int(n) for n in rng.choice(nodes, sites, replace=False)]
    cams = [int(n) for n in rng.choice(nodes, cameras)]
    places = [
        site(f"R{s}", (int(rng.integers(2, cameras + 1)), int(rng.integers(10, 120)))) for s in range(sites)
    ]
    return Estate(graph, cams, at, places)
