"""Limits of the placement task in words."""

from estate.placement.rows import Name
from estate.placement.shared_rows import spare_cables
from estate.placement.task import PlacementTask

SHORT = {
    "channels": "channels short by {:g}",
    "channels_analogue": "analogue channels short by {:g}",
    "channels_network": "network channels short by {:g}",
    "mbps_max": "throughput short by {:g} Mb/s",
    "poe_ports": "PoE ports short by {:g}",
    "poe_w": "PoE power short by {:g} W",
    "ports": "switch ports short by {:g}",
    "cabinet_poe_w": "PoE power to allocate short by {:g} W",
    "cabinet_draw_w": "PoE power drawn short by {:g} W",
    "uplink_mbps": "throughput of the uplink short by {:g} Mb/s",
}
"""By how much a limit is short."""

AT_CABINET = ("ports", "cabinet_poe_w", "cabinet_draw_w", "uplink_mbps")


def segment(task: PlacementTask, n: int) -> str:
    """Return what a segment is called."""
    return f"segment {task.segment_ids.get(n, n)}"


def place(task: PlacementTask, n: int) -> str:
    """Return what a place is called: sites come first, then cabinets."""
    sites = len(task.sites)
    return task.sites[n].id if n < sites else task.cabinets[n - sites].id


def section(task: PlacementTask, n: int) -> str:
    """Return what a section is called."""
    ends = task.sections[n]
    return f"the fibre section {place(task, ends.tail)} to {place(task, ends.head)}"


def where(task: PlacementTask, name: Name) -> str:
    """Return what a limit is of."""
    limit, n = name
    match limit:
        case "fill":
            return f"{segment(task, n)} full"
        case "spare":
            return f"spare cable {spare_cables(task)[n]}"
        case "apart":
            return "apart has " + ", ".join(task.cameras[c] for c in task.apart[n])
        case "cores":
            return f"cores of {section(task, n)}"
        case "uplink_reach":
            return f"cabinet {task.cabinets[n].id}: loss and reach of its uplink"
    return f"cabinet {task.cabinets[n].id}" if limit in AT_CABINET else f"recorder {task.sites[n].id}"


def setting(task: PlacementTask, name: Name) -> str:
    """Say a limit that an answer must respect, as the user set it or as the estate has it."""
    limit, n = name
    match limit:
        case "keep_recorders" | "forbid_recorders":
            return f"{limit} has {task.sites[n].id}"
        case "recorders_exactly" | "recorders_at_most":
            return f"{limit} = {getattr(task, limit)}"
        case "ports":
            return f"{where(task, name)}: switch ports"
        case "channels" | "channels_analogue" | "channels_network" | "mbps_max" | "poe_ports" | "poe_w":
            return f"{where(task, name)}: {limit}"
        case "cabinet_poe_w" | "cabinet_draw_w" | "uplink_mbps":
            return f"{where(task, name)}: {SHORT[limit].partition(' short')[0]}"
    return where(task, name)
