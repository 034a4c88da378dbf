"""Whether the ids that estate.toml names exist."""

from collections import Counter
from collections.abc import Iterable, Sequence

from estate.catalogue.tables import Catalogue
from estate.errors import Problem, suggestion
from estate.settings import LimitsSection, Settings
from estate.survey.survey import Survey


def broken_ids(settings: Settings, catalogue: Catalogue) -> list[Problem]:
    """Return a problem for every id in [design] and [prices] that the catalogue lacks, and every phase named twice."""
    design, prices = settings.design, settings.prices
    methods, cables, items = set(catalogue.methods), set(catalogue.cables), set(catalogue.items)
    rates = catalogue.rates.tables
    return [
        *_unknown("[design] methods", design.methods, methods, "the id of a method"),
        *_unknown("[design] cables", design.cables, cables, "the id of a cable"),
        *_unknown(
            "[design] discouraged", design.discouraged, methods | cables, "the id of a method or cable"
        ),
        *_unknown("[prices] cable_m", prices.cable_m, cables, "the id of a cable"),
        *_unknown("[prices] equipment", prices.equipment, items, "the id of an item of equipment"),
        *_unknown(
            "[prices] containment_m", prices.containment_m, set(rates["containment_m"]), "a containment"
        ),
        *_unknown("[prices] pull_m", prices.pull_m, set(rates["pull_m"]), "a containment"),
        *_unknown("[prices] termination", prices.termination, set(rates["termination"]), "a cable family"),
        *_doubled("[phases] names", settings.phases.names),
        *_not_counts("[prices] recorder", prices.recorder, "a number of channels"),
        *_not_counts("[prices] switch", prices.switch, "a number of ports"),
    ]


def broken_settings(survey: Survey) -> list[Problem]:
    """Return a problem for every id in [design] and [prices] that the survey doesn't have."""
    design, prices, points = survey.settings.design, survey.settings.prices, survey.points
    recorders = {str(i) for i, kind in zip(points["id"], points["kind"], strict=True) if kind == "recorder"}
    cameras = {str(i) for i, kind in zip(points["id"], points["kind"], strict=True) if kind == "camera"}
    apart = [camera for group in design.apart for camera in group]
    surfaces = {str(s) for s in survey.routes["surface"] if s is not None}
    return [
        *_unknown("[design] keep_recorders", design.keep_recorders, recorders, "a recorder of layer points"),
        *_unknown(
            "[design] forbid_recorders", design.forbid_recorders, recorders, "a recorder of layer points"
        ),
        *_unknown("[design] apart", apart, cameras, "a camera of layer points"),
        *_unknown(
            "[prices] trench_m",
            _near_misses(prices.trench_m, surfaces),
            surfaces,
            "a surface of layer routes",
        ),
    ]


def _near_misses(names: Iterable[str], known: set[str]) -> list[str]:
    """Return the names that look like a misspelt known one: a surface may well be priced and not used yet."""
    return [name for name in names if name not in known and suggestion(name, known)]


def _not_counts(field: str, names: Iterable[str], what: str) -> list[Problem]:
    return [
        Problem("estate.toml", what, field=field, value=name)
        for name in names
        if not name.isdigit() and name != "other"
    ]


def _doubled(field: str, names: Sequence[str]) -> list[Problem]:
    return [
        Problem("estate.toml", "each name once", field=field, value=name, fix="take one of them out")
        for name, count in Counter(names).items()
        if count > 1
    ]


def superseded_rules(limits: LimitsSection) -> list[Problem]:
    """Return a problem where a design would rest on the superseded table of cable pairs."""
    if limits.separation == "en50174":
        return []
    return [
        Problem(
            "estate.toml", "en50174: the table of pairs is superseded, for audits of older work only",
            field="[limits] separation", value=limits.separation,
            fix="take the line out; `estate separation --rules pairs-2000` shows the old table's answer",
        )
    ]  # fmt: skip


def _unknown(field: str, names: Iterable[str], known: set[str], what: str) -> list[Problem]:
    return [
        Problem("estate.toml", what, field=field, value=name, fix=suggestion(name, known))
        for name in names
        if name not in known
    ]
