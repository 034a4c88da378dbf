"""A straight trench to a camera that nothing joins to a recorder: where it would run, and the search with it drawn in.

Indicative only: shortest in plan, outdoors, neither surveyed nor cleared of what lies in the ground.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely.geometry import LineString, Point

from estate.links.search import LinkSearch
from estate.links.separation import segment_separation
from estate.links.site import recorder_sites
from estate.links.ways import barred_to_all
from estate.network.build import build_network
from estate.network.network import Network
from estate.survey.fields import LAYERS
from estate.survey.survey import Layer, Survey

INDICATIVE = "indicative, straight, not surveyed; locate services and hand-dig"
HAZARD = "hazardous area: classification first, by a competent person"
NEAR_MAINS = "may lie within {metres:g} m of buried mains: no machine digging"
LEAST_M = 0.01


@dataclass(frozen=True, slots=True)
class Trench:
    """A proposed trench: its line, from the camera's side, and what it is in words."""

    name: str
    line: LineString
    text: str
    notes: tuple[str, ...] = (INDICATIVE,)


@dataclass(frozen=True)
class Dug:
    """The search on a network where the trenches are drawn in as proposed routes."""

    search: LinkSearch
    lines: dict[int, Trench]
    """By camera."""
    of_segment: dict[int, Trench]
    near_buried: dict[int, str]
    """By segment, the caution where buried mains may be within the hand-dig distance."""


def trenches_to(search: LinkSearch, cameras: Sequence[int]) -> Dug | None:
    """Return the shortest trench for each camera that joins no recorder, drawn in; None where there is none.

    From the camera, or its part of the network, to the nearest route outdoors that is joined to a recorder.
    Segments that nothing may use join nothing. A line that would cross a building is no trench.
    """
    lines: dict[int, Trench] = {}
    for camera in cameras:
        trench = _trench(search, camera)
        if trench is not None:
            lines[camera] = trench
    if not lines:
        return None
    survey = replace(search.survey, routes=_with_routes(search.survey.routes, list(lines.values())))
    network = build_network(survey)
    separation = segment_separation(network, survey, search.catalogue)
    sites = recorder_sites(survey, network, search.catalogue)
    dug = LinkSearch(network, survey, search.catalogue, search.prices, separation, search.cameras, sites)
    first, trenches = len(search.survey.routes), list(lines.values())
    of_segment = {
        s: trenches[int(network.segment_route[s]) - first]
        for s in np.flatnonzero(network.segment_route >= first).tolist()
    }
    return Dug(dug, lines, of_segment, _near_buried(dug))


def _near_buried(search: LinkSearch) -> dict[int, str]:
    """Return the caution of each segment that may lie within the hand-dig distance of a buried mains run."""
    exposures, mains = search.separation.exposures, search.survey.mains
    hand_dig_m = float(search.catalogue.rules["outdoors"]["hand_dig_m"].value)
    buried = np.array(
        [run >= 0 and mains["placement"][run] == "buried" for run in exposures.mains], dtype=bool
    )
    near = buried & (exposures.distance_m - exposures.accuracy_m < hand_dig_m)
    return {int(s): NEAR_MAINS.format(metres=hand_dig_m) for s in exposures.segment[near]}


def _trench(search: LinkSearch, camera: int) -> Trench | None:
    """Return the shortest trench for one camera, None where it is joined, or where nothing is drawn."""
    if joined_to_recorder(search, camera):
        return None
    network, survey = search.network, search.survey
    row = search.cameras[camera].row
    node = int(network.point_node[row])
    part = _parts(network)
    place: Any = survey.points.geometry[row]
    own = [] if node < 0 else [network.segment_geometry[s] for s in _outdoors(network, part == part[node])]
    start = shapely.union_all([*own, *([place] if place is not None else [])])
    segments = _outdoors(network, np.isin(part, _with_recorder(search, part)))
    if start.is_empty or not segments:
        return None
    ends = network.segment_geometry[segments]
    nearest = int(np.argmin(shapely.distance(ends, start)))
    line = shapely.shortest_line(start, ends[nearest])
    if line.length < LEAST_M or _crosses_building(survey, line):
        return None
    name = search.cameras[camera].id
    begin = name if Point(line.coords[0]) == place else f"the routes at {name}"
    end = survey.routes["id"][network.segment_route[segments[nearest]]]
    notes = (
        (INDICATIVE, HAZARD) if node >= 0 and _is_hazardous(network, part == part[node]) else (INDICATIVE,)
    )
    text = f"a trench of {line.length:.0f} m from {begin} to route {end}"
    return Trench(f"trench to {name}", line, text, notes)


