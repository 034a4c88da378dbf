"""Ink on paper: lines, symbols, areas and texts in millimetres of the sheet, and the files they are saved to."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.output.lettering import POINTS_PER_MM, font, printable, size_pt
from estate.output.scales import Box, Sheet
from estate.output.symbols import BLACK, NARROW, Area, Line, Mark, Sleeve, Symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

MM_PER_INCH = 25.4
PNG_DPI = 200.0
PNG_LONGEST_PX = 4800
PAGE_DPI = 150.0
"""Of the sheets of a pack: letters of 1.8 mm are 10 pixels high."""


_SETTINGS: Any = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "hatch.linewidth": 0.35,
    "lines.scale_dashes": False,
    "path.simplify_threshold": 0.05,
    "pdf.fonttype": 42,
    "svg.fonttype": "none",
    "text.hinting": "none",
    "svg.hashsalt": "estate",
    "text.parse_math": False,
}
"""Text stays text in PDF and SVG; ids in an SVG don't change from run to run."""

_MARKERS = {"circle": "o", "dot": "o", "square": "s", "diamond": "D", "x": "x", "plus": "+", "bar": "_"}
_FILLS = {"full": "full", "none": "full", "lower": "bottom", "left": "left"}
"""An empty symbol is filled with white, so that no line shows through it."""

_ROUND = np.linspace(0.0, np.pi, 9)
_FIGURES: Mapping[str, Sequence[Any]] = {
    "tick": [[(0, -0.5), (0, 0.5)]],
    "double tick": [[(-0.2, -0.5), (-0.2, 0.5)], [(0.2, -0.5), (0.2, 0.5)]],
    "stroke": [[(-0.4, -0.5), (0.4, 0.5)]],
    "sag": [np.column_stack([np.cos(_ROUND), -np.sin(_ROUND)]) / 2],
    "x": [[(-0.5, -0.5), (0.5, 0.5)], [(-0.5, 0.5), (0.5, -0.5)]],
    "zigzag": [[(-0.5, -0.25), (-0.1, 0.5), (0.1, -0.5), (0.5, 0.25)]],
    "wave": [
        np.column_stack([np.cos(_ROUND) - 1, np.sin(_ROUND)]) / 4,
        np.column_stack([1 - np.cos(_ROUND), -np.sin(_ROUND)]) / 4,
    ],
    "star": [[(-0.4, -0.4), (0.4, 0.4)], [(-0.4, 0.4), (0.4, -0.4)], [(0, -0.5), (0, 0.5)]],
    "earth": [[(0, 0), (0, -0.3)], [(-0.5, -0.3), (0.5, -0.3)], [(-0.25, -0.55), (0.25, -0.55)]],
}
"""Figures along lines: strokes in parts of the figure's size, x along the line."""


@contextmanager
def drawing_settings() -> Iterator[None]:
    """Draw under the library's own defaults and ours, whatever the user's settings are."""
    import matplotlib as mpl  # noqa: PLC0415

    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(_SETTINGS)
        yield


def blank(sheet: Sheet) -> tuple["Figure", "Axes"]:
    """Return an empty sheet; its coordinates are millimetres from the lower left corner."""
    from matplotlib.figure import Figure  # noqa: PLC0415

    figure = Figure(figsize=(sheet.width / MM_PER_INCH, sheet.height / MM_PER_INCH))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0, sheet.width)
    axes.set_ylim(0, sheet.height)
    axes.set_autoscale_on(False)
    return figure, axes


_UNDATED: Any = {"Creator": None, "Producer": None, "CreationDate": None}


def save(figure: "Figure", folder: Path, stem: str, title: str) -> list[Path]:
    """Write a sheet as PDF, SVG and PNG, without dates or versions in them."""
    _unclip(figure)
    path = folder / f"{stem}.pdf"
    figure.savefig(path, format="pdf", metadata={**_UNDATED, "Title": printable(title)})
    return [path, *_save_images(figure, folder, stem, title)]


