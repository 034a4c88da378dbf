"""The layers of an estate and their columns: one schema that validation, templates and the reference page share."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

CATALOGUE = "catalogue:"
"""Prefix of a `refers_to` that names a table of the catalogue, not a layer."""


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a layer.

    `kind` is text, number, count (whole number), flag (yes or no), list or choice. `refers_to` names the layer
    whose ids the column holds, `catalogue:TABLE`, or `phases`. `only_for` lists the kinds of point that a
    column belongs to; a value given for another kind is kept.
    """

    name: str
    kind: str
    doc: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    default: Any = None
    required: bool = False
    least: float | None = None
    most: float | None = None
    refers_to: str = ""
    only_for: tuple[str, ...] = ()
    example: Any = None


@dataclass(frozen=True)
class LayerSchema:
    """One layer: its columns, and what its geometry is (line, point, polygon or none)."""

    name: str
    geometry: str
    doc: str
    columns: tuple[Column, ...]

    @property
    def by_name(self) -> Mapping[str, Column]:
        """The columns by name."""
        return {column.name: column for column in self.columns}


def _text(name: str, doc: str, **more: Any) -> Column:
    return Column(name=name, kind="text", doc=doc, **more)


def _number(name: str, doc: str, unit: str = "", **more: Any) -> Column:
    """Declare a number that may not be negative, unless `least` says otherwise."""
    return Column(name=name, kind="number", doc=doc, unit=unit, **{"least": 0.0, **more})


def _count(name: str, doc: str, **more: Any) -> Column:
    return Column(name=name, kind="count", doc=doc, **{"least": 0, **more})


def _flag(name: str, doc: str, **more: Any) -> Column:
    return Column(name=name, kind="flag", doc=doc, **more)


def _list(name: str, doc: str, **more: Any) -> Column:
    return Column(name=name, kind="list", doc=doc, **more)


def _choice(name: str, doc: str, choices: str, **more: Any) -> Column:
    return Column(name=name, kind="choice", doc=doc, choices=tuple(choices.split()), **more)


def _id(doc: str, example: str) -> Column:
    return _text("id", doc, required=True, example=example)


POWER = "none unswitched switched ups"
ACCURACY = "accuracy of the survey; blank: [network] survey_accuracy_m"

ROUTES = (
    _id("name of the route", "R1"),
    _choice("status", "whether it is there", "existing proposed", default="existing", example="existing"),
    _choice(
        "containment",
        "what carries the cable; blank: unknown",
        "duct conduit trunking tray basket catenary buried surface",
        example="duct",
    ),
    _choice(
        "barrier",
        "metallic containment in the sense of EN 50174-2",
        "none open perforated solid",
        default="none",
        example="none",
    ),
    _choice(
        "environment",
        "what the cable must stand; blank: aerial for catenary, buried for buried, else indoor inside a "
        "building and duct_wet outside",
        "indoor riser duct_wet buried aerial livestock hazardous",
        example="duct_wet",
    ),
    _number("length_m", "surveyed length: beats the drawing and includes rises", "m", example=66.0),
    _number("length_ft", "the same in international feet; give one of the two", "ft"),
    _number("rise_m", "length of rises that the plan doesn't show", "m"),
    _number("level", "storey; blank joins with any", least=None, example=0),
    _count("ways", "number of ways", least=1, example=1),
    _number("bore_mm", "inside diameter of a way", "mm", example=50),
    _number("area_mm2", "inside area of a way, where it isn't round", "mm²"),
    _number("width_mm", "width of a tray or basket", "mm"),
    _number("support_mm", "distance between supports", "mm"),
    _number(
        "fill_percent",
        "taken by cables not listed in `cables`; blank: unknown if existing, 0 if proposed",
        "%",
        most=100,
        example=10,
    ),
    _number("bends", "number of 90° bends, spread evenly unless drawn", example=2),
    _text("surface", "surface over a trench, as in the prices", example="grass"),
    _number("depth_mm", "depth of the trench", "mm", example=600),
    _number("build_cost_m", "cost of building it; beats trench_m and containment_m", "per m"),
    _text("owner", "whose it is"),
    _text("phase", "phase of works, as in [phases]", refers_to="phases"),
    _choice("use", "wish of the owner or the designer", "preferred discouraged forbidden"),
    _number("separation_mm", "surveyed distance to mains runs: beats the drawing", "mm"),
    _list("separation_from", "the mains runs that separation_mm was taken from", refers_to="mains"),
    _number("survey_accuracy_m", ACCURACY, "m", example=0.5),
    _text("from", "schematic routes only: point where it starts", refers_to="points"),
    _text("to", "schematic routes only: point where it ends", refers_to="points"),
)

