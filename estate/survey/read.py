"""An estate folder in: every layer read, checked, brought to metres, and every problem told at once."""

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.errors import InputError, Problem, suggestion
from estate.settings import Settings
from estate.survey.backdrop import backdrop_files, read_backdrop
from estate.survey.blanks import Marks, fill_assumed, fill_defaults, read_assumed
from estate.survey.contradictions import check_contradictions
from estate.survey.csv_file import read_csv
from estate.survey.drawn import check_routes, check_shapes, check_types, exploded, with_parts
from estate.survey.fields import LAYERS, REQUIRED_LAYERS, LayerSchema
from estate.survey.geojson_file import read_geojson
from estate.survey.geopackage_file import read_geopackage
from estate.survey.placing import place_layers
from estate.survey.references import check_doubles, check_places, check_references, check_separators
from estate.survey.settings_file import read_settings
from estate.survey.shapefile_file import parts_of, read_shapefile
from estate.survey.shared_files import SharedFiles, shared_files
from estate.survey.survey import Assumption, FileCount, Layer, Survey
from estate.survey.table import Table, joined, objects
from estate.survey.values import Known, typed_columns
from estate.units import M_PER_FT

SETTINGS_FILE = "estate.toml"
Reader = Callable[[Path, LayerSchema], tuple[Table, str, list[Problem]]]
READERS: Mapping[str, Reader] = {
    ".csv": read_csv,
    ".geojson": read_geojson,
    ".gpkg": read_geopackage,
    ".shp": read_shapefile,
}

Columns = dict[str, NDArray[Any]]


@dataclass
class _Reading:
    """What has been read so far."""

    tables: dict[str, Table] = field(default_factory=dict)
    columns: dict[str, Columns] = field(default_factory=dict)
    files: dict[str, list[str]] = field(default_factory=dict)
    """Names of the files of each layer, as its table has them."""
    file_notes: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def read_survey(folder: Path, known: Known | None = None, overlay: Path | None = None) -> Survey:
    """Read every layer of an estate folder; `overlay` is a variant of its settings.

    `known` holds the catalogue's ids by table (signals, feeds, cables, methods, items); ids of a table that
    it lacks are not checked.

    Raises
    ------
    InputError
        Anything is wrong with any file or with estate.toml; carries every problem, and per file how many
        features were accepted and rejected.

    """
    if not folder.is_dir():
        raise InputError([Problem(str(folder), "a folder", fix="run `estate new FOLDER` to get one")])
    settings, problems = read_settings(folder / SETTINGS_FILE, overlay)
    ids = known or {}
    assumed, more = read_assumed(settings.assume, ids)
    reading = _Reading(problems=[*problems, *more])
    files, shared = layer_files(folder), SharedFiles(folder, settings)
    reading.problems += shared.problems
    for schema in LAYERS.values():
        reading.tables[schema.name] = _read_layer(schema, files[schema.name], shared, folder, reading)
    plane, notes, troubles = place_layers(reading.tables, settings.estate)
    backdrop = read_backdrop(folder, settings, plane, reading.tables)
    reading.notes += [*shared.notes, *notes, *backdrop.notes]
    reading.problems += [*troubles, *backdrop.problems]
    _check(reading, ids, settings)
    counts = _counts(reading)
    found = [*reading.problems, *(p for table in reading.tables.values() for p in table.problems)]
    if found:
        raise InputError(found, [_count_line(count) for count in counts])
    layers, assumptions = _layers(reading, assumed)
    return Survey(
        folder=folder,
        settings=settings,
        **layers,
        crs=plane.code,
        crs_wkt=plane.crs.to_wkt() if plane.crs is not None else "",
        files=counts,
        notes=(*reading.notes, *(n for table in reading.tables.values() for n in table.notes)),
        assumptions=tuple(assumptions),
        hashes=_hashes(folder, settings),
        backdrop=backdrop.shapes,
    )


def layer_files(folder: Path) -> dict[str, list[Path]]:
    """Return the files of every layer, NAME.* and NAME-anything.*, in order of name."""
    present = sorted(
        path for path in folder.iterdir() if path.is_file() and path.suffix.casefold() in READERS
    )
    return {
        name: [path for path in present if re.fullmatch(rf"{name}(-.*)?", path.stem.casefold())]
        for name in LAYERS
    }


def _read_layer(
    schema: LayerSchema, paths: list[Path], shared: SharedFiles, folder: Path, reading: _Reading
) -> Table:
    tables = []
    before = len(reading.problems)
    found = [(path.name, READERS[path.suffix.casefold()](path, schema)) for path in paths]
    for name, (table, note, problems) in (*found, *shared.tables(schema)):
        reading.files.setdefault(schema.name, []).append(name)
        reading.file_notes[name] = note
        reading.problems += problems
        tables.append(table)
    table = joined(schema, tables)
    if len(reading.problems) == before and not len(table):
        _missing(schema, paths, folder, reading)
    check_types(table)
    return table


