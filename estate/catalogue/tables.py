"""The catalogue's entries as types, loaded from the TOML files beside this module and checked."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

NAN = float("nan")

STATUSES = (
    "standard",
    "handbook",
    "second_hand",
    "common_practice",
    "from_memory",
    "invented",
    "declared",
)
"""What a figure rests on; `declared` is the user's own, given in estate.toml."""
ENVIRONMENTS = ("indoor", "riser", "duct_wet", "buried", "aerial", "livestock", "hazardous")


@dataclass(frozen=True, slots=True)
class Figure:
    """A value with its source (in words) and status (one of STATUSES)."""

    value: Any
    source: str
    status: str


@dataclass(frozen=True)
class Entry:
    """What all catalogue entries have."""

    id: str
    name: str
    figures: Mapping[str, Figure] = field(default_factory=dict)
    legacy: bool = False
    """Audited, never designed."""

    def number(self, name: str) -> float:
        """Return a figure's number, NaN where the entry has none: unknown stays unknown."""
        found = self.figures.get(name)
        return float(found.value) if found is not None else NAN

    def source(self, name: str) -> str:
        """Return a figure's source with its status, empty where there is no such figure."""
        found = self.figures.get(name)
        return f"{found.source} ({found.status.replace('_', ' ')})" if found is not None else ""


@dataclass(frozen=True)
class Cable(Entry):
    """A cable.

    Figures that others rely on, all optional: attenuation_a, attenuation_b, attenuation_c (dB per 100 m at 20 °C, f in MHz), attenuation_from_mhz,
    attenuation_to_mhz, conductor_ohm_per_km (one conductor; the coax centre), screen_ohm_per_km, od_mm,
    separation_class, fit (list of environments), pull_max_n, bend_radius_od; for fibre
    loss_850_db_per_km, loss_1300_db_per_km, loss_1310_db_per_km, loss_1550_db_per_km, modal_mhz_km_850, ….
    """

    family: str = ""
    """coax, pair, power or fibre."""
    conductor: str = ""
    """cu, ccs, cca, glass."""
    reach_class: str = ""
    """Which row of a signal's trade reach applies: rg59, rg6, rg11, cat5e …; empty: none known."""
    metallic: bool = True
    screened: bool = False
    pairs: int = 0
    cores: int = 0
    aliases: tuple[str, ...] = ()

    @property
    def fit(self) -> frozenset[str]:
        """Environments the cable may lie in."""
        found = self.figures.get("fit")
        return frozenset(found.value) if found is not None else frozenset()

    @property
    def separation_class(self) -> str:
        """EN 50174-2 class a to d; a where unknown; empty for cable without metal."""
        found = self.figures.get("separation_class")
        return str(found.value) if found is not None else ("a" if self.metallic else "")


@dataclass(frozen=True)
class Signal(Entry):
    """What a camera sends. Figures: reference_mhz, loss_limit_db, mbps, fixed_part_m, channel_m."""

    kind: str = ""
    """analogue, sdi or ethernet."""
    reach: Mapping[str, Mapping[str, Figure]] = field(default_factory=dict)
    """Trade reach [m]: reach class of the cable → profile (cautious, typical) → figure."""


@dataclass(frozen=True)
class Feed(Entry):
    """How a camera gets power.

    Figures: source_volts; for PoE pse_volts_min, pse_w, device_w, device_volts_min, loop_ohm_max, pair_sets.
    """

    kind: str = ""
    """local, dc, ac, coax or poe."""


@dataclass(frozen=True)
class Method(Entry):
    """One way to connect a camera: signals + cables + feed + end equipment + use of conductors."""

    signals: tuple[str, ...] = ()
    signal_cables: tuple[str, ...] = ()
    power_cables: tuple[str, ...] = ()
    """A second cable for power beside the first; empty where there is none."""
    feeds: tuple[str, ...] = ()
    delivers: str = ""
    """What arrives at the head: analogue or ethernet."""
    at_camera: tuple[str, ...] = ()
    """Equipment ids at the camera end."""
    at_head: tuple[str, ...] = ()
    power_out: int = 0
    """Conductors in parallel that carry the power out."""
    power_back: int = 0
    video_pairs: int = 0
    applications: Mapping[str, str] = field(default_factory=dict)
    """Fibre application by cable id."""


@dataclass(frozen=True)
class Item(Entry):
    """In-line or end equipment. Figures: loss_db, own_w, limit_per_link, channels, ports, poe_w."""

    kind: str = ""
    """balun, converter, encoder, repeater, extender, injector, isolator, protector, joint, connector, supply, switch,
    recorder, cabinet, camera."""
    signals: tuple[str, ...] = ()
    """Signals it carries; empty: any."""
    families: tuple[str, ...] = ()
    """Cable families it is for; empty: any."""
    gives: tuple[str, ...] = ()
    """Feeds that begin at it, of a supply; beside those that name it."""
    passes: tuple[str, ...] = ()
    """Feeds it passes on."""
    blocks: tuple[str, ...] = ()
    shorts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Application(Entry):
    """A fibre application. Figures: reach_m, loss_db; `cables` are the ids it is given for."""

    wavelength_nm: int = 0
    cables: tuple[str, ...] = ()


@dataclass(frozen=True)
class Rates:
    """Invented rates: they rank, they never reach a bill. Keys as in [prices]."""

    tables: Mapping[str, Mapping[str, float]]

    def rate(self, table: str, key: str) -> float:
        """Return a rate, the table's `other` where the key isn't listed."""
        rows = self.tables[table]
        return rows.get(key, rows["other"])


@dataclass(frozen=True)
class Catalogue:
    """All entries by id, in the order of the files."""

    cables: Mapping[str, Cable]
    signals: Mapping[str, Signal]
    feeds: Mapping[str, Feed]
    methods: Mapping[str, Method]
    items: Mapping[str, Item]
    applications: Mapping[str, Application]
    rates: Rates
    rules: Mapping[str, Mapping[str, Figure]]
    """Figures that belong to no entry, by subject: ethernet, separation, joints, camera, outdoors …"""
