"""Files that hold several layers at once: estate.gpkg, and DXF drawings through [drawing] cad_layers."""

from collections.abc import Iterator
from pathlib import Path

from estate.errors import Problem
from estate.settings import Settings
from estate.survey.cad_layers import PLACE, cad_layers
from estate.survey.coordinates import declared_frame, unit_m
from estate.survey.dxf_file import CadDrawing, open_drawing, read_drawing, unused_problems
from estate.survey.fields import LAYERS, LayerSchema
from estate.survey.geopackage_file import read_geopackage
from estate.survey.table import Table

PACKAGE = "estate.gpkg"

Read = tuple[str, tuple[Table, str, list[Problem]]]
"""Name of a file as its table has it; table, note and problems."""


def shared_files(folder: Path) -> list[Path]:
    """Return the files of a folder that can hold several layers, in order of name."""
    return sorted(
        path
        for path in folder.iterdir()
        if path.is_file() and (path.name == PACKAGE or path.suffix.casefold() == ".dxf")
    )


class SharedFiles:
    """The shared files of an estate, opened once; `problems` and `notes` are of the files as a whole."""

    def __init__(self, folder: Path, settings: Settings) -> None:
        self.notes: list[str] = []
        self.problems: list[Problem] = []
        files = shared_files(folder)
        self.package, self.package_tables = self._package(files)
        self.cad, found = cad_layers(settings.drawing.cad_layers)
        self.problems += found
        self.drawings = self._drawings([path for path in files if path.suffix.casefold() == ".dxf"], settings)
        self.problems += unused_problems(self.drawings, self.cad)

    def tables(self, schema: LayerSchema) -> Iterator[Read]:
        """Yield what each shared file has of a layer; a drawing counts where it has any object of it."""
        if self.package is not None and schema.name in self.package_tables:
            found = read_geopackage(self.package, schema)
            yield f"{self.package.name} ({schema.name})", found
        for drawing in self.drawings:
            table, note, problems = read_drawing(drawing, schema, self.cad)
            if len(table):
                yield f"{drawing.name} ({schema.name})", (table, note, problems)

    def _package(self, files: list[Path]) -> tuple[Path | None, frozenset[str]]:
        """Return the GeoPackage of all layers and the names of its tables."""
        path = next((path for path in files if path.name == PACKAGE), None)
        if path is None:
            return None, frozenset()
        import pyogrio  # noqa: PLC0415  slow, and only this file needs it
        from pyogrio.errors import DataSourceError  # noqa: PLC0415

        try:
            names = frozenset(str(name) for name in pyogrio.list_layers(path)[:, 0])
        except DataSourceError as error:
            self.problems.append(Problem(path.name, f"a readable GeoPackage ({error})"))
            return None, frozenset()
        if not names & set(LAYERS):
            expected = f"tables named {', '.join(LAYERS)}"
            self.problems.append(Problem(path.name, expected, value=", ".join(sorted(names))))
        return path, names

    def _drawings(self, paths: list[Path], settings: Settings) -> list[CadDrawing]:
        """Open the drawings, where estate.toml says what their layers are."""
        if not paths:
            return []
        if not self.cad:
            if not self.problems:
                names = ", ".join(path.name for path in paths if path.name != settings.drawing.backdrop)
                self.notes += [f"{names}: no layer is read, as {PLACE} names none"] if names else []
            return []
        frame, _ = declared_frame(settings.estate)
        if frame is not None and frame.degrees:
            fix = "give the projected crs that the drawing is in, or local"
            self.problems.append(
                Problem(paths[0].name, "a crs in metres or feet", field="[estate] crs", fix=fix)
            )
            return []
        unit = 1.0 if frame is None else frame.unit_m if frame.crs is None else unit_m(frame.crs)
        as_points = frozenset(
            name for name, each in self.cad.items() if LAYERS[each.layer].geometry == "point"
        )
        opened = [open_drawing(path, unit, as_points) for path in paths]
        self.problems += [problem for _, problems in opened for problem in problems]
        return [drawing for drawing, _ in opened if drawing is not None]
