"""The network: nodes and segments as columns, with a networkx view."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.findings import Finding

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Texts = NDArray[np.object_]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Join:
    """Two things that were made to meet.

    `kind` is end-end, end-side, vertex, crossing, point-route, point-point, camera-route or spur.
    """

    kind: str
    first: str
    second: str
    gap_m: float
    x: float
    y: float


@dataclass(frozen=True)
class Network:
    """The graph of an estate, columnar.

    Nodes and segments are numbered from 0 in a fixed order; `-1` in an index column means none.
    """

    node_id: Texts
    """Id of the point of highest rank that stands there, else N1, N2, … in order of place."""
    node_kind: Texts
    """recorder, patch, junction, pit, camera, entry (at a building's outline), meet or end."""
    node_x: Floats
    """[m]; NaN in a schematic estate."""
    node_y: Floats
    node_building: Ints
    """Row of `buildings` that the node stands in."""
    node_level: Floats
    """NaN where no level is given."""
    node_passes: Bools
    """Whether cable may go on from here; False where only cameras stand on a schematic node."""
    node_has_power: Bools
    """Whether equipment can stand and be fed here (recorder, powered patch, junction or entry of a powered building)."""
    point_node: Ints
    """Node of each row of `points`; -1 for a camera that is not connected."""

    segment_id: Texts
    segment_route: Ints
    """Row of `routes`; -1 for a proposed spur."""
    segment_from: Ints
    segment_to: Ints
    segment_length_m: Floats
    """Length of way: surveyed, else drawn in 3-D with its rise."""
    segment_start_m: Floats
    """Place along the drawn route where the segment starts [m]; NaN where there is no drawing."""
    segment_end_m: Floats
    segment_geometry: Texts
    """shapely LineString, None for schematic segments."""
    segment_building: Ints
    """Row of `buildings` that the segment runs in, -1 outdoors or unknown."""
    segment_environment: Texts
    segment_containment: Texts
    """None where unknown; `surface` for a spur."""
    segment_barrier: Texts
    segment_surface: Texts
    segment_proposed: Bools
    segment_use: Texts
    """preferred, discouraged, forbidden or None."""

    joins: tuple[Join, ...] = ()
    findings: tuple[Finding, ...] = ()
    """connect and survey findings of the drawing itself."""

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.node_id)

    @property
    def segments(self) -> int:
        """Number of segments."""
        return len(self.segment_id)

    def graph(self) -> Any:
        """Return a networkx MultiGraph: nodes by id, edges keyed by segment id, units in the names."""
        import networkx as nx  # noqa: PLC0415  slow, and only this view needs it

        view = nx.MultiGraph()
        for node in range(self.nodes):
            view.add_node(
                str(self.node_id[node]),
                kind=str(self.node_kind[node]),
                x_m=float(self.node_x[node]),
                y_m=float(self.node_y[node]),
            )
        for segment in range(self.segments):
            view.add_edge(
                str(self.node_id[self.segment_from[segment]]),
                str(self.node_id[self.segment_to[segment]]),
                key=str(self.segment_id[segment]),
                length_m=float(self.segment_length_m[segment]),
            )
        return view
