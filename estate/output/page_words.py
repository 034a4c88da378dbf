"""Words for people on the page: titles of tables, heads of columns with units, values as they are read."""

from typing import Any

from estate.links.lines import DIGITS
from estate.output.lacking import SCHEDULES

TITLES = {
    "findings": "Findings",
    "links": "Links",
    "would_stand": "What would give a link",
    "misses": "Nearest misses of cameras without a link",
    "survey": "What to find out first",
    "programme": "Programme of works",
    "programme_curve": "Most cameras for the money",
    "repairs": "Ways to cure each camera",
    "remedies": "Remedies, each of them once",
    "refused": "Remedies that have no room or break a rule",
    "budget": "Budget lines",
    "draft": "What the schedules still lack",
    "schedule_cameras": "Schedule of cameras",
    "schedule_cables": "Schedule of cables",
    "schedule_ways": "Schedule of ways and trenches",
    "schedule_equipment": "Schedule of equipment",
    "schedule_power": "Schedule of power",
    "tests": "Tests to be made",
    "recorders": "Recorders",
    "cabinets": "Cabinets",
    "cores": "Fibre cores",
    "terminations": "Terminations",
    "quantities": "Quantities",
    "phases": "Phases",
    "proximity": "Near mains",
    "cuts": "Single cuts",
    "containment": "Containment and fill",
    "alternatives": "Alternatives to the links chosen",
    "reuse": "Installed cables that can be used again",
    "assets": "Installed assets",
    "records": "Records to be corrected",
    "completeness": "How much of the survey is known",
    "segments": "Segments",
    "runs": "Cables, stretch by stretch",
    "equipment": "Equipment, link by link",
    "changes": "Changes",
    "assumptions": "Settings and assumptions",
    "sources": "What the figures rest on",
    "profiles": "How budgets fill up along each link",
    "segment_facts": "Facts of the segments used",
    "cable_facts": "Facts of the cables used",
}
"""Titles in the order of the page; a table that isn't here comes after them under its own name."""

FOLDED = ("profiles", "segment_facts", "cable_facts")
"""Tables that drawings are made from: last on the page, and shut until they are opened."""

HEADS = {
    "about": "what is wrong", "accuracy_m": "accuracy [m]", "allocated_w": "power allocated [W]", "amount": "amount",
    "angle_deg": "angle [°]", "area_mm2": "cross-section [mm²]", "asset": "which", "asset_kind": "what",
    "assumed": "assumed", "at": "where", "at_m": "at [m]", "avoids": "does without", "basis": "rests on",
    "best": "at best", "bore_mm": "bore [mm]", "cable_class": "class near mains", "calculated": "as calculated",
    "cameras_lost": "cameras lost", "cameras_stranded": "cameras without another way",
    "cameras_total": "cameras so far", "can": "can be used again", "change_cost": "cost of the change",
    "circuits": "mains circuits", "columns": "fact", "cost_total": "cost so far", "cured": "cameras cured",
    "deciding": "not known, decides it", "design_m": "design length [m]", "distance_m": "distance [m]",
    "ends_m": "extra at the ends [m]", "fact": "not known", "fed_at": "fed from", "fed_by": "fed by",
    "fill_before_percent": "fill before [%]", "fill_most_percent": "fill at most [%]", "fill_percent": "fill [%]",
    "from_m": "from [m]", "gb_per_day": "storage [GB a day]", "head": "from head", "in_budget": "within the budget",
    "inferred": "way only inferred", "informs": "informs only", "installed": "installed cable", "known": "known",
    "known_percent": "known [%]", "lacks": "still to be found out", "length_m": "way [m]", "level": "level",
    "limit_bent_percent": "limit with bends [%]", "limit_percent": "limit [%]", "limiting": "governed by",
    "load_night_w": "load at night [W]", "load_w": "load [W]", "loss_db": "loss [dB]", "margin_percent": "margin [%]",
    "mbps": "stream [Mb/s]", "needed": "needed", "od_mm": "diameter [mm]", "other": "other", "patch": "cabinet",
    "plan_m": "along the way [m]", "poe_used_w": "PoE allocated [W]", "poe_w": "PoE [W]",
    "pull_bends_deg": "bends pulled through [°]", "pull_cable": "hardest pull", "pull_fed_at": "pulled from",
    "pull_length_m": "length pulled [m]", "pull_limit_n": "pull, limit [N]", "pull_n": "pull [N]",
    "pull_radius_m": "bend, least radius [m]", "pull_verdict": "pull: verdict", "purchase_m": "to be bought [m]",
    "rank": "rank", "rate_from": "rate from", "reach_m": "reach [m]", "record": "goes into column", "relation": "must be",
    "required_m": "required [m]", "required_mm": "required from mains [mm]", "separation_mm": "kept from mains [mm]",
    "share_percent": "share used up [%]", "slack_m": "slack [m]", "spare": "spare", "strip_mm": "strip [mm]",
    "subject": "which", "subject_kind": "what", "supply": "supplies", "survey_accuracy_m": "surveyed to [m]",
    "taken_percent": "fill installed [%]", "tested_on": "tested on", "to_m": "to [m]", "unknown": "not known",
    "ups": "on a UPS", "used": "in use", "used_analogue": "in use, analogue", "used_network": "in use, network",
    "values": "values it could have", "verdicts": "verdicts it settles", "vertical_m": "up and down [m]",
    "volts": "volts [V]", "volts_day": "volts by day [V]", "volts_max": "at most [V]", "volts_min": "at least [V]",
    "volts_night": "volts at night [V]", "why": "why", "with_others": "with others, it settles",
    "works_cost": "works used, in full",
}  # fmt: skip
"""Heads of columns that the general rule doesn't say well."""

