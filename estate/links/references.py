"""Whether the ids that estate.toml names exist."""

from collections.abc import Iterable

from estate.catalogue.tables import Catalogue
from estate.errors import Problem, suggestion
from estate.settings import LimitsSection
from estate.survey.survey import Survey


def broken_settings(survey: Survey, catalogue: Catalogue) -> list[Problem]:
    """Return a problem for every id in [design] and [prices] that names nothing."""
    design, prices, points = survey.settings.design, survey.settings.prices, survey.points
    recorders = {str(i) for i, kind in zip(points["id"], points["kind"], strict=True) if kind == "recorder"}
    cameras = {str(i) for i, kind in zip(points["id"], points["kind"], strict=True) if kind == "camera"}
    methods, cables = set(catalogue.methods), set(catalogue.cables)
    apart = [camera for group in design.apart for camera in group]
    return [
        *_unknown("[design] methods", design.methods, methods, "a method"),
        *_unknown("[design] cables", design.cables, cables, "a cable"),
        *_unknown("[design] discouraged", design.discouraged, methods | cables, "a method or cable"),
        *_unknown("[design] keep_recorders", design.keep_recorders, recorders, "a recorder of layer points"),
        *_unknown(
            "[design] forbid_recorders", design.forbid_recorders, recorders, "a recorder of layer points"
        ),
        *_unknown("[design] apart", apart, cameras, "a camera of layer points"),
        *_unknown("[prices] cable_m", prices.cable_m, cables, "a cable"),
        *_unknown("[prices] equipment", prices.equipment, set(catalogue.items), "an item of equipment"),
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
        Problem("estate.toml", f"the id of {what}", field=field, value=name, fix=suggestion(name, known))
        for name in names
        if name not in known
    ]
