"""From a survey to a network: nodes, segments, their lengths and what they run through."""

from dataclasses import dataclass

import numpy as np
import shapely

from estate.findings import Finding
from estate.network.columns import texts
from estate.network.gaps import LOOSE_END_M, drawing_findings, schematic_findings, unattached_findings
from estate.network.lengths import lengths_m
from estate.network.lines import drawn_lines
from estate.network.network import Bools, Ints, Network, Texts
from estate.network.nodes import Nodes, containing, number_nodes
from estate.network.pieces import Pieces, cut_lines, kept_cuts, ordered, schematic, spurs
from estate.network.topology import Places, Topology, attach_cameras, join_lines, mark_entries
from estate.survey.survey import Layer, Survey


@dataclass(frozen=True)
class _Surroundings:
    """What the segments run through: columns of the network."""

    building: Ints
    environment: Texts
    containment: Texts
    barrier: Texts
    surface: Texts
    proposed: Bools
    use: Texts


def build_network(survey: Survey) -> Network:
    """Turn the drawn and the schematic routes of an estate into one graph.

    Joining is by place in plan. A segment's geometry is the drawn line, untouched; a node stands at its point, else
    where a route was met, so that a segment's end can lie up to `snap_m` off its node. References between layers
    are the reader's to check.

    Lengths: a surveyed length is shared over the route's segments pro rata of drawn length (3-D where every vertex
    has a height); else drawn length plus the shared `rise_m`. Where routes of different levels end at a point, and
    none of those that end there gives a rise, each end takes the step to the level of the routes that go
    through, else to the point's level, else to the lowest, as levels × level height of the building; a surveyed
    length includes its steps. So a way from one upper level to another over a lower base is overstated, never short.
    """
    places = _places(survey.points)
    topology, findings = _topology(survey, places)
    groups = topology.nodes()
    kept = kept_cuts(topology, groups)
    drawn = cut_lines(topology, groups, kept)
    on_paper = schematic(survey.routes, survey.points, groups)
    pieces = ordered([drawn, on_paper, spurs(topology, groups)])
    middle = _middles(survey.buildings, pieces)
    nodes = number_nodes(survey, topology, groups, pieces, middle)
    length_m, steps = lengths_m(pieces, nodes, survey)
    around = _surroundings(survey, pieces, _segment_buildings(pieces, nodes, middle))
    findings += steps + schematic_findings(survey.routes)
    findings += drawing_findings(survey, topology, groups, kept, nodes)
    return Network(
        node_id=nodes.id,
        node_kind=nodes.kind,
        node_x=nodes.xy[:, 0],
        node_y=nodes.xy[:, 1],
        node_building=nodes.building,
        node_level=nodes.level,
        node_passes=nodes.passes,
        node_has_power=nodes.has_power,
        point_node=nodes.point_node,
        segment_id=pieces.ids(survey.routes, survey.points),
        segment_route=pieces.route,
        segment_from=nodes.number[pieces.start_node],
        segment_to=nodes.number[pieces.end_node],
        segment_length_m=length_m,
        segment_start_m=pieces.start_m,
        segment_end_m=pieces.end_m,
        segment_geometry=pieces.geometry,
        segment_building=around.building,
        segment_environment=around.environment,
        segment_containment=around.containment,
        segment_barrier=around.barrier,
        segment_surface=around.surface,
        segment_proposed=around.proposed,
        segment_use=around.use,
        joins=tuple(sorted(topology.joins, key=lambda j: (j.kind, j.first, j.second, j.x, j.y))),
        findings=tuple(findings),
    )


def _places(points: Layer) -> Places:
    located = np.array([g is not None and not g.is_empty for g in points.geometry], dtype=bool)
    xy = np.full((len(points), 2), np.nan)
    xy[located] = shapely.get_coordinates(points.geometry[located])
    return Places(points["id"], xy, points["level"].astype(float), points["kind"] == "camera")


def _topology(survey: Survey, places: Places) -> tuple[Topology, list[Finding]]:
    """Join everything; the findings are the cameras that nothing reaches."""
    network = survey.settings.network
    routes = survey.routes
    reach_m = max(network.snap_m, LOOSE_END_M)
    lines = drawn_lines(routes.geometry, routes["level"].astype(float), reach_m)
    name = routes["id"][lines.row]
    topology = join_lines(lines, name, places, network.snap_m, crossings_join=network.join_crossings)
    outlined = np.flatnonzero([g is not None for g in survey.buildings.geometry])
    mark_entries(topology, survey.buildings.geometry[outlined], outlined)
    on_paper = {*routes["from"], *routes["to"]}
    free = places.is_camera & ~np.array([name in on_paper for name in places.id], dtype=bool)
    alone = attach_cameras(topology, np.flatnonzero(free & places.located), network.spur_max_m)
    return topology, unattached_findings(
        survey.points, places, alone, np.flatnonzero(free & ~places.located), network.spur_max_m
    )


def _surroundings(survey: Survey, pieces: Pieces, building: Ints) -> _Surroundings:
    """Route columns for every segment; a spur is proposed, on the surface."""
    routes, spur = survey.routes, pieces.route < 0
    containment = texts(routes, "containment", pieces.route)
    containment[spur] = "surface"
    barrier = texts(routes, "barrier", pieces.route)
    barrier[barrier == None] = "none"  # noqa: E711  element by element
    environment = texts(routes, "environment", pieces.route)
    blank = environment == None  # noqa: E711  element by element
    environment[blank] = np.where(building >= 0, "indoor", "duct_wet").astype(object)[blank]
    environment[blank & (containment == "catenary")] = "aerial"
    environment[blank & (containment == "buried")] = "buried"
    return _Surroundings(
        building=building,
        environment=environment,
        containment=containment,
        barrier=barrier,
        surface=texts(routes, "surface", pieces.route),
        proposed=spur | (texts(routes, "status", pieces.route) == "proposed"),
        use=texts(routes, "use", pieces.route),
    )


def _middles(buildings: Layer, pieces: Pieces) -> Ints:
    """Building that the middle of each segment lies in, -1 for none and for schematic segments."""
    drawn = np.array([g is not None for g in pieces.geometry], dtype=bool)
    xy = np.full((len(pieces), 2), np.nan)
    if drawn.any():
        half = shapely.line_interpolate_point(pieces.geometry[drawn], 0.5, normalized=True)
        xy[drawn] = shapely.get_coordinates(half)
    return containing(buildings, xy)


def _segment_buildings(pieces: Pieces, nodes: Nodes, middle: Ints) -> Ints:
    """Building that each segment runs in: its middle's; for a spur or without a drawing also both ends'."""
    from_building = nodes.building[nodes.number[pieces.start_node]]
    to_building = nodes.building[nodes.number[pieces.end_node]]
    both = np.where(from_building == to_building, from_building, -1)
    undrawn = np.array([g is None for g in pieces.geometry], dtype=bool)
    spur = pieces.route < 0
    return np.where(undrawn, both, np.where(spur & (middle != both), -1, middle))
