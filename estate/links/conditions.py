"""What every link of a run is judged by, beside its own facts."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from estate.catalogue.tables import Catalogue
from estate.links.camera import CameraFacts
from estate.settings import LengthsSection, LimitsSection


@dataclass(frozen=True, slots=True, order=True)
class SupplyVolts:
    """What feeds from the head: least and greatest volts, and where that is known from."""

    least: float
    greatest: float
    basis: str
    source: str


@dataclass(frozen=True)
class Conditions:
    """Catalogue, limits and lengths, the ambient temperature, and the supplies at the head."""

    catalogue: Catalogue
    limits: LimitsSection
    lengths: LengthsSection
    ambient_c: float
    supplies: dict[str, SupplyVolts] = field(default_factory=dict)
    """By feed id; a feed that is absent takes the catalogue's volts."""

    @property
    def cable_c(self) -> float:
        """Temperature of a cable: that of the air, never taken as cooler than the 20 °C of its figures [°C]."""
        return max(20.0, self.ambient_c)


@dataclass(frozen=True, slots=True)
class Joints:
    """Joints in a link's cable. One known good costs decibels, one bad or unknown costs trade reach: never both."""

    good: int = 0
    bad_or_unknown: int = 0

    @property
    def count(self) -> int:
        """All of them."""
        return self.good + self.bad_or_unknown


NO_JOINTS = Joints()


def cable_length_m(way_m: float, heights_m: float, lengths: LengthsSection) -> float:
    """Return the design length of a cable: way and mounting heights with slack, and both ends [m]."""
    return (way_m + heights_m) * (1 + lengths.slack_percent / 100) + 2 * lengths.end_m


def stream_mbps(camera: CameraFacts, catalogue: Catalogue) -> float:
    """Return the camera's stream: its own, else its signal's planning value, NaN where neither is known [Mb/s]."""
    if not math.isnan(camera.mbps) or camera.signal is None:
        return camera.mbps
    return catalogue.signals[camera.signal].number("mbps")


def stream_that_counts(camera: CameraFacts, methods: Iterable[str], catalogue: Catalogue) -> float | None:
    """Return a camera's own stream where one of the methods has a greatest rate, else None: cameras differ in it only there."""
    limited = any("mbps_max" in catalogue.methods[method].figures for method in methods)
    return camera.mbps if limited and not math.isnan(camera.mbps) else None
