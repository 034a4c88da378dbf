"""How complete the survey is: of the facts that judging needs, how many are known, by layer and by column."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from estate.survey.survey import Layer, Survey
from estate.survey.values import is_unknown

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Need:
    """A fact that judging needs of the rows of a layer: known where any of its columns is."""

    layer: str
    columns: tuple[str, ...]
    when: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Only of rows that have one of these values, by column."""

    @property
    def name(self) -> str:
        """Its columns, as told."""
        return " or ".join(self.columns)


CAMERA, RECORDER, PATCH = ({"kind": (kind,)} for kind in ("camera", "recorder", "patch"))
BORED = {"containment": ("duct", "conduit", "trunking")}
STACKED = {"containment": ("tray", "basket")}
DUG = {"containment": ("duct", "buried")}
MAINS = {"kind": ("mains",)}

NEEDS = (
    Need("routes", ("containment",)),
    Need("routes", ("bore_mm", "area_mm2"), BORED),
    Need("routes", ("width_mm",), STACKED),
    Need("routes", ("support_mm",), STACKED),
    Need("routes", ("fill_percent",), {"status": ("existing",)}),
    Need("routes", ("surface",), DUG),
    Need("routes", ("depth_mm",), DUG),
    Need("points", ("signal",), CAMERA),
    Need("points", ("load_w",), CAMERA),
    Need("points", ("load_night_w",), CAMERA),
    Need("points", ("power",), CAMERA),
    Need("points", ("height_m",), CAMERA),
    Need("points", ("channels",), RECORDER),
    Need("points", ("power",), PATCH),
    Need("mains", ("placement",)),
    Need("mains", ("volts",), MAINS),
    Need("mains", ("amps",), MAINS),
    Need("mains", ("circuits",), MAINS),
    Need("buildings", ("earthing",)),
    Need("supplies", ("kind",)),
    Need("supplies", ("volts",)),
    Need("supplies", ("watts",)),
    Need("cables", ("status",)),
    Need("cables", ("cable",)),
    Need("cables", ("method",), {"status": ("in_use",)}),
    Need("cables", ("routes",)),
    Need("cables", ("length_m",)),
    Need("cables", ("joints",)),
)
"""What a link is judged by, containment filled by, a trench taken off by; each without it leaves something unknown."""


@dataclass(frozen=True, slots=True)
class Share:
    """How much of a fact, or of a whole layer (`columns` empty), is known."""

    layer: str
    kind: str
    """Kind of point that the fact belongs to, empty for all rows of the layer."""
    columns: str
    needed: int
    known: int
    """As surveyed; neither assumed nor a default."""
    assumed: int

    @property
    def percent(self) -> float:
        """Share that is known [%], NaN where nothing is needed."""
        return 100 * self.known / self.needed if self.needed else float("nan")


def completeness(survey: Survey) -> tuple[Share, ...]:
    """Return the share of known facts by column, each layer's rows after that of the layer as a whole."""
    by_layer: dict[str, list[Share]] = {}
    for need in NEEDS:
        by_layer.setdefault(need.layer, []).append(_share(survey, need))
    shares: list[Share] = []
    for layer, columns in by_layer.items():
        shares += [_total(layer, columns), *columns]
    return tuple(shares)


def _total(layer: str, columns: list[Share]) -> Share:
    needed, known, assumed = (
        sum(counts) for counts in zip(*((s.needed, s.known, s.assumed) for s in columns), strict=True)
    )
    return Share(layer, "", "", needed, known, assumed)


def _share(survey: Survey, need: Need) -> Share:
    layer: Layer = getattr(survey, need.layer)
    asked = _rows(layer, need)
    known = assumed = np.zeros(len(layer), dtype=bool)
    for column in need.columns:
        given = ~is_unknown(layer[column])
        by_user = layer.assumed.get(column, np.zeros(len(layer), dtype=bool))
        defaulted = layer.defaulted.get(column, np.zeros(len(layer), dtype=bool))
        known = known | (given & ~by_user & ~defaulted)
        assumed = assumed | (given & by_user)
    kind = need.when["kind"][0] if need.layer == "points" and "kind" in need.when else ""
    counts = (int(np.count_nonzero(asked & mark)) for mark in (known, assumed & ~known))
    return Share(need.layer, kind, need.name, int(np.count_nonzero(asked)), *counts)


def _rows(layer: Layer, need: Need) -> Bools:
    """Return the rows of a layer that a fact is needed of."""
    asked = np.ones(len(layer), dtype=bool)
    for column, values in need.when.items():
        asked &= np.isin(layer[column].astype(str), values)
    return asked


def missing_facts(survey: Survey) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield layer, id and missing facts of every row that lacks any, assumed ones included."""
    for name in dict.fromkeys(need.layer for need in NEEDS):
        layer: Layer = getattr(survey, name)
        lacking: dict[int, list[str]] = {}
        for need in (need for need in NEEDS if need.layer == name):
            unknown = _rows(layer, need)
            for column in need.columns:
                unknown &= is_unknown(layer[column]) | layer.assumed.get(
                    column, np.zeros(len(layer), dtype=bool)
                )
            for row in np.flatnonzero(unknown).tolist():
                lacking.setdefault(row, []).append(need.name)
        for row in sorted(lacking):
            yield name, str(layer["id"][row]), tuple(lacking[row])
