"""report.html: one self-contained page for people. It loads nothing, and runs only the script written here."""

from base64 import b64encode
from collections.abc import Iterator, Mapping
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any

from estate.output import page_words
from estate.output.page_map import page_map
from estate.output.page_tables import FEW, empty_tables, page_tables
from estate.output.result import Result

KINDS = {"design": "cabling design", "audit": "audit of installed cabling", "check": "check of the survey"}

FACTS = ("client", "number", "revision", "date", "status")

LINES = {
    **{name: f"seg {name}" for name in ("new", "used", "idle", "unneeded")},
    **{f"near-{name}": f"near near-{name}" for name in ("outside", "verify", "crossing")},
    "mains": "mains",
    "cure": "cure",
    "building": "building",
}
"""Classes of the lines in the key to the plan."""

SCRIPTED = 'document.documentElement.classList.add("scripted")'
"""Said before anything is laid out: what scripts fold is whole where none runs."""

APART = frozenset({
    "assumptions", "input_hashes", "command", "estate", "revision", "version", "cameras", "linked",
    "objective_value", "bound", "cost_rests_on_invented_rates", "links", "findings_by_severity",
})  # fmt: skip
"""What the summary's list leaves to the head of the page, its tiles and its tables."""


def write_page(path: Path, result: Result) -> None:
    """Write the page; every name is escaped, and a policy keeps anything but its own script from running."""
    path.write_text(page_text(result), encoding="utf-8")


def page_text(result: Result) -> str:
    """Return the page, the same text for the same result."""
    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415  slow
    from markupsafe import Markup  # noqa: PLC0415

    plan = page_map(result)
    style = f"#map{{--k:{plan.metres_per_px:.5f}}}.legend{{--k:1}}\n{_file('page.css')}"
    script = _file("page.js")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    estate = result.estate
    text = environment.from_string(_file("page.html")).render(
        policy=policy(style, SCRIPTED, script),
        scripted=Markup(SCRIPTED),  # noqa: S704  a text of this file
        few=FEW,
        style=Markup(style),  # noqa: S704  a file of this package
        script=Markup(script),  # noqa: S704  a file of this package
        title=estate["title"],
        kind=KINDS.get(result.command, result.command),
        facts=[
            KINDS.get(result.command, result.command),
            *(f"{w} {estate[w]}" for w in FACTS if estate.get(w)),
        ],
        notes=result.notes,
        money_notes=[note for note in result.notes if "invented rates" in note],
        cautions=result.cautions,
        tiles=list(tiles(result)),
        summary=list(told_summary(result.summary)),
        map=plan,
        lines=LINES,
        tables=page_tables(result),
        empty=empty_tables(result),
        footer=f"Calculated by estate {result.version}. Local codes and licensed practice govern.",
    )
    return text + "\n"


def policy(style: str, *scripts: str) -> str:
    """Return a content security policy under which nothing is loaded and only this style and these scripts count."""
    allowed = " ".join(f"'{_digest(script)}'" for script in scripts)
    return (
        f"default-src 'none'; style-src '{_digest(style)}'; script-src {allowed}; "
        "base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return "sha256-" + b64encode(sha256(text.encode()).digest()).decode()


def _file(name: str) -> str:
    return files("estate.output").joinpath(name).read_text("utf-8")


# Summary


def tiles(result: Result) -> Iterator[tuple[str, str]]:
    """Yield what is read first, as words and values."""
    summary, currency = result.summary, str(result.estate.get("currency", ""))
    cameras, linked = summary.get("cameras"), summary.get("linked")
    if linked is not None:
        yield "cameras with a link", f"{linked} of {cameras}"
    elif cameras is not None:
        yield "cameras", str(cameras)
    verdicts = summary.get("links")
    if isinstance(verdicts, Mapping):
        yield (
            "cameras by verdict",
            _counts({VERDICTS.get(str(word), str(word)): n for word, n in verdicts.items()}),
        )
    findings = summary.get("findings_by_severity")
    if isinstance(findings, Mapping):
        yield "findings", _counts(findings)
    cost = summary.get("cost")
    if isinstance(cost, Mapping) and "total" in cost:
        invented = ", at invented rates" if summary.get("cost_rests_on_invented_rates") else ""
        yield f"cost{invented}", f"{cost['total']:,.2f} {currency}".strip()
    if summary.get("bound") is not None and summary.get("objective_value") is not None:
        yield "could still be saved", f"at most {summary['gap_percent'] or 0:.1f} %"


VERDICTS: Mapping[str, str] = {
    "verify": "to be verified",
    "outside": "outside limits",
    "none": "without a link",
}


def _counts(counts: Mapping[str, Any]) -> str:
    return (
        ", ".join(f"{count} {page_words.in_words(str(word))}" for word, count in counts.items() if count)
        or "none"
    )


LABELS = {
    "works_m": "routes to be built",
    "trunk_m": "trunk cable",
    "cable_m": "new cable",
    "cuts": "worst single cuts",
    "solver_status": "how good the choice is",
    "objective": "what was made least",
    "gap_percent": "left open by the bound",
    "findings_by_action": "findings by action",
}


def told_summary(summary: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield the rest of the summary as words and values."""
    for key, value in summary.items():
        if key in APART:
            continue
        word = LABELS.get(key) or page_words.in_words(key)
        if key == "cuts":
            yield word, "; ".join(_cut(kind, cut) for kind, cut in value.items()) or "none"
        else:
            yield word, _told(key, value)


def _cut(kind: str, cut: Mapping[str, Any]) -> str:
    lost, stranded = cut["cameras_lost"], cut["cameras_stranded"]
    return f"{kind} {cut['subject']} takes {lost}, {stranded} of them without another way"


def _told(key: str, value: Any) -> str:
    if value is None:
        return "not known"
    if isinstance(value, Mapping):
        if all(isinstance(each, int) for each in value.values()):
            return _counts(value)
        return (
            "; ".join(f"{page_words.in_words(str(k))} {_told(f'{key}_cost', v)}" for k, v in value.items())
            or "none"
        )
    if isinstance(value, list | tuple):
        return ", ".join(_told(key, each) for each in value) or "none"
    unit = page_words.UNITS.get(key.rsplit("_", 1)[-1], "")
    text = page_words.told(key, value)
    return (
        f"{text} {unit}".strip()
        if isinstance(value, int | float) and not isinstance(value, bool)
        else page_words.in_words(text)
    )