OWN_HEADS = {
    ("links", "values"): "sets of values judged",
    ("links", "unknown"): "not known of it",
    ("links", "deciding"): "of that, decides the verdict",
    ("remedies", "cameras"): "cameras it can help to cure",
    ("programme", "cameras"): "cameras cured with it",
    ("survey", "cameras"): "cameras concerned",
}
"""Heads of columns that mean another thing in one table."""

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
    "duct_wet": "duct, wet",
    **SCHEDULES,
}
"""Words of a result that say little to people as they are."""

ENUMERATED = frozenset({
    "severity", "effect", "action", "actions", "subject_kind", "verdict", "kind", "status", "state", "profile", "basis",
    "role", "step", "containment", "environment", "purpose", "cable_class", "placement", "fed_by", "result",
    "about", "schedule", "calculated", "best", "can", "pull_verdict", "layer",
})  # fmt: skip
"""Columns that hold words of the program's own, where an underscore is a blank."""


FACTS = {
    "load_w": "load by day", "load_night_w": "load at night", "length_m": "length", "cable": "type", "routes": "way",
    "volts_night": "volts at night", "picture_night": "picture at night", "loop_ohm": "loop resistance",
    "feeds": "feed", "depth_mm": "depth", "height_m": "mounting height", "bore_mm": "bore", "area_mm2": "cross-section",
    "width_mm": "width", "support_mm": "distance between supports", "fill_percent": "fill",
}  # fmt: skip
"""What the columns of layers hold, where what is not known is told."""

NAMES_FACTS = ("fact", "unknown", "deciding", "columns", "record")
"""Columns that name facts: alone, as "fact of K1", or several of them."""


def fact(name: str) -> str:
    """Return a fact in words, alone or with what it is of.

    >>> fact("load_night_w of C02"), fact("joints"), fact("bore_mm or area_mm2")
    ('load at night of C02', 'joints', 'bore or cross-section')
    """
    known, of, subject = name.partition(" of ")
    return " or ".join(FACTS.get(each, each.replace("_", " ")) for each in known.split(" or ")) + of + subject


def title(table: str) -> str:
    """Return the title of a table, its own name in words where none is given."""
    return TITLES.get(table) or in_words(table).capitalize()


def in_words(name: str) -> str:
    """Return a name as words."""
    return WORDS.get(name) or name.replace("_", " ")


def head(column: str, table: str = "") -> str:
    """Return the head of a column with its unit; some mean another thing in one table.

    >>> head("cable_length_m"), head("margin_percent"), head("screen_ohm"), head("camera")
    ('cable length [m]', 'margin [%]', 'screen [Ω]', 'camera')
    """
    if (table, column) in OWN_HEADS:
        return OWN_HEADS[table, column]
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
    if column in NAMES_FACTS:
        text = "; ".join(map(fact, text.split(";")))
    return "; ".join(filter(None, map(str.strip, text.split(";")))) if ";" in text else text


def _number(column: str, value: float, unit: str) -> str:
    if unit and column == "limit":
        return f"{round(value, 2):g}"
    if unit:
        return f"{value:,.{DIGITS.get(unit, 1)}f}"
    digits = 2 if column in FINE else DECIMALS.get(column.rsplit("_", 1)[-1])
    return f"{round(value, 3):,g}" if digits is None else f"{value:,.{digits}f}"
