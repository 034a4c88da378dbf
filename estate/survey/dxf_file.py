"""DXF drawings in: objects on the CAD layers that [drawing] cad_layers names, as rows of our layers."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from estate.errors import Problem
from estate.survey.cad_layers import PLACE, CadLayer
from estate.survey.fields import LayerSchema
from estate.survey.table import Table, blank_table, fill

UNIT_M: Mapping[int, float] = {
    1: 0.0254, 2: 0.3048, 3: 1609.344, 4: 0.001, 5: 0.01, 6: 1.0, 7: 1000.0, 9: 2.54e-5, 10: 0.9144, 13: 1e-6,
    14: 0.1, 15: 10.0, 16: 100.0, 21: 1200 / 3937, 22: 100 / 3937, 23: 3600 / 3937,
}  # fmt: skip
"""Metres of a drawing's unit by its header variable $INSUNITS, as the published DXF reference numbers them."""

UNIT_NAMES: Mapping[int, str] = {
    1: "inches", 2: "feet", 3: "miles", 4: "mm", 5: "cm", 6: "m", 7: "km", 9: "mils", 10: "yards", 13: "µm", 14: "dm",
    15: "dam", 16: "hm", 21: "US survey feet", 22: "US survey inches", 23: "US survey yards",
}  # fmt: skip
CURVES = ("LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE")
FLAT_M = 0.01
"""A curve is drawn as chords that stay this near to it [m]."""

BROKEN = (OSError, ValueError, LookupError, TypeError, AttributeError, StopIteration, RuntimeError)
"""What reading a damaged drawing can raise."""

DEEPEST = 8
"""Blocks within blocks that are looked into."""


@dataclass(frozen=True)
class CadObject:
    """One object of a drawing, in metres: its layer, its id, its attributes."""

    layer: str
    id: str
    shape: Any
    attributes: Mapping[str, str] = field(default_factory=dict)


@dataclass
class CadDrawing:
    """One drawing, opened: its objects by layer, its own notes, and what was passed over."""

    name: str
    objects: list[CadObject]
    layers: tuple[str, ...]
    notes: tuple[str, ...]
    skipped: Mapping[str, Counter[str]]
    """Per layer in lower case, objects that are no geometry: text, hatches, dimensions."""


def open_drawing(
    path: Path, estate_unit_m: float, as_points: frozenset[str]
) -> tuple[CadDrawing | None, list[Problem]]:
    """Open a DXF and return its objects with coordinates in units of `estate_unit_m` metres.

    Blocks inserted on the CAD layers of `as_points` (lower case) are points, all others are taken apart.
    """
    import ezdxf  # noqa: PLC0415  only this format needs it

    try:
        return _opened(ezdxf.readfile(path), path, estate_unit_m, as_points), []
    except (ezdxf.DXFError, *BROKEN) as error:
        text = str(error) or type(error).__name__
        return None, [Problem(path.name, f"a readable DXF ({text})", fix="save it again as DXF")]


def _opened(document: Any, path: Path, estate_unit_m: float, as_points: frozenset[str]) -> CadDrawing:
    number = int(document.header.get("$INSUNITS", 0))
    drawing_unit_m = UNIT_M.get(number)
    factor = 1.0 if drawing_unit_m is None else drawing_unit_m / estate_unit_m
    said = (
        f"units {UNIT_NAMES[number]}"
        if number in UNIT_NAMES
        else "no unit in its header: taken to be in the estate's unit"
    )
    skipped: dict[str, Counter[str]] = {}
    flat = FLAT_M / (estate_unit_m * factor)
    objects = list(_objects(document.modelspace(), factor, flat, as_points, skipped, path.stem))
    layers = tuple(sorted({*(layer.dxf.name for layer in document.layers), *(o.layer for o in objects)}))
    return CadDrawing(path.name, objects, layers, (said,), skipped)


def _objects(
    space: Any,
    factor: float,
    flat: float,
    as_points: frozenset[str],
    skipped: dict[str, Counter[str]],
    stem: str,
) -> Iterator[CadObject]:
    for entity in space:
        name = f"{stem}-{entity.dxf.handle}"
        parts = list(_parts(entity, str(entity.dxf.layer), as_points, 0))
        for number, (layer, each) in enumerate(parts, 1):
            shape = _shape(each, factor, flat)
            if shape is None:
                skipped.setdefault(layer.casefold(), Counter())[each.dxftype()] += 1
                continue
            tags = _attributes(each)
            own = tags.pop("id", "") or (name if len(parts) == 1 else f"{name}.{number}")
            yield CadObject(layer, own, shape, tags)


