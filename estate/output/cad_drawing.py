"""network.dxf: the network of a result for CAD programs, in metres, by layers of our own naming."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import shapely

from estate.output.result import Result

METRES = 6
"""$INSUNITS of metres in the published DXF reference."""

TEXT_M = 1.0
"""Height of texts [m]: 2 mm on a plan 1:500."""

SYMBOL_M = 0.5
"""Radius of a point's symbol [m]."""

WHITE, RED, GREEN, BLUE, GREY = 7, 1, 3, 5, 8
LAYERS = {
    "BACKDROP": GREY, "BUILDINGS": WHITE, "MAINS": RED, "ROUTES-EXISTING": GREY, "ROUTES-PROPOSED": GREEN,
    "LINKS": BLUE, "LINKS-TEXT": BLUE, "POINTS-CAMERA": WHITE, "POINTS-RECORDER": WHITE, "POINTS-PATCH": WHITE,
    "POINTS-JUNCTION": WHITE, "POINTS-PIT": WHITE, "POINTS-TEXT": WHITE, "PROXIMITY": RED, "CURES": GREEN,
    "FINDINGS": RED, "FINDINGS-TEXT": RED,
}  # fmt: skip
"""Layers of the drawing with the index of their colour."""

POINT_LAYERS = ("camera", "recorder", "patch", "junction", "pit")


def write_dxf(path: Path, result: Result) -> bool:
    """Write the drawing; False, and nothing, where no layer has any geometry."""
    if not any(text for name in ("segments", "points") for text in result.layers[name].geometry or ()):
        return False
    import ezdxf  # noqa: PLC0415  only this file needs it

    with _fixed_dates(ezdxf):
        document = ezdxf.new("R2010")
        document.header["$INSUNITS"] = METRES
        for name, colour in LAYERS.items():
            document.layers.add(name, color=colour)
        _blocks(document)
        _draw(document.modelspace(), result)
        _classes(document)
        stream = io.StringIO()
        document.write(stream)
    path.write_text(stream.getvalue(), encoding="utf-8", newline="\r\n")
    return True


@contextmanager
def _fixed_dates(ezdxf: Any) -> Iterator[None]:
    """Have fixed dates and ids of the document written, so that the same result gives the same bytes."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _classes(document: Any) -> None:
    """List the classes in use in one order: left alone, the library lists them as the process hashes its texts."""
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)


def _blocks(document: Any) -> None:
    """Make one block for each kind of point, with its id, name and verdict as attributes."""
    for kind in POINT_LAYERS:
        block = document.blocks.new(f"POINT-{kind.upper()}")
        block.add_circle((0, 0), SYMBOL_M)
        block.add_line((-SYMBOL_M, 0), (SYMBOL_M, 0))
        if kind in ("recorder", "patch"):
            block.add_line((0, -SYMBOL_M), (0, SYMBOL_M))
        for place, tag in enumerate(("ID", "NAME", "VERDICT")):
            definition = block.add_attdef(tag, (SYMBOL_M, SYMBOL_M - place * TEXT_M * 1.5), height=TEXT_M)
            definition.is_invisible = tag != "ID"


def _draw(space: Any, result: Result) -> None:
    layers = result.layers
    for name, layer in (("backdrop", "BACKDROP"), ("buildings", "BUILDINGS"), ("mains", "MAINS"),
                        ("proximity", "PROXIMITY"), ("cures", "CURES")):  # fmt: skip
        each = layers.get(name)
        for text in (each.geometry or ()) if each is not None else ():
            _lines(space, text, layer)
    _routes(space, result)
    for row, text in zip(layers["links"].records(), layers["links"].geometry or (), strict=True):
        middle = _lines(space, text, "LINKS")
        if middle is not None:
            _text(space, f"{row['link']} {row['verdict']}", middle, "LINKS-TEXT")
    _points(space, result)
    for row, text in zip(layers["findings"].records(), layers["findings"].geometry or (), strict=True):
        if text:
            place = shapely.from_wkt(text)
            space.add_point((place.x, place.y), dxfattribs={"layer": "FINDINGS"})
            _text(space, f"{row['finding']} {row['action']}", place, "FINDINGS-TEXT")


def _routes(space: Any, result: Result) -> None:
    segments = result.layers["segments"]
    for row, text in zip(segments.records(), segments.geometry or (), strict=True):
        _lines(space, text, "ROUTES-PROPOSED" if row["proposed"] else "ROUTES-EXISTING")


def _points(space: Any, result: Result) -> None:
    points = result.layers["points"]
    for row, text in zip(points.records(), points.geometry or (), strict=True):
        if not text or row["kind"] not in POINT_LAYERS:
            continue
        place, kind = shapely.from_wkt(text), str(row["kind"]).upper()
        reference = space.add_blockref(
            f"POINT-{kind}", (place.x, place.y), dxfattribs={"layer": f"POINTS-{kind}"}
        )
        values = {tag: plain(str(row[tag.lower()] or "")) for tag in ("ID", "NAME", "VERDICT")}
        reference.add_auto_attribs(values)
        for attribute in reference.attribs:
            attribute.dxf.layer = "POINTS-TEXT"


def _lines(space: Any, text: str | None, layer: str) -> Any:
    """Draw every line and outline of a geometry; return a place in the middle of the longest, None without any."""
    if not text:
        return None
    lines = [line for part in shapely.get_parts(shapely.from_wkt(text)) for line in _rings(part)]
    for line in lines:
        if line.has_z:
            space.add_polyline3d(list(line.coords), dxfattribs={"layer": layer})
        else:
            space.add_lwpolyline(list(line.coords), close=line.is_ring, dxfattribs={"layer": layer})
    longest = max(lines, key=lambda line: line.length, default=None)
    return None if longest is None else longest.interpolate(0.5, normalized=True)


def _rings(part: Any) -> list[Any]:
    if part.geom_type == "Polygon":
        return [shapely.LineString(ring.coords) for ring in (part.exterior, *part.interiors)]
    return [part] if part.geom_type == "LineString" else []


def _text(space: Any, words: str, place: Any, layer: str) -> None:
    space.add_text(plain(words), height=TEXT_M, dxfattribs={"layer": layer}).set_placement((place.x, place.y))


def plain(text: str) -> str:
    r"""Return a text that a drawing shows as it is: one line, and %%, ^ and \U+ no codes.

    >>> plain("A%%uB^J")
    'A% %uB^ J'
    """
    one_line = "".join(character if character.isprintable() else " " for character in text)
    while "%%" in one_line:
        one_line = one_line.replace("%%", "% %")
    return re.sub(r"\\(?=[UM]\+)", r"\\ ", one_line.replace("^", "^ "))
