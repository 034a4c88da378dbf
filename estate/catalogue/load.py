"""Reading the catalogue: the packaged files, the user's entries over them, and a check of everything."""

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from importlib.resources import files
from typing import Any, get_type_hints

from estate.catalogue.references import broken_references
from estate.catalogue.schema import (
    ABOVE_ZERO,
    FIGURES,
    FLAG,
    LIST,
    NEEDED,
    NUMBER,
    REQUIRED,
    TEXT,
    WORDS,
    Fields,
)
from estate.catalogue.tables import (
    ENVIRONMENTS,
    STATUSES,
    Application,
    Cable,
    Catalogue,
    Entry,
    Feed,
    Figure,
    Item,
    Method,
    Rates,
    Signal,
)
from estate.catalogue.whole import missing_of_methods
from estate.errors import Problem, suggestion

KINDS: Mapping[str, type[Entry]] = {
    "cables": Cable,
    "signals": Signal,
    "feeds": Feed,
    "methods": Method,
    "items": Item,
    "applications": Application,
}
OVERLAYS = (*KINDS, "rules", "sources")
DECLARED = "given by the user in estate.toml"
NOT_IDENTITY = ("id", "figures", "reach")

Table = Mapping[str, Any]


@dataclass(frozen=True)
class _Check:
    """Where problems are put, and what says which file a key came from."""

    problems: list[Problem]
    overlay: Table
    file: str
    sources: Mapping[str, str]

    def add(self, section: str, id_: str, key: str, value: Any, expected: str, fix: str = "") -> None:
        given = self.overlay.get(section, {})
        users = isinstance(given, Mapping) and id_ in given
        file = self.file if users else f"{section}.toml"
        field = f"[catalogue.{section}] {key}".strip() if users else key
        self.problems.append(Problem(file, expected, id=id_, field=field, value=value, fix=fix))


def load_catalogue(
    overlay: Table | None = None, file: str = "estate.toml"
) -> tuple[Catalogue, list[Problem]]:
    """Return the catalogue with the user's [catalogue] tables over it, and every problem found.

    A known id is overlaid key by key; a new entry must be complete. The user's figures may be plain values:
    their source is estate.toml, their status `declared`. A wrong figure is left out: unknown, not guessed.
    """
    problems: list[Problem] = []
    given = _sound_overlay(overlay or {}, file, problems)
    sources = {**_packaged("sources"), **given.get("sources", {})}
    check = _Check(problems, given, file, sources)
    entries: dict[str, Any] = {
        section: {
            id_: _entry(section, id_, raw, check)
            for id_, raw in _merged(_packaged(section), given.get(section, {})).items()
        }
        for section in KINDS
    }
    built = Catalogue(**entries, rates=Rates(_packaged("rates")), rules=_rules(given.get("rules", {}), check))
    for section, id_, key, value, known in broken_references(built):
        fix = suggestion(value, known) or f"known: {', '.join(sorted(known))}"
        check.add(section, id_, key, value, "the id of an entry of the catalogue", fix)
    for id_, key, given_value, expected in missing_of_methods(built):
        check.add("methods", id_, key, given_value, expected)
    return built, problems


@cache
def _packaged(name: str) -> dict[str, Any]:
    """Return the table of one packaged file."""
    text = (files("estate.catalogue") / f"{name}.toml").read_text(encoding="utf-8")
    table: dict[str, Any] = tomllib.loads(text)[name]
    return table


def _sound_overlay(overlay: Table, file: str, problems: list[Problem]) -> dict[str, Any]:
    """Return those tables of [catalogue] that are tables of a known section."""
    sound: dict[str, Any] = {}
    for section, table in overlay.items():
        place = f"[catalogue.{section}]"
        if section == "rates":
            problems.append(Problem(file, "no rates here", field=place, fix="write them in [prices]"))
        elif section not in OVERLAYS:
            fix = suggestion(section, OVERLAYS)
            problems.append(Problem(file, f"one of {', '.join(OVERLAYS)}", field=place, fix=fix))
        elif not isinstance(table, Mapping):
            problems.append(Problem(file, "a table", field=place, value=table))
        else:
            inner = str if section == "sources" else Mapping
            expected = "a text" if section == "sources" else "a table"
            sound[section] = {k: v for k, v in table.items() if isinstance(v, inner)}
            problems += [
                Problem(file, expected, id=k, field=place, value=v)
                for k, v in table.items()
                if not isinstance(v, inner)
            ]
    return sound