def save_pages(
    figures: Iterable["Figure"], folder: Path, pack: str, stems: Sequence[str], title: str, subject: str
) -> list[Path]:
    """Write sheets as the pages of one PDF, and each as SVG and PNG, without dates or versions in them."""
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: PLC0415

    paths = [folder / pack]
    metadata = {**_UNDATED, "Title": printable(title), "Subject": subject}
    with PdfPages(paths[0], metadata=metadata) as pages:
        for figure, stem in zip(figures, stems, strict=True):
            _unclip(figure)
            figure.savefig(pages, format="pdf")
            paths += _save_images(figure, folder, stem, title, PAGE_DPI)
    return paths


def _unclip(figure: "Figure") -> None:
    """Clip nothing: a clip's name in the SVG follows the last digits of its transform, which differ from run to run."""
    for artist in figure.findobj():
        artist.set_clip_on(False)


def _save_images(
    figure: "Figure", folder: Path, stem: str, title: str, most_dpi: float = PNG_DPI
) -> list[Path]:
    """Write a sheet as SVG and PNG."""
    dpi = min(most_dpi, PNG_LONGEST_PX / max(figure.get_size_inches()))
    paths = [folder / f"{stem}.svg", folder / f"{stem}.png"]
    figure.savefig(
        paths[0], format="svg", metadata={"Creator": None, "Date": None, "Title": printable(title)}
    )
    figure.savefig(paths[1], format="png", dpi=dpi, metadata={"Software": None})
    return paths


def stroke(axes: "Axes", xy: Floats, line: Line, *, zorder: float = 2.0, gid: str = "") -> None:
    """Draw lines [mm]; rows of NaN part them."""
    if not len(xy):
        return
    dashes = tuple(part * POINTS_PER_MM for part in line.dashes_mm)
    (drawn,) = axes.plot(
        xy[:, 0],
        xy[:, 1],
        color=line.colour,
        linewidth=line.pen_mm * POINTS_PER_MM,
        linestyle=(0, dashes) if dashes else "-",
        dash_capstyle="butt",
        solid_capstyle="round" if line.pen_mm > NARROW else "butt",
        solid_joinstyle="round",
        zorder=zorder,
    )
    if gid:
        drawn.set_gid(gid)


def lines(axes: "Axes", geometry: Any, line: Line, *, zorder: float = 2.0, gid: str = "") -> None:
    """Draw line geometries [mm of the sheet] with the marks of their kind.

    Lines that meet end to end become one, so that dashes run on from segment to segment.
    """
    parts = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(shapely.get_parts(geometry))))
    stroke(axes, parted(parts), line, zorder=zorder, gid=gid)
    for mark in line.marks:
        figure = Line(max(line.pen_mm / 2, NARROW), line.colour)
        stroke(axes, figures(parts, mark), figure, zorder=zorder)


def sleeve(axes: "Axes", geometry: Any, style: Sleeve, *, zorder: float = 2.0, gid: str = "") -> None:
    """Draw a line on either side of line geometries [mm of the sheet]."""
    stroke(axes, parted(shapely.get_parts(sleeve_lines(geometry, style))), style.line, zorder=zorder, gid=gid)


def sleeve_lines(geometry: Any, style: Sleeve) -> Any:
    """Return the lines of a sleeve round line geometries [mm of the sheet], one round all that meet."""
    whole = shapely.line_merge(shapely.union_all(geometry))
    return shapely.boundary(shapely.buffer(whole, style.width_mm / 2, cap_style="flat"))


def parted(geometry: Any) -> Floats:
    """Coordinates of lines with a row of NaN between each two."""
    xy, owner = shapely.get_coordinates(geometry, return_index=True)
    return np.asarray(np.insert(xy, np.flatnonzero(np.diff(owner)) + 1, np.nan, axis=0))


