"""[drawing] cad_layers: which layer of a CAD drawing is which of ours, with values for its columns."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from estate.errors import Problem, suggestion
from estate.survey.fields import LAYERS

PLACE = "[drawing] cad_layers"
DRAWN = tuple(schema.name for schema in LAYERS.values() if schema.geometry != "none")


@dataclass(frozen=True)
class CadLayer:
    """What the objects of one CAD layer are: a layer of ours, and what all of them have in some columns."""

    name: str
    layer: str
    columns: Mapping[str, Any] = field(default_factory=dict)


def cad_layers(
    table: Mapping[str, Any], file: str = "estate.toml"
) -> tuple[dict[str, CadLayer], list[Problem]]:
    """Return the CAD layers by name in lower case, and what is wrong with the table.

    Each is the name of a layer of ours, or a table with `layer` and constant values of its columns.
    """
    found: dict[str, CadLayer] = {}
    problems: list[Problem] = []
    for name, given in table.items():
        columns = dict(given) if isinstance(given, dict) else {"layer": given}
        layer = columns.pop("layer", None)
        if layer not in DRAWN:
            fix = suggestion(str(layer), DRAWN) if layer is not None else 'write { layer = "routes", … }'
            problems.append(
                Problem(file, f"one of {', '.join(DRAWN)}", field=f"{PLACE} {name}", value=layer, fix=fix)
            )
            continue
        problems += _unknown_columns(name, layer, columns, file)
        found[name.casefold()] = CadLayer(name, layer, columns)
    return found, problems


def _unknown_columns(name: str, layer: str, columns: Mapping[str, Any], file: str) -> list[Problem]:
    known = [column for column in LAYERS[layer].by_name if column != "id"]
    return [
        Problem(
            file, f"a column of layer {layer}", field=f"{PLACE} {name}", value=column,
            fix="ids are an object's own" if column == "id" else suggestion(column, known),
        )
        for column in columns
        if column not in known
    ]  # fmt: skip