def _merged(packaged: Table, given: Table) -> dict[str, Any]:
    """Lay the user's entries over the packaged ones, key by key; reach by class and profile, applications by cable."""
    merged = dict(packaged)
    for id_, table in given.items():
        old = packaged.get(id_, {})
        new = {**old, **table}
        if isinstance(table.get("reach"), Mapping):
            new["reach"] = _merged_reach(old.get("reach", {}), table["reach"])
        if isinstance(table.get("applications"), Mapping):
            new["applications"] = {**old.get("applications", {}), **table["applications"]}
        merged[id_] = new
    return merged


def _merged_reach(packaged: Table, given: Table) -> dict[str, Any]:
    return {
        **packaged,
        **{k: {**packaged.get(k, {}), **v} if isinstance(v, Mapping) else v for k, v in given.items()},
    }


def _entry(section: str, id_: str, raw: Table, check: _Check) -> Entry:
    """Build one entry out of its table."""
    kind = KINDS[section]
    hints = {k: v for k, v in get_type_hints(kind).items() if k not in NOT_IDENTITY}
    values: dict[str, Any] = {"name": id_}
    figures: dict[str, Figure] = {}
    for key, value in raw.items():
        if key == "reach" and section == "signals":
            values["reach"] = _reach(id_, value, check)
        elif key in hints:
            complaint = _identity_complaint(section, key, value, str(hints[key]))
            if complaint:
                check.add(section, id_, key, value, complaint)
            else:
                values[key] = tuple(value) if isinstance(value, list) else value
        else:
            figure = _figure(section, id_, key, value, check)
            if figure is not None:
                figures[key] = figure
    for key in REQUIRED[section]:
        if key not in raw:
            check.add(section, id_, key, None, "a value: a new entry must be complete")
    for key in NEEDED.get((section, str(values.get("kind"))), ()):
        if key not in raw:
            meaning = FIGURES[section][key][1]
            check.add(section, id_, key, None, f"a figure, as every {values['kind']} has: {meaning}")
    return kind(id=id_, figures=figures, **values)


def _identity_complaint(section: str, key: str, value: Any, hint: str) -> str:
    """Say what an identity key should have been, or nothing."""
    words = WORDS.get((section, key))
    if words:
        return "" if value in words else f"one of {', '.join(words)}"
    if "tuple" in hint:
        good = isinstance(value, list) and all(isinstance(v, str) for v in value)
        return "" if good else "a list of texts"
    if "Mapping" in hint:
        good = isinstance(value, Mapping) and all(isinstance(v, str) for v in value.values())
        return "" if good else "a table of texts"
    if "bool" in hint:
        return "" if isinstance(value, bool) else FLAG
    if "int" in hint:
        good = isinstance(value, int) and not isinstance(value, bool) and value >= 0
        return "" if good else "a whole number of 0 or more"
    return "" if isinstance(value, str) else TEXT


def _reach(id_: str, raw: Any, check: _Check) -> dict[str, dict[str, Figure]]:
    """Build a signal's trade reach by reach class and profile."""
    reach: dict[str, dict[str, Figure]] = {}
    if not isinstance(raw, Mapping):
        check.add("signals", id_, "reach", raw, "a table by reach class")
        return reach
    for cls, profiles in raw.items():
        if not isinstance(profiles, Mapping):
            check.add("signals", id_, f"reach.{cls}", profiles, "a table with cautious and typical")
            continue
        row = reach.setdefault(cls, {})
        for profile, value in profiles.items():
            key = f"reach.{cls}.{profile}"
            if profile not in ("cautious", "typical"):
                check.add("signals", id_, key, value, "the profile cautious or typical")
                continue
            figure = _sourced("signals", id_, key, value, check)
            complaint = figure is not None and _value_complaint(figure.value, NUMBER)
            if complaint:
                check.add("signals", id_, key, value, str(complaint))
            elif figure is not None:
                row[profile] = figure
    return reach