def _parts(entity: Any, layer: str, as_points: frozenset[str], depth: int) -> Iterator[tuple[str, Any]]:
    """Yield what an object is made of, with the CAD layer it lies on; what lies on layer 0 of a block takes the block's."""
    if entity.dxftype() != "INSERT" or layer.casefold() in as_points or depth >= DEEPEST:
        yield layer, entity
        return
    for copy in entity.multi_insert() if entity.mcount > 1 else (entity,):
        for part in copy.virtual_entities():
            own = str(part.dxf.layer)
            yield from _parts(part, layer if own == "0" else own, as_points, depth + 1)


def _shape(entity: Any, factor: float, flat: float) -> Any:
    """Return the geometry of an object, None where it has none that a way or a place could be."""
    from ezdxf.path import make_path  # noqa: PLC0415

    kind = entity.dxftype()
    if kind == "POINT":
        return _point(entity.dxf.location, factor)
    if kind == "INSERT":
        return _point(entity.ocs().to_wcs(entity.dxf.insert), factor)
    if kind not in CURVES or (kind == "POLYLINE" and (entity.is_poly_face_mesh or entity.is_polygon_mesh)):
        return None
    vertices = (
        np.array([tuple(v) for v in make_path(entity).flattening(flat)], dtype=float).reshape(-1, 3) * factor
    )
    if len(vertices) < 2:
        return None
    level = np.ptp(vertices[:, 2]) == 0
    return shapely.LineString(vertices[:, :2] if level else vertices)


def _point(place: Any, factor: float) -> Any:
    return shapely.Point(place.x * factor, place.y * factor)


def _attributes(entity: Any) -> dict[str, str]:
    """Return the attributes of an inserted block by tag in lower case."""
    if entity.dxftype() != "INSERT":
        return {}
    return {str(a.dxf.tag).strip().casefold(): str(a.dxf.text).strip() for a in entity.attribs}


def read_drawing(
    drawing: CadDrawing, schema: LayerSchema, table: Mapping[str, CadLayer]
) -> tuple[Table, str, list[Problem]]:
    """Return one of our layers from a drawing: its features, and a note on how it was read."""
    label = f"{drawing.name} ({schema.name})"
    mine = [o for o in drawing.objects if (c := table.get(o.layer.casefold())) and c.layer == schema.name]
    is_kept = [(o.shape.geom_type == "Point") == (schema.geometry == "point") for o in mine]
    kept = [o for o, fits in zip(mine, is_kept, strict=True) if fits]
    found = blank_table(schema, label, list(range(1, len(kept) + 1)))
    fill(found, _columns(kept, table) if kept else {})
    found.geometry[:] = [_outline(o.shape) if schema.geometry == "polygon" else o.shape for o in kept]
    passed_over: Counter[str] = Counter()
    passed_over.update(o.shape.geom_type for o, fits in zip(mine, is_kept, strict=True) if not fits)
    for name, each in table.items():
        if each.layer == schema.name:
            passed_over.update(drawing.skipped.get(name, Counter()))
    told = ", ".join(f"{n} {kind}" for kind, n in sorted(passed_over.items()))
    return found, ", ".join((*drawing.notes, *([f"passed over: {told}"] if told else []))), []


def _columns(objects: list[CadObject], table: Mapping[str, CadLayer]) -> dict[str, list[Any]]:
    """Return the columns of some objects: the layer's constants, then an object's own attributes, where it has them."""
    rows = []
    for each in objects:
        own = {tag: text for tag, text in each.attributes.items() if text}
        rows.append({**table[each.layer.casefold()].columns, **own, "id": each.id})
    names = dict.fromkeys(name for row in rows for name in row)
    return {name: [row.get(name) for row in rows] for name in names}


def _outline(line: Any) -> Any:
    """Return a closed line as an outline, an open one as it is: the layer refuses it."""
    ring = shapely.force_2d(line)
    closed = len(ring.coords) > 3 and ring.coords[0] == ring.coords[-1]
    return shapely.Polygon(ring.coords) if closed else line


def unused_problems(drawings: list[CadDrawing], table: Mapping[str, CadLayer]) -> list[Problem]:
    """Return a problem for every CAD layer of estate.toml that no drawing has."""
    present = {name.casefold() for drawing in drawings for name in drawing.layers}
    shown = ", ".join(sorted({name for drawing in drawings for name in drawing.layers})[:20])
    return [
        Problem(
            "estate.toml", "a layer of a DXF here", field=PLACE, value=each.name, fix=f"there are: {shown}"
        )
        for name, each in table.items()
        if drawings and name not in present
    ]
