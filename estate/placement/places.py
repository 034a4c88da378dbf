"""Where findings stand, and whom a segment serves."""

from collections import defaultdict
from collections.abc import Iterable

from estate.links.link import Link
from estate.network.network import Network


def segment_users(links: Iterable[Link]) -> dict[int, tuple[str, ...]]:
    """Return the cameras whose links use each segment."""
    users: dict[int, set[str]] = defaultdict(set)
    for link in links:
        for segment in link.segments:
            users[segment].add(link.camera)
    return {segment: tuple(sorted(cameras)) for segment, cameras in sorted(users.items())}


def middle(network: Network, segment: int) -> tuple[float, float]:
    """Return the point half-way along a segment [m]; NaN where it isn't drawn."""
    line = network.segment_geometry[segment]
    if line is None:
        return float("nan"), float("nan")
    point = line.interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)
