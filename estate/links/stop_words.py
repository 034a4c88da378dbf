"""Where on a link with equipment on the way a budget line holds, in words."""

from estate.links.found import Found
from estate.links.link import BudgetLine
from estate.network.network import Texts


def between_in_words(found: Found, line: BudgetLine, node_id: Texts) -> str:
    """Say from where to where a line holds: "from switch-4-60w at P to the camera"; empty for a whole link.

    A line of the feed holds from where the feed begins.
    """
    stops, source = found.scheme.stops, found.scheme.source
    k = line.stretch - 1 if line.stretch else source if line.state else 0
    if not stops or not (line.stretch or k):
        return ""
    feeds = bool(line.state) and not line.stretch
    beyond = len(stops) if feeds else k
    near = _stop(found, k - 1, node_id) if k else "the head"
    far = "the camera" if beyond == len(stops) else _stop(found, beyond, node_id)
    return f"from {near} to {far}"


def _stop(found: Found, k: int, node_id: Texts) -> str:
    """Name stop k by what stands there and where."""
    items = " and ".join(found.scheme.stops[k].items) or "the change of medium"
    return f"{items} at {node_id[found.stretches[k].nodes[-1]]}"
