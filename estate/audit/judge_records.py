"""What the records of cables say that doesn't fit together, or that nobody can use."""

from collections.abc import Iterator, Sequence

import numpy as np

from estate.catalogue.tables import Cable, Catalogue
from estate.findings import Action, Effect, Finding, Severity
from estate.installed.facts import TESTS
from estate.installed.link import InstalledLink
from estate.installed.links import Installed
from estate.installed.measured import WORDS, picture_word
from estate.installed.rows import CableRow
from estate.installed.ways import LaidPiece
from estate.links.search import LinkSearch


def record_findings(
    search: LinkSearch, stands: Installed, installed: Sequence[InstalledLink], laid: Sequence[LaidPiece]
) -> list[Finding]:
    """Return the findings of the records themselves, and of materials in use."""
    rows, catalogue = stands.rows, search.catalogue
    return [
        *_clad(rows, catalogue),
        *_clad_in_words(rows, catalogue),
        *_untyped(rows, installed),
        *_unclear_pictures(rows),
        *_without_status(rows),
        *_loops(laid, catalogue),
        *_misplaced(search, laid),
        *_spares(search),
        *_idle_trunks(rows, installed),
    ]


def _note(row: CableRow, text: str, remedy: str, severity: Severity = Severity.NOTE) -> Finding:
    cameras = (row.camera,) if row.camera else ()
    return Finding(
        severity,
        Effect.RECORDS,
        Action.SURVEY,
        "cable",
        row.id,
        f"cable {row.id}{text}",
        remedy=remedy,
        cameras=cameras,
    )


# Copper-clad aluminium


def _clad(rows: Sequence[CableRow], catalogue: Catalogue) -> Iterator[Finding]:
    """Yield cables in use whose conductors are copper-clad aluminium."""
    for row in rows:
        entry = catalogue.cables.get(row.cable or "")
        if row.in_use and entry is not None and entry.conductor == "cca":
            yield Finding(
                Severity.WATCH, Effect.DEGRADED, Action.CONVERT, "cable", row.id,
                f"installed cable {row.id} has copper-clad aluminium conductors; no category of cable allows them",
                source=entry.source("conductor_ohm_per_km"),
                remedy="replace it with a cable of solid copper; don't repair or extend it",
                cameras=(row.camera,) if row.camera else (),
            )  # fmt: skip


def _clad_in_words(rows: Sequence[CableRow], catalogue: Catalogue) -> Iterator[Finding]:
    """Yield cables of which only a remark says that they are copper-clad: a question, not a type."""
    names = {alias for each in catalogue.cables.values() if each.conductor == "cca" for alias in each.aliases}
    for row in rows:
        words = row.condition.lower()
        entry = catalogue.cables.get(row.cable or "")
        said = any(
            name in words.replace("-", " ").split() or (" " in name and name in words) for name in names
        )
        said = said or "clad" in words
        if said and (entry is None or entry.conductor != "cca"):
            listed = f"listed as {row.cable}" if row.cable else "of unknown type"
            text = f" is {listed}, but its condition says “{row.condition}”: is it copper-clad aluminium?"
            yield _note(row, text, f"{TESTS['cable']}; scrape a conductor", Severity.WATCH)


# Facts not given


def _untyped(rows: Sequence[CableRow], installed: Sequence[InstalledLink]) -> Iterator[Finding]:
    """Yield cables of unknown type whose links are settled all the same, or that no link uses."""
    waiting = {fact.subject for each in installed for fact in each.deciding}
    for row in rows:
        if row.cable is None and row.id not in waiting:
            yield _note(row, " is of unknown type", TESTS["cable"])


def _unclear_pictures(rows: Sequence[CableRow]) -> Iterator[Finding]:
    """Yield what is said of a picture in words that say nothing to the program; they are kept as they are."""
    for row in rows:
        for state, told in row.picture.items():
            if told and not picture_word(told):
                known = "; ".join(f"{kind}: {', '.join(words)}" for kind, words in WORDS.items())
                yield _note(row, f": picture_{state} “{told}” is not understood", f"enter one word: {known}")


def _without_status(rows: Sequence[CableRow]) -> Iterator[Finding]:
    """Yield cables of which nobody said whether they are in use."""
    for row in rows:
        if row.status is None:
            taken = "taken as in use, as it names a camera" if row.camera else "left out of every link"
            yield _note(row, f": whether it is in use is not known; {taken}", TESTS["status"])


# Resistance


def loop_ohm(cable: Cable, length_m: float) -> float:
    """Return the loop of two conductors of a cable, or of centre and screen, at 20 °C [Ω]; NaN where not known."""
    centre = cable.number("conductor_ohm_per_km")
    back = cable.number("screen_ohm_per_km") if cable.family == "coax" else centre
    return (centre + back) * length_m / 1000


def _loops(laid: Sequence[LaidPiece], catalogue: Catalogue) -> Iterator[Finding]:
    """Yield cables whose measured loop is not that of their type and length."""
    figure = catalogue.rules["measured"]["loop_factor"]
    for piece in laid:
        row = piece.row
        entry = catalogue.cables.get(row.cable or "")
        if entry is None or np.isnan(row.measured["loop_ohm"]):
            continue
        expected = loop_ohm(entry, piece.length_m)
        ratio = row.measured["loop_ohm"] / expected if expected > 0 else float("nan")
        if not (np.isnan(ratio) or 1 / float(figure.value) <= ratio <= float(figure.value)):
            yield Finding(
                Severity.WATCH, Effect.RECORDS, Action.SURVEY, "cable", row.id,
                f"cable {row.id}: loop of {row.measured['loop_ohm']:g} Ω measured where {piece.length_m:g} m of {entry.id} "
                f"have {expected:.1f} Ω",
                measured=row.measured["loop_ohm"], limit=expected, unit="Ω", source=entry.source("conductor_ohm_per_km"),
                remedy="check type and length: a joint, copper-clad conductors, or another cable than on record",
                cameras=(row.camera,) if row.camera else (),
            )  # fmt: skip


# Cables beside the links


def _misplaced(search: LinkSearch, laid: Sequence[LaidPiece]) -> Iterator[Finding]:
    """Yield equipment recorded at a point that its cable doesn't pass: it counts for nothing there."""
    points, network = search.survey.points.row_of(), search.network
    for piece in laid:
        for item, name in piece.row.equipment:
            if name not in points or int(network.point_node[points[name]]) not in piece.nodes:
                text = f": {item} is recorded at {name}, which the cable does not pass; it was left out"
                yield _note(piece.row, text, "correct the point, or the routes of the cable", Severity.WATCH)


def _spares(search: LinkSearch) -> Iterator[Finding]:
    """Yield spare cables that no link can take as they are."""
    for unusable in search.unusable_spares:
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "cable", unusable.id,
            f"spare cable {unusable.id} can't be reckoned with: {unusable.why}", remedy=unusable.settles,
        )  # fmt: skip


def _idle_trunks(rows: Sequence[CableRow], installed: Sequence[InstalledLink]) -> Iterator[Finding]:
    """Yield trunks in use that no link on record runs over."""
    used = {name for each in installed for name in each.cables}
    used |= {run.installed for each in installed for run in each.link.runs}
    for row in rows:
        if row.in_use and not row.camera and row.id not in used:
            yield _note(row, " is in use on record, but no camera's link runs over it", TESTS["status"])
