"""report.html: one self-contained page for people. It loads nothing, and runs only the script written here."""

from base64 import b64encode
from hashlib import sha256
from importlib.resources import files
from pathlib import Path

from estate.output.page_curve import curve
from estate.output.page_map import page_map
from estate.output.page_summary import completeness, tiles, told_summary
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
        summary=told_summary(result),
        completeness=completeness(result.summary),
        curve=curve(result),
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