def figures(parts: Any, mark: Mark) -> Floats:
    """Strokes of a mark set along lines and turned with them, parted by rows of NaN."""
    lengths = shapely.length(parts)
    counts = np.maximum(1, (lengths / mark.every_mm).astype(np.int64))
    row = np.repeat(np.arange(len(parts)), counts)
    number = np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)
    at = (number + mark.phase) * lengths[row] / counts[row]
    spots = shapely.get_coordinates(shapely.line_interpolate_point(parts[row], at))
    before, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(parts[row], np.maximum(at + step, 0.0)))
        for step in (-0.05, 0.05)
    )
    along = (after - before) / np.maximum(np.hypot(*(after - before).T), 1e-9)[:, None]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    strokes = []
    for figure in _FIGURES[mark.figure]:
        x, y = np.asarray(figure, dtype=np.float64).T * mark.size_mm
        drawn = spots[:, None] + x[:, None] * along[:, None] + y[:, None] * across[:, None]
        strokes.append(np.pad(drawn, ((0, 0), (0, 1), (0, 0)), constant_values=np.nan).reshape(-1, 2))
    return np.concatenate(strokes)


def stamp(axes: "Axes", xy: Floats, symbol: Symbol, *, zorder: float = 5.0) -> None:
    """Set one symbol at many places [mm]."""
    for shape, size_mm, fill in symbol.shapes:
        axes.plot(
            xy[:, 0],
            xy[:, 1],
            linestyle="none",
            marker=_MARKERS[shape],
            markersize=size_mm * POINTS_PER_MM / (np.sqrt(2) if shape == "diamond" else 1.0),
            fillstyle=_FILLS[fill],
            markerfacecolor="#ffffff" if fill == "none" else symbol.colour,
            markerfacecoloralt="#ffffff",
            markeredgecolor=symbol.colour if fill == "none" else BLACK,
            markeredgewidth=symbol.pen_mm * POINTS_PER_MM,
            zorder=zorder,
        )


def shade(axes: "Axes", geometry: Any, area: Area, *, zorder: float = 1.0) -> None:
    """Draw polygons [mm of the sheet], holes left open, with the hatch of their kind."""
    from matplotlib.patches import PathPatch  # noqa: PLC0415
    from matplotlib.path import Path as Outline  # noqa: PLC0415

    rings = shapely.get_rings(shapely.get_parts(geometry))
    if not len(rings):
        return
    outline = Outline.make_compound_path(
        *(Outline(shapely.get_coordinates(ring), closed=True) for ring in rings)
    )
    axes.add_patch(
        PathPatch(
            outline,
            facecolor=area.face,
            edgecolor=area.edge,
            hatch=area.hatch,
            linewidth=area.pen_mm * POINTS_PER_MM,
            zorder=zorder,
        )
    )


def frame(axes: "Axes", box: Box, pen_mm: float, *, face: str = "none", zorder: float = 2.0) -> None:
    """Draw an upright rectangle [mm]."""
    axes.fill(
        [box.x, box.right, box.right, box.x],
        [box.y, box.y, box.top, box.top],
        facecolor=face,
        edgecolor=BLACK if pen_mm else "none",
        linewidth=pen_mm * POINTS_PER_MM,
        zorder=zorder,
    )


def letter(
    axes: "Axes",
    at: tuple[float, float],
    text: str,
    height_mm: float,
    *,
    bold: bool = False,
    align: str = "left",
    angle_deg: float = 0.0,
    colour: str = BLACK,
) -> None:
    """Write a text whose capitals are `height_mm` high [mm], from its base line [mm]."""
    axes.text(
        *at,
        printable(text),
        fontproperties=font(bold=bold),
        fontsize=size_pt(height_mm),
        color=colour,
        ha=align,
        va="baseline",
        rotation=angle_deg,
        rotation_mode="anchor",
        parse_math=False,
        zorder=8.0,
    )
