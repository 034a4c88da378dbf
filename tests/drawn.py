"""What is on a drawn sheet: read back from PDF and SVG."""

from xml.etree import ElementTree as ET

import numpy as np
from pypdf import PdfReader
from pypdf.generic import ContentStream

MM_PER_PT = 25.4 / 72
SVG = "{http://www.w3.org/2000/svg}"


def pdf_strokes(path, page=0):
    """Every open or closed line of a PDF page: pen [mm] and its corners [mm], by reading its drawing operators."""
    reader = PdfReader(path)
    pen, corners_mm, strokes, stack = 1.0, [], [], []
    for operands, operator in ContentStream(reader.pages[page].get_contents(), reader).operations:
        numbers = [float(o) for o in operands] if operator in {b"w", b"m", b"l"} else []
        if operator == b"q":
            stack.append(pen)
        elif operator == b"Q":
            pen = stack.pop()
        elif operator == b"w":
            pen = numbers[0]
        elif operator in {b"m", b"l"}:
            corners_mm.append([n * MM_PER_PT for n in numbers])
        elif operator in {b"S", b"s", b"B", b"b"}:
            strokes.append((pen * MM_PER_PT, np.array(corners_mm)))
            corners_mm = []
        elif operator in {b"f", b"n"}:
            corners_mm = []
    return strokes


def pdf_text(path, page=0):
    """All text of a PDF page."""
    return PdfReader(path).pages[page].extract_text()


def svg_texts(path):
    """All texts of an SVG file."""
    return ["".join(node.itertext()) for node in ET.parse(path).iter(f"{SVG}text")]
