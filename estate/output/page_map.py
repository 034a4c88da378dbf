"""The plan of the page: a light SVG of a result's layers, one element for each thing that can be chosen.

Symbols keep their size on the screen: they are drawn in pixels and scaled by the page as it zooms. Everything is told
apart by shape or line type; colour only helps.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from markupsafe import Markup
from shapely.geometry.base import BaseGeometry

from estate.output.result import Result, Table

WIDTH_PX = 900.0
"""Width on the screen that symbols are first scaled for [px]."""

ROOM = 0.06
"""Room around the plan, of its greater side."""

LEAST_M = 5.0
"""Least side of the plan [m]."""


NOTHING = Markup("")
ELEMENTS = {"g": (Markup("<g"), Markup("</g>")), "path": (Markup("<path"), Markup("</path>"))}


@dataclass(frozen=True)
class PageMap:
    """The plan as SVG, its view box, and the scale of symbols in it [m/px]; empty where nothing is drawn."""

    svg: Markup
    metres_per_px: float
    legend: tuple[tuple[str, str], ...] = ()
    """Symbol or class of line, and what it means: what occurs on this plan."""


@dataclass(frozen=True, slots=True)
class _View:
    """From metres of the estate to metres of the plan, y down."""

    left: float
    top: float

    def points(self, shape: BaseGeometry) -> Any:
        """Return the coordinates of a shape on the plan, to the centimetre."""
        xy = shapely.get_coordinates(shape)
        return np.round(np.stack([xy[:, 0] - self.left, self.top - xy[:, 1]], axis=1), 2)

    def path(self, shape: BaseGeometry) -> str:
        """Return lines or outlines as path data."""
        if shape.geom_type == "Polygon":
            shape = shape.boundary
        parts = getattr(shape, "geoms", [shape])
        if any(part.geom_type == "Polygon" for part in parts):
            return "".join(self.path(part) for part in parts)
        return "".join(
            "M" + "L".join(f"{x:g} {y:g}" for x, y in self.points(part))
            for part in parts
            if not part.is_empty
        )


def page_map(result: Result) -> PageMap:
    """Return the plan of a result."""
    shapes = {name: _shapes(table) for name, table in result.layers.items()}
    drawn = [shape for name in DRAWN for shape in shapes.get(name, ()) if shape is not None]
    if not drawn:
        return PageMap(Markup(""), 1.0)
    x0, y0, x1, y1 = shapely.total_bounds(drawn)
    room = max(ROOM * max(x1 - x0, y1 - y0), LEAST_M / 2)
    width, height = x1 - x0 + 2 * room, y1 - y0 + 2 * room
    view = _View(x0 - room, y1 + room)
    seen: dict[tuple[str, str], None] = {}
    parts = [
        Markup('<g id="map-{}">{}</g>').format(name, Markup("").join(draw(result, shapes[name], view, seen)))
        for name, draw in DRAWN.items()
        if name in shapes
    ]
    svg = Markup(
        '<svg id="map" viewBox="0 0 {} {}" role="group" tabindex="0" aria-label="Plan" aria-describedby="map-help">'
        "{}{}</svg>"
    ).format(f"{width:.2f}", f"{height:.2f}", DEFINITIONS, Markup("").join(parts))
    order = {key: place for place, key in enumerate(LEGEND)}
    legend = sorted(seen, key=lambda entry: order.get(entry[0], len(order)))
    return PageMap(svg, max(width, height * 1.3) / WIDTH_PX, tuple(legend))


def _shapes(table: Table) -> list[BaseGeometry | None]:
    texts = table.geometry or (None,) * len(table.rows)
    return [None if text is None else shapely.from_wkt(text) for text in texts]


Shapes = Sequence[BaseGeometry | None]
Seen = dict[tuple[str, str], None]


def _buildings(result: Result, shapes: Shapes, view: _View, seen: Seen) -> Iterator[Markup]:
    for row, shape in zip(result.layers["buildings"].records(), shapes, strict=True):
        if shape is None:
            continue
        seen["building", "building"] = None
        name = row["name"] or row["id"]
        x, y = view.points(shapely.point_on_surface(shape))[0]
        yield Markup('<path class="building" d="{}Z"><title>building {}</title></path>').format(
            view.path(shape), name
        )
        yield Markup(
            '<g transform="translate({} {})" class="names" data-room="{}"><text class="k place">{}</text></g>'
        ).format(x, y, _room(view, shape, y), name)


def _room(view: _View, shape: BaseGeometry, y: float) -> str:
    """Return how far an outline reaches above and below a place on the plan [m]."""
    _, south, _, north = shape.bounds
    return f"{y - (view.top - north):.2f} {(view.top - south) - y:.2f}"


def _mains(result: Result, shapes: Shapes, view: _View, seen: Seen) -> Iterator[Markup]:
    for row, shape in zip(result.layers["mains"].records(), shapes, strict=True):
        if shape is not None:
            kind = str(row["kind"] or "mains").replace("_", " ")
            seen["mains", "mains and other sources of interference"] = None
            words = " ".join(filter(None, (kind, str(row["id"]), str(row["placement"] or ""))))
            yield Markup('<path class="mains" d="{}"><title>{}</title></path>').format(
                view.path(shape), words
            )


NEAR = {"outside": "too near mains", "verify": "near mains, to be verified", "crossing": "crosses mains"}


def _proximity(result: Result, shapes: Shapes, view: _View, seen: Seen) -> Iterator[Markup]:
    for row, shape in zip(result.layers["proximity"].records(), shapes, strict=True):
        if shape is not None and row["verdict"] in NEAR:
            seen[f"near-{row['verdict']}", NEAR[row["verdict"]]] = None
            yield Markup('<path class="near near-{}" d="{}"/>').format(row["verdict"], view.path(shape))


SURVEYED = {"idle": "existing route", "unneeded": "proposed route"}
"""Words where nothing was designed yet."""

SEGMENT_STATES = {
    (True, True): ("new", "route to be built"),
    (True, False): ("unneeded", "proposed, not needed"),
    (False, True): ("used", "route that carries links"),
    (False, False): ("idle", "route that carries no link"),
}
"""Class and words by proposed and carrying links."""


def _segments(result: Result, shapes: Shapes, view: _View, seen: Seen) -> Iterator[Markup]:
    for row, shape in zip(result.layers["segments"].records(), shapes, strict=True):
        if shape is None:
            continue
        carried = len(str(row["links"] or "").split(";")) if row["links"] else 0
        state, words = SEGMENT_STATES[bool(row["proposed"]), bool(carried)]
        words = SURVEYED.get(state, words) if result.command == "check" else words
        seen[state, words] = None
        where = str(row["containment"] or "containment not known").replace("_", " ")
        links = f", {carried} link{'' if carried == 1 else 's'}" if carried else ""
        told = f"segment {row['segment']}: {where}, {row['length_m']:.1f} m{links}"
        yield _thing(
            "path",
            f"seg {state}",
            f"segment:{row['segment']}",
            told,
            Markup('d="{}"').format(view.path(shape)),
        )


def _cures(result: Result, shapes: Shapes, view: _View, seen: Seen) -> Iterator[Markup]:
    for row, shape in zip(result.layers["cures"].records(), shapes, strict=True):
        if shape is not None:
            seen["cure", "line moved clear of mains"] = None
            yield Markup('<path class="cure" d="{}"><title>{}</title></path>').format(
                view.path(shape), f"{row['segment']}: {row['text']}"
            )


SYMBOLS = {
    "recorder": "recorder", "patch": "cabinet", "junction": "junction", "pit": "draw pit",
}  # fmt: skip
CAMERAS = {
    "within": "camera, link within limits",
    "marginal": "camera, link marginal",
    "verify": "camera, link to be verified",
    "outside": "camera, link outside limits",
    "none": "camera, no link",
    "": "camera, not judged",
}
OFF_RECORD = "camera, no cable on record"
"""Of an audit: not judged, as nothing that is installed leads to it."""


def _points(result: Result, shapes: Shapes, view: _View, seen: Seen) -> Iterator[Markup]:
    """Yield the points, cameras last."""
    rows = list(zip(result.layers["points"].records(), shapes, strict=True))
    for row, shape in sorted(rows, key=lambda each: each[0]["kind"] == "camera"):
        if shape is None:
            continue
        symbol, words = _symbol(row)
        if result.command == "check":
            words = words.removesuffix(", not used")
        if result.command == "audit" and symbol == "camera-open":
            words = OFF_RECORD
        seen[symbol, words] = None
        x, y = view.points(shape)[0]
        name = f" ({row['name']})" if row["name"] not in (None, "", row["id"]) else ""
        inside = Markup('<g class="k"><use href="#y-{}"/>{}</g>').format(symbol, _label(row))
        place = Markup('transform="translate({} {})"').format(x, y)
        kind = "camera" if row["kind"] == "camera" else "point"
        noun, comma, rest = words.partition(",")
        yield _thing("g", kind, f"point:{row['id']}", f"{noun} {row['id']}{name}{comma}{rest}", place, inside)


def _symbol(row: dict[str, Any]) -> tuple[str, str]:
    """Return the symbol of a point and its words."""
    if row["kind"] == "camera":
        verdict = row["verdict"] if row["verdict"] in CAMERAS else ""
        return f"camera-{verdict or 'open'}", CAMERAS[verdict]
    kind = str(row["kind"])
    words = SYMBOLS.get(kind, kind)
    if kind == "recorder" and row["status"] == "candidate":
        return "recorder-idle", "recorder site, not used"
    if kind == "patch" and row["status"] in ("candidate", "existing"):
        return "patch-idle", "cabinet, not used"
    return (kind if kind in SYMBOLS else "junction"), words


def _label(row: dict[str, Any]) -> Markup:
    if row["kind"] in ("junction", "pit"):
        return NOTHING
    return Markup('<text class="label" x="9" y="4">{}</text>').format(row["id"])


def _findings(result: Result, shapes: Shapes, view: _View, seen: Seen) -> Iterator[Markup]:
    """Yield the findings that have a place, the gravest last so that they lie on top."""
    rows = list(zip(result.layers["findings"].records(), shapes, strict=True))
    for row, shape in reversed(rows):
        if shape is None:
            continue
        symbol = f"finding-{row['severity']}"
        seen[symbol, f"finding: {row['severity']}"] = None
        x, y = view.points(shape)[0]
        inside = Markup(
            '<g class="k"><path class="lead" d=""/><g class="mark" transform="translate(0 -15)">'
            '<use href="#y-{}"/><text y="3.5">{}</text></g></g>'
        ).format(symbol, str(row["finding"]).removeprefix("F"))
        told = f"{row['finding']}, {row['severity']}: {row['text']}"
        place = Markup('transform="translate({} {})"').format(x, y)
        yield _thing("g", f"finding {row['severity']}", f"finding:{row['finding']}", told, place, inside)


def _thing(
    element: str, classes: str, key: str, told: str, attributes: Markup, inside: Markup = NOTHING
) -> Markup:
    """Return one thing that can be chosen: by pointer, and by keyboard once the page gives it the focus."""
    begin, end = ELEMENTS[element]
    return Markup(
        '{} class="thing {}" data-r="{}" tabindex="-1" role="button" {}><title>{}</title>{}{}'
    ).format(begin, classes, key, attributes, told, inside, end)


DRAWN = {
    "buildings": _buildings,
    "proximity": _proximity,
    "mains": _mains,
    "segments": _segments,
    "cures": _cures,
    "points": _points,
    "findings": _findings,
}
"""Layers of the plan from the lowest up."""

LEGEND = (
    "camera-within", "camera-marginal", "camera-verify", "camera-outside", "camera-none", "camera-open", "recorder",
    "recorder-idle", "patch", "patch-idle", "junction", "pit", "finding-danger", "finding-fault", "finding-watch",
    "finding-note", "new", "used", "idle", "unneeded", "mains", "near-outside", "near-verify", "near-crossing", "cure",
    "building",
)  # fmt: skip

DEFINITIONS = Markup(
    "<defs>"
    '<g id="y-camera-within"><circle r="5.5" class="y ok"/></g>'
    '<g id="y-camera-marginal"><path d="M0-7L7 5.5H-7Z" class="y so"/></g>'
    '<g id="y-camera-verify"><path d="M0-7.5L7.5 0 0 7.5-7.5 0Z" class="y ask"/><path d="M0-3.5V1M0 2.5V4" class="ink"/></g>'
    '<g id="y-camera-outside"><path d="M-6-6H6V6H-6Z" class="y bad"/><path d="M-3.5-3.5L3.5 3.5M3.5-3.5L-3.5 3.5" class="ink"/></g>'
    '<g id="y-camera-none"><circle r="6" class="y open"/><path d="M-4.2-4.2L4.2 4.2M4.2-4.2L-4.2 4.2" class="ink"/></g>'
    '<g id="y-camera-open"><circle r="5.5" class="y open dashed"/></g>'
    '<g id="y-recorder"><path d="M-8-6H8V6H-8Z" class="y full"/><path d="M-5 0H5" class="paper"/></g>'
    '<g id="y-recorder-idle"><path d="M-7-5H7V5H-7Z" class="y open"/></g>'
    '<g id="y-patch"><path d="M-6-8H6V8H-6Z" class="y full"/><path d="M-3-4H3M-3 0H3M-3 4H3" class="paper"/></g>'
    '<g id="y-patch-idle"><path d="M-5-7H5V7H-5Z" class="y open"/></g>'
    '<g id="y-junction"><circle r="2.5" class="y open"/></g>'
    '<g id="y-pit"><path d="M-3-3H3V3H-3Z" class="y open"/></g>'
    '<g id="y-finding-danger"><path d="M0-12L11 8H-11Z" class="y bad"/></g>'
    '<g id="y-finding-fault"><path d="M-9-8H9V8H-9Z" class="y so"/></g>'
    '<g id="y-finding-watch"><circle r="9" class="y open"/></g>'
    '<g id="y-finding-note"><circle r="9" class="y open dashed"/></g>'
    "</defs>"
)
