"""Which figures an entry of each section may carry: what kind of value, and what it means."""

from collections.abc import Mapping

NUMBER, TEXT, FLAG, LIST = "a number", "a text", "true or false", "a list"

Fields = Mapping[str, tuple[str, str]]

CABLE: Fields = {
    "attenuation_a": (NUMBER, "dB per 100 m at 20 °C and 1 MHz, share that grows with √f"),
    "attenuation_b": (NUMBER, "share that grows with f"),
    "attenuation_c": (NUMBER, "share that falls with √f"),
    "attenuation_from_mhz": (NUMBER, "least frequency of the fit [MHz]"),
    "attenuation_to_mhz": (NUMBER, "greatest frequency of the fit [MHz]"),
    "conductor_mm2": (NUMBER, "cross-section of one conductor [mm²]"),
    "conductor_ohm_per_km": (NUMBER, "one conductor at 20 °C, the coaxial centre [Ω/km]"),
    "screen_ohm_per_km": (NUMBER, "screen or braid at 20 °C [Ω/km]"),
    "od_mm": (NUMBER, "overall diameter [mm]"),
    "mass_kg_per_km": (NUMBER, "mass [kg/km]"),
    "separation_class": (TEXT, "EN 50174-2 class a to d; empty: carries no electrical signal"),
    "fit": (LIST, "environments it may lie in"),
    "indoor_max_m": (
        NUMBER,
        "how far into a building it may go from where it enters, if `fit` leaves indoors out [m]",
    ),
    "sheath": (TEXT, "sheath in words"),
    "fire_class": (TEXT, "reaction to fire"),
    "uv": (FLAG, "stands sunlight"),
    "water_resistant": (FLAG, "stands wet ducts"),
    "rodent": (FLAG, "stands rodents"),
    "pull_max_n": (NUMBER, "greatest pulling tension [N]"),
    "bend_radius_od": (NUMBER, "least bend radius at rest [overall diameters]"),
    "bend_radius_pull_od": (NUMBER, "least bend radius under tension [overall diameters]"),
    "drum_m": (NUMBER, "length on a box or drum [m]"),
    "fails_from_m": (NUMBER, "length from which installed links tend to fail [m]"),
    "loss_850_db_per_km": (NUMBER, "fibre loss at 850 nm [dB/km]"),
    "loss_1300_db_per_km": (NUMBER, "fibre loss at 1300 nm [dB/km]"),
    "loss_1310_db_per_km": (NUMBER, "fibre loss at 1310 nm [dB/km]"),
    "loss_1550_db_per_km": (NUMBER, "fibre loss at 1550 nm [dB/km]"),
    "modal_mhz_km_850": (NUMBER, "overfilled modal bandwidth at 850 nm [MHz·km]"),
    "modal_mhz_km_1300": (NUMBER, "overfilled modal bandwidth at 1300 nm [MHz·km]"),
    "modal_laser_mhz_km_850": (NUMBER, "effective modal bandwidth at 850 nm [MHz·km]"),
}
SIGNAL: Fields = {
    "reference_mhz": (NUMBER, "frequency at which loss is taken [MHz]"),
    "loss_limit_db": (NUMBER, "greatest loss at that frequency [dB]"),
    "mbps": (NUMBER, "planning value of the recorded stream [Mb/s]"),
    "line_mbps": (NUMBER, "rate on the line [Mb/s]"),
    "fixed_part_m": (NUMBER, "greatest fixed part [m]"),
    "channel_m": (NUMBER, "greatest channel with cords [m]"),
    "pairs": (NUMBER, "pairs of a balanced cable that it takes"),
}
FEED: Fields = {
    "source_volts": (NUMBER, "nominal volts at the source [V]"),
    "nominal_volts": (NUMBER, "what the camera is called, where it gives no volts [V]"),
    "supply": (TEXT, "id of the supply item"),
    "pse_volts_min": (NUMBER, "least volts at the port [V]"),
    "pse_volts_max": (NUMBER, "greatest volts at the port [V]"),
    "pse_w": (NUMBER, "power the port must allocate [W]"),
    "device_w": (NUMBER, "greatest load of the device [W]"),
    "device_volts_min": (NUMBER, "least volts at the device [V]"),
    "loop_ohm_max": (NUMBER, "greatest loop of the channel over the powered pairs [Ω]"),
    "pair_sets": (NUMBER, "pair sets that carry power"),
    "conductors_each_way": (NUMBER, "conductors in parallel each way"),
}
METHOD: Fields = {
    "reach_cautious_m": (NUMBER, "the method's own reach, cautious profile [m]"),
    "reach_typical_m": (NUMBER, "the method's own reach, typical profile [m]"),
    "reach_limit_m": (NUMBER, "greatest length of the standard [m]"),
    "mbps_max": (NUMBER, "greatest rate [Mb/s]"),
    "extenders_max": (NUMBER, "greatest number of extenders on the way"),
    "load_percent": (NUMBER, "greatest share of the rate to plan with [%]"),
    "data_pairs": (NUMBER, "pairs joined through for data"),
    "plug_order": (TEXT, "order of the conductors in its plugs"),
}
ITEM: Fields = {
    "loss_db": (NUMBER, "its loss [dB]"),
    "loss_at_mhz": (NUMBER, "frequency of that loss, which grows with √f [MHz]"),
    "reach_m": (NUMBER, "trade reach it costs [m]"),
    "own_w": (NUMBER, "its own load [W]"),
    "limit_per_link": (NUMBER, "greatest number on one link"),
    "restores": (NUMBER, "share of the loss so far that it restores; 1: all"),
    "fed_by_port": (FLAG, "takes its load from the port it hangs on"),
    "channels": (NUMBER, "channels of a recorder"),
    "ports": (NUMBER, "camera ports of a switch"),
    "uplinks": (NUMBER, "uplink ports of a switch"),
    "poe_w": (NUMBER, "power for its cameras [W]"),
    "watts": (NUMBER, "rating of a supply [W]"),
    "outputs": (NUMBER, "fused outputs of a supply"),
    "reason": (TEXT, "why it passes, blocks or shorts"),
    "termination": (TEXT, "how pairs end on it"),
}
APPLICATION: Fields = {
    "reach_m": (NUMBER, "greatest length by modal bandwidth [m]"),
    "loss_db": (NUMBER, "greatest loss of the channel [dB]"),
}