def _figure(section: str, id_: str, key: str, value: Any, check: _Check) -> Figure | None:
    """Check one figure against the schema; None where it can't be used."""
    known: Fields = FIGURES[section]
    if key not in known:
        names = [*known, *(f.name for f in fields(KINDS[section]) if f.name not in ("id", "figures"))]
        check.add(section, id_, key, value, "a known key", suggestion(key, names))
        return None
    figure = _sourced(section, id_, key, value, check)
    if figure is None:
        return None
    complaint = _value_complaint(figure.value, known[key][0])
    if not complaint and (section, key) in ABOVE_ZERO and not figure.value > 0:
        complaint = "a number above 0"
    words = WORDS.get((section, key))
    if words and figure.value not in words:
        complaint = f"one of {', '.join(w or 'an empty text' for w in words)}"
    if key == "fit" and not complaint and set(figure.value) - set(ENVIRONMENTS):
        complaint = f"environments out of {', '.join(ENVIRONMENTS)}"
    if complaint:
        check.add(section, id_, key, figure.value, complaint)
        return None
    return figure


def _sourced(section: str, id_: str, key: str, value: Any, check: _Check) -> Figure | None:
    """Read { value, source, status }, or a user's plain value; None where source or status is wrong."""
    users = key.split(".", maxsplit=1)[0] in check.overlay.get(section, {}).get(id_, {})
    if not (isinstance(value, Mapping) and "value" in value):
        if users:
            return Figure(value, DECLARED, "declared")
        check.add(section, id_, key, value, "a figure { value, source, status }")
        return None
    source = value.get("source", DECLARED if users else None)
    status = value.get("status", "declared" if users else None)
    unknown = set(value) - {"value", "source", "status"}
    if unknown:
        check.add(section, id_, key, sorted(unknown), "the keys value, source and status only")
        return None
    if status not in STATUSES:
        check.add(section, id_, f"{key}.status", status, f"one of {', '.join(STATUSES)}")
        return None
    if source != DECLARED and source not in check.sources:
        fix = suggestion(str(source), check.sources) or "add it to [catalogue.sources]"
        check.add(section, id_, f"{key}.source", source, "a known source", fix)
        return None
    return Figure(value["value"], check.sources.get(source, DECLARED), status)


def _value_complaint(value: Any, kind: str) -> str:
    """Say what a figure's value should have been, or nothing."""
    if kind == NUMBER:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return "" if number and math.isfinite(value) and value >= 0 else "a number of 0 or more"
    if kind == LIST:
        good = isinstance(value, list) and all(isinstance(v, str) for v in value)
        return "" if good else "a list of texts"
    return "" if isinstance(value, str if kind == TEXT else bool) else kind


def _rules(given: Table, check: _Check) -> dict[str, dict[str, Figure]]:
    """Build the figures that belong to no entry; the user can replace them, not add to them."""
    packaged = _packaged("rules")
    rules = {
        subject: {k: f for k, v in table.items() if (f := _sourced("rules", subject, k, v, check_packaged))}
        for subject, table, check_packaged in _each_rule(packaged, check)
    }
    for subject, table in given.items():
        if subject not in packaged:
            check.add("rules", subject, "", None, "a known subject", suggestion(subject, packaged))
            continue
        for key, value in table.items():
            if key not in packaged[subject]:
                check.add("rules", subject, key, value, "a known key", suggestion(key, packaged[subject]))
                continue
            figure = _sourced("rules", subject, key, value, check)
            if figure is not None and _alike(figure.value, rules[subject][key].value):
                rules[subject][key] = figure
            elif figure is not None:
                check.add("rules", subject, key, value, "a value in the form of the catalogue's own")
    return rules


def _each_rule(packaged: Table, check: _Check) -> Iterator[tuple[str, Table, _Check]]:
    """Give each subject with a check that takes nothing in it for the user's."""
    bare = replace(check, overlay={})
    for subject, table in packaged.items():
        yield subject, table, bare


def _alike(value: Any, model: Any) -> bool:
    """Whether a value has the form of the one it replaces; numbers of 0 or more."""
    if isinstance(model, Mapping):
        return (
            isinstance(value, Mapping)
            and set(value) == set(model)
            and all(_alike(value[k], m) for k, m in model.items())
        )
    if isinstance(model, list):
        return isinstance(value, list) and bool(value) and all(_alike(v, model[0]) for v in value)
    if isinstance(model, int | float):
        return isinstance(value, int | float) and not isinstance(value, bool) and value >= 0
    return isinstance(value, type(model))
