"""A folder to start from: a commented estate.toml and example rows for every layer."""

import csv
import json
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import Field, fields
from pathlib import Path
from typing import Any

from estate.errors import OutputRefused
from estate.settings import Settings
from estate.survey.fields import LAYERS, LayerSchema

HEADING = """\
# Settings of this estate. Every key stands here with its default: take the # away to change one.
# Layers lie beside this file as NAME.geojson, NAME.csv, NAME.gpkg or NAME.shp, and NAME-anything for more files:
# routes and points are required; mains, buildings, supplies and cables are optional.
# The example rows are invented: replace them by your own. Blank means unknown.
# Next: `estate check`, then `estate design` for new links, or `estate audit` for those of the layer cables. What was
# measured on a cable (loop_ohm, volts_night, picture_night …) beats what is calculated.
"""

FREE_TABLES = {
    "catalogue": """
[catalogue]
# extra or replacing entries, each figure with its source
""",
    "assume": """
[assume]
# layer.column = value for blanks; all that rests on it is marked assumed, for example
# cables.joints = 0
""",
}

# An invented farm on open land: longitude and latitude on WGS 84.
EXAMPLES: Mapping[str, tuple[tuple[Mapping[str, Any], Any], ...]] = {
    "routes": (({}, ("LineString", [[-1.5, 52.0], [-1.4992, 52.0], [-1.4992, 52.0001]])),),
    "points": (
        ({"id": "CAM1", "kind": "camera"}, (-1.4992, 52.0001)),
        ({"id": "REC1", "kind": "recorder"}, (-1.5, 52.0)),
        ({"id": "PATCH1", "kind": "patch", "building": None}, (-1.4992, 52.0)),
    ),
    "mains": (({}, ("LineString", [[-1.5, 52.00002], [-1.4994, 52.00006]])),),
    "buildings": (
        ({}, ("Polygon", [[[-1.5002, 51.9999], [-1.4998, 51.9999], [-1.4998, 52.0005], [-1.5002, 52.0005], [-1.5002, 51.9999]]])),
    ),
    "supplies": (({}, None),),
    "cables": (({}, None),),
}  # fmt: skip


def write_template(folder: Path) -> list[Path]:
    """Write a folder that can be read at once; return its files.

    Raises
    ------
    OutputRefused
        The folder is there and holds something, or a file of that name stands in the way.

    """
    folder = folder.resolve()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputRefused(f"{folder} is there and isn't an empty folder: name a new one")
    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        _write_files(beside)
        folder.mkdir(exist_ok=True)
        names = sorted(path.name for path in beside.iterdir())
        for name in names:
            (beside / name).replace(folder / name)
    finally:
        shutil.rmtree(beside)
    return [folder / name for name in names]


def _write_files(folder: Path) -> None:
    (folder / "estate.toml").write_text(settings_text(), encoding="utf-8", newline="\n")
    for schema in LAYERS.values():
        if schema.geometry in ("line", "polygon"):
            content = json.dumps(_features(schema), ensure_ascii=False, indent=1)
            (folder / f"{schema.name}.geojson").write_text(content + "\n", encoding="utf-8", newline="\n")
        else:
            with (folder / f"{schema.name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.writer(file, lineterminator="\n")
                writer.writerows(_cells(schema))


def settings_text() -> str:
    """Return an estate.toml with every key commented out, with its default and its meaning."""
    parts = [HEADING]
    for section in fields(Settings):
        if section.name in FREE_TABLES:
            parts.append(FREE_TABLES[section.name])
        elif section.name != "given":
            parts.append(_section_text(section))
    return "".join(parts)


def _section_text(section: Field[Any]) -> str:
    kind: Any = section.default_factory
    meaning = kind.__doc__.partition(": ")[2]
    defaults = kind()
    lines = [f"\n[{section.name}]", f"# {meaning}"]
    for key in fields(kind):
        default = getattr(defaults, key.name)
        choices = key.metadata["choices"]
        doc = key.metadata["doc"] + (f" ({', '.join(choices)})" if choices else "")
        lines.append(f"# {key.name} = {_toml(default)}  # {doc}".replace("=   #", "=  #"))
    return "\n".join(lines) + "\n"


def _toml(value: Any) -> str:
    """Spell a default in TOML, nothing where there is none."""
    if value is None:
        return ""
    if isinstance(value, Mapping):
        inside = ", ".join(f"{key} = {_toml(each)}" for key, each in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def _example(schema: LayerSchema, own: Mapping[str, Any]) -> dict[str, Any]:
    """Return one example row: the columns' examples where they belong to its kind, then its own values."""
    kind = own.get("kind")
    row = {c.name: c.example if not c.only_for or kind in c.only_for else None for c in schema.columns}
    return {**row, **own}


def _features(schema: LayerSchema) -> dict[str, Any]:
    features = [
        {
            "type": "Feature",
            "properties": _example(schema, own),
            "geometry": {"type": shape[0], "coordinates": shape[1]},
        }
        for own, shape in EXAMPLES[schema.name]
    ]
    return {"type": "FeatureCollection", "features": features}


def _cells(schema: LayerSchema) -> list[list[str]]:
    """Return headers and example rows as a CSV holds them."""
    place = ["lon", "lat"] if schema.geometry == "point" else []
    rows = [[*(c.name for c in schema.columns), *place]]
    for own, where in EXAMPLES[schema.name]:
        row = _example(schema, own)
        rows.append([*(spelt(value) for value in row.values()), *(map(str, where) if place else ())])
    return rows


def spelt(value: Any) -> str:
    """Spell a value as a CSV cell holds it: blank for unknown, lists with ;."""
    if value is None or value != value:  # noqa: PLR0124  NaN is unknown
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple | list):
        return ";".join(map(str, value))
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)