FIGURES: Mapping[str, Fields] = {
    "cables": CABLE,
    "signals": SIGNAL,
    "feeds": FEED,
    "methods": METHOD,
    "items": ITEM,
    "applications": APPLICATION,
}

REQUIRED: Mapping[str, tuple[str, ...]] = {
    "cables": ("name", "family", "conductor"),
    "signals": ("name", "kind"),
    "feeds": ("name", "kind"),
    "methods": ("name", "signals", "signal_cables", "feeds", "delivers"),
    "items": ("name", "kind"),
    "applications": ("name", "wavelength_nm", "cables"),
}
"""Identity that an entry can't do without."""

NEEDED: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("feeds", "dc"): ("source_volts",),
    ("feeds", "ac"): ("source_volts",),
    ("feeds", "coax"): ("source_volts",),
    ("feeds", "poe"): ("pse_volts_min", "pse_w", "device_w", "device_volts_min", "pair_sets"),
    ("items", "repeater"): ("limit_per_link",),
    ("items", "extender"): ("own_w",),
    ("items", "switch"): ("ports", "poe_w"),
    ("items", "supply"): ("watts",),
}
"""Figures that an entry of a kind can't do without: links can't be reckoned on it otherwise."""

ABOVE_ZERO = frozenset(
    ("feeds", key)
    for key in ("source_volts", "pse_volts_min", "pse_w", "device_w", "device_volts_min", "pair_sets")
) | {("items", "watts")}
"""Figures that are divided by."""

WORDS: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("cables", "family"): ("coax", "pair", "power", "fibre"),
    ("cables", "conductor"): ("cu", "ccs", "cca", "glass"),
    ("signals", "kind"): ("analogue", "sdi", "ethernet"),
    ("feeds", "kind"): ("local", "dc", "ac", "coax", "poe"),
    ("methods", "delivers"): ("analogue", "ethernet"),
    ("items", "kind"): (
        "balun", "converter", "repeater", "extender", "injector", "isolator", "protector", "joint",
        "connector", "supply", "switch", "recorder", "encoder", "cabinet", "camera",
    ),
    ("cables", "separation_class"): ("", "a", "b", "c", "d"),
    ("methods", "plug_order"): ("t568a", "t568b"),
    ("items", "termination"): ("screw", "plug"),
}  # fmt: skip
"""Texts that must be one of these words."""
