"""Channels, ports and cores, the spare of each, and the smallest device that has enough of them."""

import math

from estate.placement.task import PlacementTask, Section, Site, Switch

ROUNDING = 1e-9
"""Guards whole numbers against binary fractions: 20 cameras × 1.25 are 25 channels, not 26."""


def channels_needed(cameras: int, spare_percent: float) -> int:
    """Return the channels a new recorder must have for its cameras and the spare.

    >>> channels_needed(11, 25), channels_needed(20, 25)
    (14, 25)
    """
    return math.ceil(cameras * (1 + spare_percent / 100) - ROUNDING)


def cameras_allowed(channels: int, spare_percent: float) -> int:
    """Return the most cameras a new recorder may take with its spare kept: the inverse of `channels_needed`.

    >>> cameras_allowed(16, 25), cameras_allowed(32, 25)
    (12, 25)
    """
    return math.floor((channels + ROUNDING) / (1 + spare_percent / 100))


def site_spare_percent(site: Site, spare_percent: float) -> float:
    """Return the spare that binds at a site: none at an existing recorder, where it is only a finding."""
    return 0.0 if site.existing else spare_percent


def size_cost(site: Site, size: int) -> float:
    """Return the money one size costs at a site: nothing where the recorder exists [currency]."""
    return 0.0 if site.existing else site.sizes[size][1]


def fitting_size(site: Site, cameras: int, spare_percent: float) -> int:
    """Return the index of the cheapest size that takes so many cameras, then the smallest; -1 where none does."""
    needed = channels_needed(cameras, site_spare_percent(site, spare_percent))
    fitting = [size for size, (channels, _, _) in enumerate(site.sizes) if channels >= needed]
    return min(fitting, key=lambda size: (size_cost(site, size), site.sizes[size][0], size), default=-1)


def switch_spare_percent(switch: Switch, spare_percent: float) -> float:
    """Return the spare that binds at a switch: none at one that stands already."""
    return 0.0 if switch.existing else spare_percent


def switch_cost(task: PlacementTask, cabinet: int, switch: int) -> float:
    """Return the money of a switch at a cabinet, with the power brought to it and its uplink [currency].

    A switch that stands costs nothing but its uplink, and power where there is none.
    """
    place = task.cabinets[cabinet]
    chosen = place.switches[switch]
    return chosen.uplink_cost + place.power_cost + (0.0 if chosen.existing else chosen.cost)


CORES_PER_UPLINK = 2
"""One each way."""


def cores_needed(task: PlacementTask, uplinks: int) -> int:
    """Return the cores that a fibre must have for its uplinks and the spare: the set number, and the set share.

    With two spare cores at least, and half of those used, one uplink needs 4 cores, two need 6, four need 12.
    """
    cores = CORES_PER_UPLINK * uplinks
    return cores + max(task.spare_cores, math.ceil(cores * task.spare_cores_percent / 100 - ROUNDING))


def uplinks_allowed(task: PlacementTask, section: Section, size: int) -> int:
    """Return the most uplinks that one cable of a section carries with its spare kept."""
    cores = section.sizes[size].cores
    uplinks = cores // CORES_PER_UPLINK
    while uplinks > 0 and cores_needed(task, uplinks) > cores:
        uplinks -= 1
    return uplinks
