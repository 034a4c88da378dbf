"""Single cuts: what one cut segment, one route lost as a whole, or one node takes with it."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from estate.links.link import Link
from estate.network.network import Bools, Ints, Network
from estate.placement.places import uplinks_of
from estate.survey.survey import Survey


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut and the cameras it takes: lost as cabled, and stranded, which no way is left for."""

    subject_kind: str
    """segment, route or node."""
    subject: str
    index: int
    """Index of the segment or node in the network, row of the route."""
    lost: tuple[str, ...]
    stranded: tuple[str, ...]


def single_cuts(
    survey: Survey, network: Network, links: Sequence[Link], recorder_nodes: Iterable[int]
) -> tuple[Cut, ...]:
    """Return every single cut, the one that loses most cameras first.

    A camera is lost where its link passes, or where all uplinks of the cabinet it hangs on do; cables in one
    route fail together. It is stranded where it had a way to a used recorder and has none left, whatever length
    or limits say. At a cut node no cable passes, and what stands there is gone. Proposed segments that no link
    uses are not there.
    """
    served = sorted({link.camera for link in links if link.camera and link.nodes})
    lost = cameras_lost(network, links, served, len(survey.routes))
    rows = {str(name): row for row, name in enumerate(survey.points["id"])}
    cameras = sorted(
        str(i) for i, kind in zip(survey.points["id"], survey.points["kind"], strict=True) if kind == "camera"
    )
    nodes = network.point_node[[rows[camera] for camera in cameras]]
    stranded = cameras_stranded(
        network, made_segments(network, links), sorted(set(recorder_nodes)), nodes, len(survey.routes)
    )
    subjects = [
        *(("segment", str(name), k) for k, name in enumerate(network.segment_id)),
        *(("route", str(name), k) for k, name in enumerate(survey.routes["id"])),
        *(("node", str(name), k) for k, name in enumerate(network.node_id)),
    ]
    cuts = [
        Cut(kind, subject, index, _named(served, lost[:, c]), _named(cameras, stranded[:, c]))
        for c, (kind, subject, index) in enumerate(subjects)
    ]
    return tuple(sorted(cuts, key=worst_first))


def worst_first(cut: Cut) -> tuple[object, ...]:
    """Order of cuts: most cameras lost, then most stranded; of equals the segment before the route and the node."""
    return (
        -len(cut.lost),
        -len(cut.stranded),
        ("segment", "route", "node").index(cut.subject_kind),
        cut.subject,
    )


def _named(names: Sequence[str], marks: Bools) -> tuple[str, ...]:
    return tuple(names[k] for k in np.flatnonzero(marks).tolist())


def made_segments(network: Network, links: Sequence[Link]) -> Bools:
    """Return which segments are there: existing ones, and proposed ones that a link uses."""
    made = ~network.segment_proposed.astype(bool)
    made[[segment for link in links for segment in link.segments]] = True
    return made


def cameras_lost(network: Network, links: Sequence[Link], served: Sequence[str], routes: int) -> Bools:
    """Return which of the `served` cameras each cut takes as cabled.

    Shape (cameras, segments + routes + nodes): what is cut in the order segments, routes, nodes.
    """
    passes = links_pass(network, links, routes)
    uplinks = uplinks_of(links)
    place = {camera: k for k, camera in enumerate(served)}
    lost = np.ones((len(served), passes.shape[1]), dtype=bool)
    for k, link in enumerate(links):
        if not link.camera or not link.nodes:
            continue
        gone = passes[k]
        own = uplinks.get(link.head, []) if link.head != link.recorder else []
        if own:
            gone = gone | passes[own].all(axis=0)
        lost[place[link.camera]] &= gone
    return lost


def links_pass(network: Network, links: Sequence[Link], routes: int) -> Bools:
    """Return where each link passes, shape (links, segments + routes + nodes)."""
    passes = np.zeros((len(links), network.segments + routes + network.nodes), dtype=bool)
    for k, link in enumerate(links):
        segments = np.array(link.segments, dtype=np.int64)
        route = network.segment_route[segments]
        passes[k, segments] = True
        passes[k, network.segments + route[route >= 0]] = True
        passes[k, network.segments + routes + np.array(link.nodes, dtype=np.int64)] = True
    return passes


def cameras_stranded(
    network: Network, made: Bools, recorders: Sequence[int], cameras: Ints, routes: int
) -> Bools:
    """Return which cameras, by their nodes, have a way to a recorder but for each cut.

    `made` says which segments are there, `recorders` are the nodes of those used. Shape (cameras,
    segments + routes + nodes). Segments and nodes are read off the dominators of each camera in the graph that
    flows out of the recorders (every way passes them); routes of several segments are taken out one by one.
    """
    stranded = np.zeros((len(cameras), network.segments + routes + network.nodes), dtype=bool)
    above = _dominators(network, made, recorders)
    place = {v: v if v < network.segments else v + routes for v in above}
    for k, node in enumerate(cameras.tolist()):
        vertex = network.segments + node
        while node >= 0 and vertex in above:
            stranded[k, place[vertex]] = True
            vertex = above[vertex]
    reached = node_reached(network, made, recorders)
    by_route: dict[int, list[int]] = defaultdict(list)
    for segment in np.flatnonzero(made & (network.segment_route >= 0)).tolist():
        by_route[int(network.segment_route[segment])].append(segment)
    for route, segments in by_route.items():
        column = network.segments + route
        if len(segments) == 1:
            stranded[:, column] = stranded[:, segments[0]]
            continue
        left = made.copy()
        left[segments] = False
        gone = reached & ~node_reached(network, left, recorders)
        stranded[:, column] = (cameras >= 0) & gone[cameras]
    return stranded


def _dominators(network: Network, made: Bools, recorders: Sequence[int]) -> dict[int, int]:
    """Return for each segment (0 …) and node (segments + node) the last one that every way to it passes before.

    What nothing but the recorders as a whole stands before has -1. Unreached ones are left out.
    """
    import networkx as nx  # noqa: PLC0415  slow

    flow, base = nx.DiGraph(), network.segments
    flow.add_node(-1)
    flow.add_edges_from((-1, base + node) for node in recorders)
    for segment in np.flatnonzero(made).tolist():
        for node in (int(network.segment_from[segment]), int(network.segment_to[segment])):
            flow.add_edge(segment, base + node)
            if network.node_passes[node]:
                flow.add_edge(base + node, segment)
    found = nx.immediate_dominators(flow, -1)
    return {int(vertex): int(above) for vertex, above in found.items() if vertex != -1}


def node_reached(network: Network, made: Bools, recorders: Sequence[int], without_node: int = -1) -> Bools:
    """Return which nodes a way over made segments leads to from any of the recorders.

    Nothing stands at or passes `without_node`.
    """
    segments = np.flatnonzero(made)
    start, end = network.segment_from[segments], network.segment_to[segments]
    tail, head = np.concatenate([start, end]), np.concatenate([end, start])
    keep = network.node_passes[tail].astype(bool) & (tail != without_node) & (head != without_node)
    sources = np.array([node for node in recorders if node != without_node], dtype=np.int64)
    tail = np.concatenate([tail[keep], np.full(len(sources), network.nodes)])
    head = np.concatenate([head[keep], sources])
    size = network.nodes + 1
    order = breadth_first_order(
        csr_array((np.ones(len(tail), dtype=np.int8), (tail, head)), shape=(size, size)),
        network.nodes,
        return_predecessors=False,
    )
    reached = np.zeros(size, dtype=bool)
    reached[order] = True
    return reached[: network.nodes]
