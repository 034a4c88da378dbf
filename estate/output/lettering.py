"""Lettering: one pinned font, heights of ISO 3098, texts measured before they are drawn."""

from functools import lru_cache
from typing import Any

SMALL_MM = 1.8
"""Smallest height of capitals (ISO 3098-1: 1.8, 2.5, 3.5, 5 mm)."""

MEDIUM_MM = 2.5
LARGE_MM = 3.5

CAP_HEIGHT = 1493 / 2048
"""Height of capitals of the font, in parts of its size (DejaVu Sans, outline of H)."""

POINTS_PER_MM = 72 / 25.4

MISSING = "\u25a1"
"""Stands for a character that the font hasn't got."""


def size_pt(height_mm: float) -> float:
    """Font size [pt] at which capitals are `height_mm` high [mm]."""
    return height_mm / CAP_HEIGHT * POINTS_PER_MM


def line_pitch_mm(height_mm: float) -> float:
    """Distance between lines of text [mm]; capitals with accents just keep clear."""
    return 1.65 * height_mm


@lru_cache(maxsize=2)
def font(*, bold: bool = False) -> Any:
    """Return the font that comes with the drawing library, so that no installed font changes a sheet."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.font_manager import FontProperties  # noqa: PLC0415

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    path = f"{mpl.get_data_path()}/fonts/ttf/{name}"
    return FontProperties(fname=path, weight="bold" if bold else "normal")


@lru_cache(maxsize=1)
def _characters() -> frozenset[int]:
    """Characters that both cuts of the font have."""
    from matplotlib.font_manager import get_font  # noqa: PLC0415

    maps = [get_font(font(bold=bold).get_file()).get_charmap() for bold in (False, True)]
    return frozenset(maps[0]) & frozenset(maps[1])


def printable(text: str) -> str:
    """Return the text on one line, with a box for every character that can't be drawn."""
    one_line = " ".join(str(text).split())
    if one_line.isascii() and one_line.isprintable():
        return one_line
    known = _characters()
    return "".join(c if ord(c) in known and c.isprintable() else MISSING for c in one_line)


@lru_cache(maxsize=4096)
def _advance(character: str, *, bold: bool) -> float:
    """Width of one character in parts of the font's size, without kerning."""
    from matplotlib.font_manager import get_font  # noqa: PLC0415

    face = get_font(font(bold=bold).get_file())
    face.set_size(100.0, 72.0)
    return float(face.load_char(ord(character)).linearHoriAdvance / 65536 / 100.0)


def width_mm(text: str, height_mm: float, *, bold: bool = False) -> float:
    """Width of a text [mm] whose capitals are `height_mm` high [mm]."""
    parts = sum(_advance(character, bold=bold) for character in printable(text))
    return parts * height_mm / CAP_HEIGHT


@lru_cache(maxsize=4096)
def wrapped(text: str, width: float, height_mm: float) -> tuple[str, ...]:
    """Break a text into lines of at most `width` [mm]; a word that is too long is cut into pieces."""
    lines = [""]
    for word in printable(text).split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if width_mm(longer, height_mm) <= width:
            lines[-1] = longer
            continue
        pieces = _pieces(word, width, height_mm)
        lines[len(lines) - (not lines[-1]) :] = pieces
    return tuple(lines)


def _pieces(word: str, width: float, height_mm: float) -> list[str]:
    """Cut one word into pieces that fit."""
    pieces = [""]
    for character in word:
        if pieces[-1] and width_mm(pieces[-1] + character, height_mm) > width:
            pieces.append("")
        pieces[-1] += character
    return pieces


def shortened(text: str, width: float, height_mm: float, *, bold: bool = False) -> str:
    """Return the text, cut with an ellipsis where it is wider than `width` [mm]."""
    text = printable(text)
    if width_mm(text, height_mm, bold=bold) <= width:
        return text
    kept = len(text)
    while kept and width_mm(text[:kept] + "…", height_mm, bold=bold) > width:
        kept -= 1
    return text[:kept].rstrip() + "…"
