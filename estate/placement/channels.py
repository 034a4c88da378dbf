"""Channels, spare channels, and the smallest recorder that has enough of them."""

import math

from estate.placement.task import Site

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
