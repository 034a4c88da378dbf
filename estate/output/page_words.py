"""Words for people on the page: titles of tables, heads of columns with units, values as they are read."""

from typing import Any

from estate.links.lines import DIGITS

TITLES = {
    "findings": "Findings",
    "links": "Links",
    "budget": "Budget lines",
    "recorders": "Recorders",
    "cabinets": "Cabinets",
    "would_stand": "What would give a link",
    "misses": "Nearest misses of cameras without a link",
    "survey": "What to survey first",
    "remedies": "Remedies",
    "programme": "Programme of works",
    "reuse": "Installed cables that can be used again",
    "proximity": "Near mains",
    "cuts": "Single cuts",
    "phases": "Phases",
    "alternatives": "Alternatives to the links chosen",
    "segments": "Segments",
    "containment": "Containment and fill",
    "quantities": "Quantities",
    "assets": "Installed assets",
    "records": "Records to be corrected",
    "runs": "Cables, stretch by stretch",
    "equipment": "Equipment",
    "terminations": "Terminations",
    "cores": "Fibre cores",
    "tests": "Tests to be made",
    "changes": "Changes",
    "assumptions": "Settings and assumptions",
    "sources": "What the figures rest on",
}
"""Titles in the order of the page; a table that isn't here comes after them under its own name."""

HEADS = {
    "accuracy_m": "accuracy [m]", "amount": "amount", "angle_deg": "angle [°]", "avoids": "does without",
    "basis": "rests on", "cameras_lost": "cameras lost", "cameras_stranded": "cameras without another way",
    "change_cost": "cost of the change", "circuits": "mains circuits", "cost_total": "cost so far",
    "distance_m": "distance [m]", "fed_at": "fed from", "fed_by": "fed by", "fill_percent": "fill [%]",
    "from_m": "from [m]", "gb_per_day": "storage [GB a day]", "head": "from head", "informs": "informs only",
    "installed": "installed cable", "length_m": "way [m]", "limiting": "governed by", "loss_db": "loss [dB]",
    "margin_percent": "margin [%]", "mbps": "stream [Mb/s]", "other": "other", "patch": "cabinet",
    "poe_used_w": "PoE allocated [W]", "poe_w": "PoE [W]", "required_m": "required [m]", "spare": "spare",
    "strip_mm": "strip [mm]", "subject_kind": "what", "subject": "which", "to_m": "to [m]", "used": "in use",
    "used_analogue": "in use, analogue", "used_network": "in use, network", "volts_day": "volts by day [V]",
    "volts_night": "volts at night [V]", "works_cost": "works used, in full",
}  # fmt: skip
"""Heads of columns that the general rule doesn't say well."""

UNITS = {
    "m": "m", "mm": "mm", "mm2": "mm²", "percent": "%", "db": "dB", "deg": "°", "w": "W", "c": "°C", "ohm": "Ω",
    "v": "V", "mv": "mV", "n": "N", "a": "A", "mohm": "MΩ", "vpp": "V peak to peak", "mbps": "Mb/s", "kg": "kg",
    "hz": "Hz", "mhz": "MHz", "s": "s", "vpm": "V/m", "nm": "nm", "kn": "kN", "va": "VA", "h": "h",
}  # fmt: skip
"""Units by the last part of a column's name."""

DECIMALS = {
    "m": 1, "mm": 0, "mm2": 0, "percent": 1, "db": 2, "deg": 0, "w": 1, "cost": 2, "amount": 2, "rate": 2,
    "total": 2, "quantity": 2, "day": 2, "night": 2, "mbps": 1,
}  # fmt: skip
FINE = ("distance_m", "accuracy_m", "required_m", "from_m", "to_m")
"""Columns in which centimetres count."""

PLAIN = ("year", "x", "y")
"""Numbers without signs between thousands."""

MONEY = ("cost", "change_cost", "works_cost", "cost_total", "rate", "amount")

WORDS = {
    "optimal": "proven the cheapest, within the gap allowed",
    "best_found": "best found, not proven the cheapest",
    "time_limit": "stopped at the time limit, not proven the cheapest",
    "interrupted": "interrupted, not proven the cheapest",
    "cable_length": "length of new cable",
}
"""Words of a result that say little to people as they are."""

ENUMERATED = frozenset({
    "severity", "effect", "action", "actions", "subject_kind", "verdict", "kind", "status", "state", "profile", "basis",
    "role", "step", "containment", "environment", "purpose", "cable_class", "placement", "fed_by", "result",
})  # fmt: skip
"""Columns that hold words of the program's own, where an underscore is a blank."""


def title(table: str) -> str:
    """Return the title of a table, its own name in words where none is given."""
    return TITLES.get(table) or in_words(table).capitalize()


def in_words(name: str) -> str:
    """Return a name as words."""
    return WORDS.get(name) or name.replace("_", " ")


def head(column: str) -> str:
    """Return the head of a column with its unit.

    >>> head("cable_length_m"), head("margin_percent"), head("screen_ohm"), head("camera")
    ('cable length [m]', 'margin [%]', 'screen [Ω]', 'camera')
    """
    if column in HEADS:
        return HEADS[column]
    words, _, unit = column.rpartition("_")
    if words and unit in UNITS:
        return f"{words.replace('_', ' ')} [{UNITS[unit]}]"
    return column.replace("_", " ")


def is_money(column: str) -> bool:
    """Whether a column holds money."""
    return column in MONEY or column.startswith("cost_")


def told(column: str, value: Any, unit: str = "") -> str:
    """Return a value as it is read in a column; `unit` is that of its row, where the row has one.

    >>> told("cost", 1234.5), told("length_m", 35.097), told("spare", True), told("cost", None)
    ('1,234.50', '35.1', 'yes', '')
    >>> told("status", "best_found"), told("value", 60.0, "mm"), told("links", "L-1;L-2")
    ('best found, not proven the cheapest', '60', 'L-1; L-2')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float) and column in PLAIN:
        return f"{value:.10g}"
    if isinstance(value, int):
        return f"{value:,}"
    if isinstance(value, float):
        return _number(column, value, unit)
    text = str(value)
    if column in ENUMERATED:
        text = in_words(text)
    return "; ".join(filter(None, map(str.strip, text.split(";")))) if ";" in text else text


def _number(column: str, value: float, unit: str) -> str:
    if unit and column == "limit":
        return f"{round(value, 2):g}"
    if unit:
        return f"{value:,.{DIGITS.get(unit, 1)}f}"
    digits = 2 if column in FINE else DECIMALS.get(column.rsplit("_", 1)[-1])
    return f"{round(value, 3):,g}" if digits is None else f"{value:,.{digits}f}"