CAMERA, RECORDER, PATCH = ("camera",), ("recorder",), ("patch",)
HEAD = ("recorder", "patch")

POINTS = (
    _id("name of the point", "CAM1"),
    _choice("kind", "what stands there", "camera recorder patch junction pit", required=True, example="camera"),
    _text("name", "name for people"),
    _text("building", "building it stands in", refers_to="buildings", example="B1"),
    _number("level", "storey", least=None, example=0),
    _number("height_m", "above its level: mounting height", "m", example=3),
    _choice("power", "mains power at the point", POWER, example="unswitched"),
    _text("earth_zone", "what it shares an earth with"),
    _text("phase", "phase of works, as in [phases]", refers_to="phases"),
    _text("signal", "what the camera sends", refers_to="catalogue:signals", only_for=CAMERA, example="ethernet-100m"),
    _number("load_w", "load by day", "W", only_for=CAMERA, example=5),
    _number("load_night_w", "load by night, with infra-red and heater", "W", only_for=CAMERA, example=9),
    _list(
        "feeds", "how it may be powered; blank: any", refers_to="catalogue:feeds", only_for=CAMERA, example=("poe1",)
    ),
    _number("volts", "rated voltage", "V", only_for=CAMERA),
    _number("volts_min", "least voltage; blank: 0.9 × volts (common practice)", "V", only_for=CAMERA),
    _number("volts_max", "greatest voltage; blank: 1.1 × volts (common practice)", "V", only_for=CAMERA),
    _number("mbps", "data rate; blank: the signal's", "Mb/s", only_for=CAMERA, example=6),
    _count("priority", "1 first to 9 last", least=1, most=9, default=5, only_for=CAMERA, example=5),
    _flag("insulated", "insulated from earthed steel", only_for=CAMERA, example=True),
    _choice("status", "there, or a place where one could be", "existing candidate", only_for=HEAD, example="candidate"),
    _list(
        "accepts",
        "signals it takes: analogue, ethernet or ids of signals; blank: any",
        choices=("analogue", "ethernet"),
        refers_to="catalogue:signals",
        only_for=RECORDER,
        example=("analogue", "ethernet"),
    ),
    _count("channels", "channels in all; blank: the smallest size of the catalogue that fits", only_for=RECORDER),
    _count("channels_analogue", "analogue channels at most", only_for=RECORDER),
    _count("channels_network", "network channels at most", only_for=RECORDER),
    _number("mbps_max", "throughput at most", "Mb/s", only_for=RECORDER),
    _count("poe_ports", "ports that feed cameras", only_for=RECORDER),
    _count("ports", "ports of the switch; blank: as needed", only_for=PATCH, example=8),
    _number("poe_w", "power that the ports share", "W", only_for=HEAD),
    _number("cost", "cost of what is put up there; what exists costs nothing", only_for=HEAD, example=900),
    _number("power_cost", "cost of bringing power", only_for=PATCH),
)  # fmt: skip

MAINS = (
    _id("name of the mains run", "M1"),
    _choice(
        "kind",
        "what it is",
        "mains drive fence discharge_lamp lightning_protection",
        default="mains",
        example="mains",
    ),
    _choice("placement", "where it runs", "indoor buried overhead", example="buried"),
    _number("volts", "nominal voltage", "V", example=400),
    _count("phases", "number of phases", least=1, most=3, example=3),
    _number("amps", "rated current of one circuit", "A", example=63),
    _count("circuits", "number of circuits; blank: unknown", example=1),
    _flag("screened", "screened or armoured", example=False),
    _text("owner", "whose it is", example="estate"),
    _number("level", "storey; blank matches any", least=None),
    _number("survey_accuracy_m", ACCURACY, "m", example=1.0),
)

BUILDINGS = (
    _id("name of the building", "B1"),
    _text("name", "name for people", example="Long barn"),
    _choice("earthing", "earthing system; blank: unknown", "TN-S TN-C-S TT IT", example="TT"),
    _text("earth_zone", "buildings of one zone share one earth; blank: its own"),
    _number("level_height_m", "from one storey to the next", "m", default=3.5, example=3.5),
    _choice("power", "mains power in the building", POWER, example="unswitched"),
)

SUPPLIES = (
    _id("name of the power supply", "PS1"),
    _text("at", "point where it stands", required=True, refers_to="points", example="REC1"),
    _choice("kind", "direct or alternating current", "dc ac", example="dc"),
    _number("volts", "rated voltage", "V", example=12),
    _number("volts_min", "least voltage at its terminals", "V"),
    _number("volts_max", "greatest voltage at its terminals", "V"),
    _number("watts", "rated power", "W", example=60),
    _count("outputs", "number of outputs", example=4),
    _number("fuse_a", "fuse of one output", "A", example=1),
    _flag("ups", "holds through a mains failure", example=False),
    _choice("status", "whether it is there", "existing proposed", example="existing"),
)