def _is_hazardous(network: Network, nodes: NDArray[np.bool_]) -> bool:
    """Whether a hazardous area meets some nodes."""
    met = nodes[network.segment_from] | nodes[network.segment_to]
    return bool((met & (network.segment_environment == "hazardous")).any())


def joined_to_recorder(search: LinkSearch, camera: int) -> bool:
    """Whether segments that may be used join a camera to a recorder."""
    node = int(search.network.point_node[search.cameras[camera].row])
    part = _parts(search.network)
    return node >= 0 and int(part[node]) in _with_recorder(search, part)


def _with_recorder(search: LinkSearch, part: NDArray[np.int64]) -> list[int]:
    """Return the joined parts that hold a recorder site."""
    return sorted({int(part[site.node]) for site in search.sites if site.node >= 0})


def _parts(network: Network) -> NDArray[np.int64]:
    """Return the number of the joined part that each node is in, over the segments that may be used."""
    usable = np.flatnonzero(~barred_to_all(network))
    ends = (network.segment_from[usable], network.segment_to[usable])
    graph = coo_array((np.ones(len(usable)), ends), shape=(network.nodes, network.nodes))
    parts: NDArray[np.int64] = connected_components(graph, directed=False)[1].astype(np.int64)
    return parts


def _outdoors(network: Network, nodes: NDArray[np.bool_]) -> list[int]:
    """Return the drawn segments of routes outdoors between some nodes that may be used; nothing joins a spur."""
    drawn = np.array([line is not None for line in network.segment_geometry], dtype=bool)
    drawn &= network.segment_route >= 0
    inside = nodes[network.segment_from] & nodes[network.segment_to]
    here = drawn & inside & ~barred_to_all(network) & (network.segment_building < 0)
    return [int(s) for s in np.flatnonzero(here)]


def _crosses_building(survey: Survey, line: LineString) -> bool:
    outlines = [b for b in survey.buildings.geometry if b is not None]
    return any(outline.intersection(line).length > LEAST_M for outline in outlines)


# The routes layer with more rows


def _with_routes(routes: Layer, trenches: Sequence[Trench]) -> Layer:
    """Return the routes with trenches as proposed ducts at the end, everything else of them blank."""
    rows = [_row(trench) for trench in trenches]
    columns = {
        name: np.concatenate([column, _more(column, LAYERS["routes"].by_name, name, rows)])
        for name, column in routes.columns.items()
    }
    geometry = np.concatenate([routes.geometry, _objects(trench.line for trench in trenches)])
    origin = np.concatenate([routes.origin, _objects(trench.name for trench in trenches)])
    return replace(
        routes, columns=columns, geometry=geometry, origin=origin, extra={}, assumed={}, defaulted={}
    )


def _row(trench: Trench) -> dict[str, Any]:
    return {"id": trench.name, "status": "proposed", "containment": "duct", "barrier": "none"}


def _more(column: NDArray[Any], schema: Any, name: str, rows: Sequence[dict[str, Any]]) -> NDArray[Any]:
    """Return the values of one column for added rows, in its own type; blank where a row has none."""
    kind = schema[name].kind if name in schema else "text"
    blank = np.nan if column.dtype.kind == "f" else () if kind == "list" else None
    values = _objects(row.get(name, blank) for row in rows)
    return values.astype(column.dtype) if column.dtype.kind == "f" else values


def _objects(values: Iterator[Any]) -> NDArray[np.object_]:
    listed = list(values)
    made = np.empty(len(listed), dtype=object)
    for k, value in enumerate(listed):  # in one go, tuples would be taken as rows
        made[k] = value
    return made
