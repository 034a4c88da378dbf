"""estate.toml read and checked key by key, alone or under the overlay of a variant."""

import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields
from pathlib import Path
from types import UnionType
from typing import Any, get_args, get_type_hints

from estate.errors import Problem, suggestion
from estate.settings import Settings


def read_settings(path: Path, overlay: Path | None = None) -> tuple[Settings, list[Problem]]:
    """Read estate.toml; every problem is returned beside what could be read.

    `overlay` is a variant: a file like estate.toml whose keys replace those of `path`, table by table. `path` is
    taken to be checked by itself, so problems of the two together name the variant.
    """
    raw, problems = _parsed(path, path.name)
    if overlay is None or problems:
        return (Settings(), problems) if problems else settings_from(raw, path.name)
    name = f"{overlay.parent.name}/{overlay.name}"
    more, problems = _parsed(overlay, name)
    return (Settings(), problems) if problems else settings_from(merged(raw, more), name)


def _parsed(path: Path, name: str) -> tuple[dict[str, Any], list[Problem]]:
    """Return a TOML file as tables, and what keeps it from being read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig")), []
    except FileNotFoundError:
        fix = "run `estate new FOLDER`, or write an empty estate.toml into the folder"
        return {}, [Problem(name, "the estate's settings in this file", value="missing", fix=fix)]
    except UnicodeDecodeError:
        return {}, [Problem(name, "UTF-8 text", fix="save the file as UTF-8")]
    except tomllib.TOMLDecodeError as error:
        return {}, [Problem(name, f"TOML: {error}")]


def merged(base: Mapping[str, Any], overlay: Mapping[str, Any]) -> dict[str, Any]:
    """Return the tables of two files as one: keys of the overlay win, tables are merged key by key.

    >>> merged({"design": {"keep": True, "cables": ["os2"]}}, {"design": {"cables": ["om3"]}})
    {'design': {'keep': True, 'cables': ['om3']}}
    """
    found = dict(base)
    for key, value in overlay.items():
        old = found.get(key)
        found[key] = merged(old, value) if isinstance(old, dict) and isinstance(value, dict) else value
    return found


def settings_from(raw: Mapping[str, Any], file: str = "estate.toml") -> tuple[Settings, list[Problem]]:
    """Check a parsed estate.toml key by key."""
    problems: list[Problem] = []
    given: set[str] = set()
    sections: dict[str, Any] = {}
    known = {f.name: f for f in fields(Settings) if f.name != "given"}
    for name, table in raw.items():
        if name not in known:
            problems.append(
                Problem(file, f"one of {', '.join(known)}", field=f"[{name}]", fix=suggestion(name, known))
            )
        elif not isinstance(table, dict):
            problems.append(
                Problem(file, "a table", field=name, value=table, fix=f"write [{name}] on a line of its own")
            )
        elif name in ("catalogue", "assume"):
            sections[name] = table
        else:
            sections[name] = _section(known[name], table, file, given, problems)
    return Settings(**sections, given=frozenset(given)), problems


def _section(
    slot: Field[Any], table: Mapping[str, Any], file: str, given: set[str], problems: list[Problem]
) -> Any:
    """Build one section's dataclass from its table."""
    kind: Any = slot.default_factory
    assert kind is not MISSING
    keys = {f.name: f for f in fields(kind)}
    hints = get_type_hints(kind)
    values: dict[str, Any] = {}
    for key, value in table.items():
        place = f"[{slot.name}] {key}"
        if key not in keys:
            fix = suggestion(key, keys) or f"known keys: {', '.join(keys)}"
            problems.append(Problem(file, "a known key", field=place, value=value, fix=fix))
            continue
        meta = keys[key].metadata
        found, complaint = _checked(value, hints[key], meta)
        if not complaint and meta["check"]:
            complaint = meta["check"](found)
        if complaint:
            problems.append(Problem(file, complaint, field=place, value=value))
            continue
        defaults = keys[key].default_factory
        if isinstance(found, dict) and defaults is not MISSING:
            known = defaults()
            for name in [name for name in found if known and name not in known]:
                fix = suggestion(name, known) or f"known names: {', '.join(known)}"
                problems.append(Problem(file, "a known name", field=place, value=name, fix=fix))
            found = {**known, **found}
        values[key] = found
        given.add(f"{slot.name}.{key}")
    return kind(**values)


def _checked(value: Any, hint: Any, meta: Mapping[str, Any]) -> tuple[Any, str]:
    """Return the value in its declared type, and a complaint where it doesn't fit."""
    kinds = get_args(hint) if isinstance(hint, UnionType) else (hint,)
    text = str(hint)
    choices = meta["choices"]
    if isinstance(value, str) and str in kinds:
        return value, "" if not choices or value in choices else f"one of {', '.join(choices)}"
    if isinstance(value, bool):
        return value, "" if bool in kinds else _expected(hint, meta)
    if isinstance(value, int | float) and (float in kinds or (int in kinds and value == int(value))):
        number = float(value) if float in kinds else int(value)
        return number, "" if _in_range(number, meta) else _expected(hint, meta)
    if isinstance(value, list) and text.startswith("tuple[tuple"):
        good = all(isinstance(v, list) and all(isinstance(w, str) for w in v) for v in value)
        return tuple(map(tuple, value)), "" if good else "a list of lists of ids"
    if isinstance(value, list) and text.startswith("tuple["):
        inner = dict if "Mapping" in text else str
        return tuple(value), "" if all(isinstance(v, inner) for v in value) else "a list of " + (
            "tables" if inner is dict else "ids"
        )
    if isinstance(value, dict) and "Mapping" in text:
        return _checked_table(value, text, meta)
    return value, _expected(hint, meta)


def _checked_table(value: Mapping[str, Any], hint: str, meta: Mapping[str, Any]) -> tuple[Any, str]:
    """Check a table of numbers, or of texts."""
    if "Any" in hint:
        return dict(value), ""
    if "float" not in hint:
        return dict(value), "" if all(isinstance(v, str) for v in value.values()) else "a table of texts"
    for key, number in value.items():
        if (
            isinstance(number, bool)
            or not isinstance(number, int | float)
            or not _in_range(float(number), meta)
        ):
            return value, f"{_expected(float, meta)} at {key!r}, not {number!r}"
    return {k: float(v) for k, v in value.items()}, ""


def _in_range(number: float, meta: Mapping[str, Any]) -> bool:
    least, most = meta["least"], meta["most"]
    finite = number == number and abs(number) != float("inf")  # noqa: PLR0124
    return finite and (least is None or number >= least) and (most is None or number <= most)


def _expected(hint: Any, meta: Mapping[str, Any]) -> str:
    """Say in words what a key takes."""
    if meta["choices"]:
        return f"one of {', '.join(meta['choices'])}"
    text = str(hint)
    word = (
        "true or false" if hint is bool
        else "a list" if text.startswith("tuple")
        else "a table" if "Mapping" in text
        else "a text" if hint is str
        else "a whole number" if "int" in text and "float" not in text
        else "a number"
    )  # fmt: skip
    least, most = meta["least"], meta["most"]
    if least is not None and most is not None:
        return f"{word} from {least:g} to {most:g}"
    return f"{word} of {least:g} or more" if least is not None else word