def _missing(schema: LayerSchema, paths: list[Path], folder: Path, reading: _Reading) -> None:
    """Record a layer that has no features, or a required one that has no file."""
    if paths:
        fix = "fill it or remove it" if schema.name not in REQUIRED_LAYERS else ""
        reading.problems.append(Problem(paths[0].name, "at least one feature", value="empty", fix=fix))
    elif schema.name in REQUIRED_LAYERS:
        others = {path.stem.casefold(): path.name for path in sorted(folder.iterdir()) if path.is_file()}
        near = suggestion(schema.name, others)
        fix = next((f"rename {name}" for stem, name in others.items() if repr(stem) in near), "")
        expected = f"this layer, as {schema.name}.geojson, .csv, .gpkg or .shp"
        reading.problems.append(Problem(schema.name, expected, value="missing", fix=fix))


def _check(reading: _Reading, known: Known, settings: Settings) -> None:
    """Type and check the values of all layers, then what they say of each other."""
    parts: dict[str, Mapping[str, tuple[str, ...]]] = {}
    for name, table in list(reading.tables.items()):
        columns = typed_columns(table, known)
        check_shapes(table, settings.network.snap_m)
        if name == "routes":
            _merge_feet(table, columns)
            check_routes(table, columns)
        reading.tables[name], reading.columns[name], parts[name] = exploded(table, columns)
        check_separators(reading.tables[name], reading.columns[name])
        check_doubles(reading.tables[name], reading.columns[name])
    cables, routes = reading.columns["cables"], reading.columns["routes"]
    cables["routes"] = with_parts(cables["routes"], parts["routes"])
    routes["separation_from"] = with_parts(routes["separation_from"], parts["mains"])
    check_references(reading.tables, reading.columns, settings.phases.names)
    check_places(reading.tables, reading.columns)
    check_contradictions(reading.tables, reading.columns)


def _merge_feet(table: Table, columns: Columns) -> None:
    """Take lengths in feet for those in metres; a row that gives both must mean the same, to 1 cm."""
    feet = columns.pop("length_ft") * M_PER_FT
    metres = columns["length_m"]
    for index in np.flatnonzero(np.abs(feet - metres) > 0.01).tolist():
        expected = f"the same as length_m = {metres[index]:g}, which is {metres[index] / M_PER_FT:.2f} ft"
        value = table.values["length_ft"][index]
        table.reject(index, expected, field="length_ft", value=value, fix="keep one of them")
    columns["length_m"] = np.where(np.isnan(metres), feet, metres)


def _counts(reading: _Reading) -> tuple[FileCount, ...]:
    """Count features by file; the parts of one line are one feature."""
    counts = []
    for name, files in reading.files.items():
        table = reading.tables[name]
        for file in files:
            mine = table.file == file
            features = len(np.unique(table.row[mine]))
            rejected = len(np.unique(table.row[mine & table.rejected]))
            counts.append(FileCount(file, features, features - rejected, rejected, reading.file_notes[file]))
    return tuple(counts)


def _count_line(count: FileCount) -> str:
    return f"{count.file}: {count.features} features = {count.accepted} accepted + {count.rejected} rejected"


def _layers(
    reading: _Reading, assumed: Mapping[tuple[str, str], Any]
) -> tuple[dict[str, Layer], list[Assumption]]:
    """Fill blanks, sort rows by id and freeze."""
    layers: dict[str, Layer] = {}
    assumptions: list[Assumption] = []
    for name, table in reading.tables.items():
        columns = reading.columns[name]
        marks, counted = fill_assumed(table.schema, columns, assumed)
        defaulted, more = fill_defaults(table.schema, columns)
        assumptions += [*counted, *more]
        layers[name] = _layer(table, columns, marks, defaulted)
    return layers, assumptions


def _layer(table: Table, columns: Columns, assumed: Marks, defaulted: Marks) -> Layer:
    order = np.array(sorted(range(len(table)), key=lambda row: columns["id"][row]), dtype=np.int64)
    origin = [f"{file} row {row}" for file, row in zip(table.file[order], table.row[order], strict=True)]
    return Layer(
        name=table.schema.name,
        columns={name: column[order] for name, column in columns.items()},
        geometry=table.geometry[order],
        origin=objects(origin),
        extra={name: objects(values)[order] for name, values in table.extra.items()},
        assumed={name: mark[order] for name, mark in assumed.items()},
        defaulted={name: mark[order] for name, mark in defaulted.items()},
    )


def input_hashes(folder: Path) -> dict[str, str]:
    """Return SHA-256 of every input file of an estate by name."""
    return _hashes(folder, read_settings(folder / SETTINGS_FILE)[0])


def _hashes(folder: Path, settings: Settings) -> dict[str, str]:
    layers = [path for paths in layer_files(folder).values() for path in paths]
    paths = [folder / SETTINGS_FILE, *layers, *shared_files(folder), *backdrop_files(folder, settings)]
    beside = [part for path in paths if path.suffix.casefold() == ".shp" for part in parts_of(path)]
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in dict.fromkeys((*paths, *beside))
    }
