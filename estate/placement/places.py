"""Where findings stand, and whom a link or a segment serves."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from estate.links.link import Link
from estate.network.network import Network


def cameras_of(links: Sequence[Link]) -> dict[str, tuple[str, ...]]:
    """Return the cameras that hang on each link, by its id: its own, or those of the cabinet that an uplink feeds."""
    behind: dict[str, list[str]] = defaultdict(list)
    for link in links:
        if link.kind == "camera" and link.head != link.recorder:
            behind[link.head].append(link.camera)
    return {
        link.id: (link.camera,) if link.kind == "camera" else tuple(sorted(behind[link.patch]))
        for link in links
    }


def uplinks_of(links: Sequence[Link]) -> dict[str, list[int]]:
    """Return the uplinks, standby ones included, of each cabinet by its id, as indices into `links`."""
    uplinks: dict[str, list[int]] = defaultdict(list)
    for k, link in enumerate(links):
        if link.patch and link.nodes:
            uplinks[link.patch].append(k)
    return dict(uplinks)


def segment_users(links: Sequence[Link]) -> dict[int, tuple[str, ...]]:
    """Return the cameras that lose their link with each segment."""
    served = cameras_of(links)
    users: dict[int, set[str]] = defaultdict(set)
    for link in links:
        for segment in link.segments:
            users[segment].update(served[link.id])
    return {segment: tuple(sorted(cameras)) for segment, cameras in sorted(users.items())}


def served_by(links: Sequence[Link], some: Iterable[Link]) -> tuple[str, ...]:
    """Return the cameras that hang on some of the links."""
    served = cameras_of(links)
    return tuple(sorted({camera for link in some for camera in served[link.id]}))


def middle(network: Network, segment: int) -> tuple[float, float]:
    """Return the point half-way along a segment [m]; NaN where it isn't drawn."""
    line = network.segment_geometry[segment]
    if line is None:
        return float("nan"), float("nan")
    point = line.interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)
