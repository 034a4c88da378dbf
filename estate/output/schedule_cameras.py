"""The schedule of cameras: where each is, what it sends, how it is joined and fed."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from estate.links.link import Link
from estate.network.network import Network
from estate.output.lacking import lacking
from estate.output.result import Table, table
from estate.survey.survey import Survey

SURVEYED = (
    "signal", "load_w", "load_night_w", "volts", "volts_min", "volts_max", "mbps", "priority", "earth_zone", "insulated",
    "power", "phase",
)  # fmt: skip
CAMERAS = (
    "camera", "name", "building", "level", "height_m", "x", "y", "link", "head", "recorder", "method", "feed", "fed_at",
    "verdict", *SURVEYED, "lacks",
)  # fmt: skip
NEEDED = ("signal", "height_m", "load_w", "load_night_w")
"""Facts without which a camera can't be ordered or its cable measured."""


def cameras_table(survey: Survey, network: Network, links: Sequence[Link]) -> Table:
    """One row per camera; what the survey doesn't say is blank and named in `lacks`."""
    points = survey.points
    own = {link.camera: link for link in links if link.camera}
    rows = [
        _row(survey, network, row, own.get(str(points["id"][row])))
        for row, kind in enumerate(points["kind"])
        if kind == "camera"
    ]
    return table(CAMERAS, rows)


def _row(survey: Survey, network: Network, row: int, link: Link | None) -> tuple[Any, ...]:
    points = survey.points
    shape, node = points.geometry[row], int(network.point_node[row])
    if shape is not None:
        x, y = float(shape.x), float(shape.y)
    else:
        x, y = (float(network.node_x[node]), float(network.node_y[node])) if node >= 0 else (np.nan, np.nan)
    joined = ("", "", "", "", "", "", "") if link is None else (
        link.id, link.head, link.recorder, link.method, link.feed, link.fed_at, link.verdict,
    )  # fmt: skip
    values = [points[name][row] for name in SURVEYED]
    facts = {name: points[name][row] for name in NEEDED}
    return (
        points["id"][row], points["name"][row], points["building"][row], points["level"][row], points["height_m"][row],
        x, y, *joined, *values, lacking(facts),
    )  # fmt: skip