CABLES = (
    _id("name of the installed cable", "K1"),
    _text("from", "point where it starts, or unknown", required=True, refers_to="points", example="CAM1"),
    _text("to", "point where it ends, or unknown", required=True, refers_to="points", example="REC1"),
    _text("camera", "camera it serves; blank for trunks", refers_to="points", example="CAM1"),
    _choice("status", "whether it is used", "in_use spare dead", example="in_use"),
    _text("cable", "type of cable, or unknown", refers_to="catalogue:cables", example="cat6-utp"),
    _count("cores", "cores, pairs or fibres"),
    _text("method", "how it connects the camera", refers_to="catalogue:methods", example="ethernet"),
    _list("routes", "routes it lies in; blank: inferred", refers_to="routes", example=("R1",)),
    _number("length_m", "length of the cable itself", "m", example=82),
    _count("joints", "joints along the cable; blank: unknown", example=0),
    _count("tees", "tees along the cable"),
    _list("equipment", "equipment along it, as ID@NODE", refers_to="catalogue:items"),
    _count("year", "year of installation", example=2019),
    _text("condition", "state in words"),
    _number("loop_ohm", "measured loop of one pair, both cores, or centre and screen, far ends joined", "Ω"),
    _number("volts_day", "measured at the camera by day", "V"),
    _number("volts_night", "measured at the camera by night", "V"),
    _number("video_vpp", "measured video level, peak to peak", "V"),
    _number("screen_mv", "measured between the screens of both ends", "mV"),
    _number("insulation_mohm", "measured insulation resistance", "MΩ"),
    _text("picture_day", "picture by day in a word: good, poor, none …"),
    _text("picture_night", "picture at night in a word: good, poor, none …"),
    _text("tested_on", "date of the measurements"),
)

LAYERS: Mapping[str, LayerSchema] = MappingProxyType(
    {
        schema.name: schema
        for schema in (
            LayerSchema("routes", "line", "Ways that cable can take.", ROUTES),
            LayerSchema(
                "points", "point", "Cameras, recorders, patch points, junctions and draw pits.", POINTS
            ),
            LayerSchema("mains", "line", "Power cables and other sources of interference.", MAINS),
            LayerSchema("buildings", "polygon", "Outlines of buildings, with their earthing.", BUILDINGS),
            LayerSchema("supplies", "none", "Power supplies that feed cameras.", SUPPLIES),
            LayerSchema("cables", "none", "Installed cables, with what was measured on them.", CABLES),
        )
    }
)
REQUIRED_LAYERS = ("routes", "points")

GEOMETRY_COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "line": ("wkt", "seq", "x", "y", "z", "lon", "lat"),
        "point": ("wkt", "x", "y", "z", "lon", "lat"),
        "polygon": ("wkt",),
        "none": (),
    }
)
"""Columns of a CSV that hold the geometry."""

GEOMETRY_FORMS: Mapping[str, str] = MappingProxyType(
    {
        "line": "`wkt`; or one row per vertex with `id`, `seq`, `x`, `y` and maybe `z`",
        "point": "`x`, `y` and maybe `z`; or `lon`, `lat`; or `wkt`; or nothing in a schematic estate",
        "polygon": "`wkt`",
        "none": "no geometry",
    }
)


def reference_page() -> str:
    """Return every layer and column as Markdown."""
    parts = ["# Layers and columns", "", "Blank means unknown, unless a default is given."]
    for schema in LAYERS.values():
        form = GEOMETRY_FORMS[schema.geometry]
        if schema.name == "routes":
            form += "; or schematic rows with `from`, `to` and `length_m`"
        parts += ["", f"## {schema.name}", "", f"{schema.doc} Geometry in a CSV: {form}.", ""]
        parts += ["| column | kind | unit | default | meaning |", "|---|---|---|---|---|"]
        parts += [_reference_row(column) for column in schema.columns]
    return "\n".join(parts) + "\n"


def _reference_row(column: Column) -> str:
    name = f"`{column.name}`" + (" (required)" if column.required else "")
    doc = column.doc + (f"; {', '.join(column.only_for)} only" if column.only_for else "")
    if column.choices:
        doc += f": {', '.join(column.choices)}" if column.kind == "choice" else ""
    default = "" if column.default is None else f"{column.default}"
    return f"| {name} | {column.kind} | {column.unit} | {default} | {doc} |"
