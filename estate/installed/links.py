"""Every camera's installed link, judged over every value its unknown facts could have."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from estate.findings import NAN, Verdict
from estate.installed.built import Built, built
from estate.installed.circuits import Circuit, Plant, camera_circuits, plant_of
from estate.installed.facts import unknown
from estate.installed.feeding import feed_conditions, feed_lines
from estate.installed.link import InstalledLink, Unknown
from estate.installed.measured import with_measurements
from estate.installed.open_lines import open_facts
from estate.installed.parts import parts_of
from estate.installed.readings import MOST, Contradiction, Possible, Reading, extenders_missing
from estate.installed.rows import CableRow, cable_rows
from estate.installed.settling import (
    Judged,
    agreed_checks,
    at_best,
    at_worst,
    deciding,
    told_lines,
    verdict_over,
)
from estate.installed.ways import LaidPiece, laid_pieces
from estate.links.camera import CameraFacts
from estate.links.chosen import chosen_link, no_link
from estate.links.found import Found
from estate.links.judging import lines_with
from estate.links.lines import governing, in_words
from estate.links.lines import unknown as open_line
from estate.links.link import BudgetLine, CableRun, Link
from estate.links.search import LinkSearch

NO_CABLE = "no installed cable on record serves it"


@dataclass(frozen=True)
class Installed:
    """What stands, camera by camera, and the circuits it was made of."""

    links: tuple[InstalledLink, ...]
    """One for each camera that cables in use name, then one for each that none does, in the order of cameras."""
    circuits: tuple[Circuit, ...]
    laid: tuple[LaidPiece, ...]
    """Every cable in use of a circuit with its way, where that is known, each once."""
    rows: tuple[CableRow, ...]
    plant: Plant


def installed_links(search: LinkSearch) -> Installed:
    """Return the installed link of every camera. `search` has the recorders, and all cabinets that are heads."""
    rows = cable_rows(search.survey, search.catalogue)
    plant = plant_of(search.survey, rows, search.catalogue)
    circuits = camera_circuits(rows, plant)
    by_camera = {circuit.camera: circuit for circuit in circuits}
    links, laid = [], dict[str, LaidPiece]()
    for number, camera in enumerate(search.cameras):
        circuit = by_camera.get(camera.id)
        if circuit is None:
            links.append(InstalledLink(no_link(camera, NO_CABLE), (), None))
            continue
        link, pieces = _installed(search, circuit, number)
        links.append(link)
        laid |= {piece.row.id: piece for piece in pieces}
    return Installed(tuple(links), tuple(circuits), tuple(laid.values()), tuple(rows), plant)


def _installed(search: LinkSearch, circuit: Circuit, number: int) -> tuple[InstalledLink, list[LaidPiece]]:
    """Return the link of one camera, by its number, with where its cables lie."""
    camera = search.cameras[number]
    if circuit.trouble:
        facts = [unknown("cable", name, "ends", test=circuit.test) for name in circuit.about]
        return _unmade(circuit, camera, circuit.trouble, facts), []
    signal, lost = laid_pieces(search, circuit.signal)
    power, lost_power = laid_pieces(search, circuit.power)
    if nowhere := [*lost, *lost_power]:
        given = [row for row in circuit.rows if row.id in nowhere]
        facts = [unknown("cable", row.id, "routes") for row in given]
        why = "; ".join(_way_trouble(search, row) for row in given)
        return _unmade(circuit, camera, why, facts), [*signal, *power]
    pieces = [*signal, *power]
    if camera.signal is None:
        facts = [unknown("camera", camera.id, "signal", tuple(search.catalogue.signals))]
        return _unmade(circuit, camera, f"what {camera.id} sends is not known", facts), pieces
    if extenders_missing(search, [m for row in circuit.rows if (m := row.method)], signal):
        facts = [unknown("cable", signal[0].row.id, "equipment")]
        return _unmade(circuit, camera, "where its extender stands is not on record", facts), pieces
    site = next(k for k, each in enumerate(search.sites) if each.id == circuit.head)
    possible = Possible(search, circuit, number, search.sites[site], tuple(signal), tuple(power))
    try:
        readings, unknowns = possible.readings()
    except Contradiction as contradiction:
        return _unmade(circuit, camera, contradiction.text, [contradiction.about]), pieces
    if len(readings) > MOST:
        why = f"more than {MOST} sets of values are possible: {', '.join(f.fact for f in unknowns)} not known"
        return _unmade(circuit, camera, why, unknowns), pieces
    parts, between = parts_of(search, signal)
    known: dict[Reading, tuple[Built, tuple[BudgetLine, ...]]] = {}
    judged = []
    for reading in readings:
        unloaded = replace(reading, load_w=0.0, load_night_w=0.0, settled=())
        if unloaded not in known:  # loads decide over the feed alone
            link = built(possible, parts, between, reading, site)
            known[unloaded] = link, lines_with(search, link.found, ())
        judged.append(_judged(possible, *known[unloaded], reading))
    return _settled(search, circuit, possible, judged, unknowns), pieces


# Without a link


def _unmade(circuit: Circuit, camera: CameraFacts, why: str, facts: Sequence[Unknown]) -> InstalledLink:
    """Return the statement that no link can be made of a camera's cables yet."""
    link = replace(no_link(camera, why), verdict=Verdict.VERIFY, head=circuit.head, recorder=circuit.head)
    cables = tuple(row.id for row in circuit.rows)
    return InstalledLink(link, cables, None, tuple(facts), tuple(facts), values=0, best=Verdict.VERIFY)


def _way_trouble(search: LinkSearch, row: CableRow) -> str:
    routes = search.survey.cables["routes"][row.row]
    if routes:
        return f"the routes given for {row.id} ({', '.join(routes)}) don't join {row.start} and {row.end}"
    return f"no built way joins {row.start} and {row.end}, the ends of {row.id}"


# Judging


def _judged(possible: Possible, link: Built, way: Sequence[BudgetLine], reading: Reading) -> Judged:
    """Return a circuit judged under one reading, without and with what was measured.

    `way` are its lines without those of the feed.
    """
    lines = (*way, *feed_lines(possible, link, reading), *_tees(possible))
    calculated = replace(link.found, lines=lines)
    conditions = feed_conditions(possible, link)
    measured = with_measurements(
        lines, possible.circuit.rows, possible.camera, link.found.variant, conditions
    )
    return Judged(reading, calculated, replace(link.found, lines=measured))


def _tees(possible: Possible) -> list[BudgetLine]:
    """Return the line that tees in a signal cable give: what they do depends on what hangs on them."""
    tees = sum(int(np.nan_to_num(piece.row.tees)) for piece in possible.signal)
    return [open_line("tees", "", NAN, "", f"{tees} in the signal cable")] if tees else []


def _settled(
    search: LinkSearch,
    circuit: Circuit,
    possible: Possible,
    judged: Sequence[Judged],
    unknowns: Sequence[Unknown],
) -> InstalledLink:
    """Return a link over all its readings."""
    verdict = verdict_over(each.found.verdict for each in judged)
    worst = at_worst(judged)
    decides = _decides(search, circuit, judged, unknowns) if verdict is Verdict.VERIFY else []
    agreed = agreed_checks(judged)
    link = _link(possible, worst, verdict, decides)
    link = replace(link, lines=told_lines(link.lines, agreed, verdict))
    assumed = (*_assumed(search, circuit, possible.camera), *taken_for_granted(unknowns))
    if assumed:
        link = replace(link, basis="assumed")
    return InstalledLink(
        link=link,
        cables=tuple(row.id for row in circuit.rows),
        found=worst.found,
        unknowns=tuple({(f.subject_kind, f.subject, f.fact): f for f in [*unknowns, *decides]}.values()),
        deciding=tuple(decides),
        values=len(judged),
        best=at_best(judged),
        assumed=assumed,
        calculated=verdict_over(each.calculated.verdict for each in judged),
        before=worst.calculated.lines,
        agreed=agreed,
        inferred=tuple(piece.row.id for piece in (*possible.signal, *possible.power) if piece.inferred),
    )


def _decides(
    search: LinkSearch, circuit: Circuit, judged: Sequence[Judged], unknowns: Sequence[Unknown]
) -> list[Unknown]:
    """Return the facts that an unsettled link waits for.

    What lines wait for under some readings only comes up once the link's own facts are known: it is left out then.
    """
    values = [dict(each.reading.settled) for each in judged]
    own = deciding(unknowns, values, [each.found.verdict for each in judged])
    always: dict[tuple[str, str, str], Unknown] = {}
    for number, each in enumerate(judged):
        here = {(f.subject_kind, f.subject, f.fact): f for f in _open(search, circuit, each)}
        always = here if number == 0 else {k: f for k, f in always.items() if k in here}
    some = {} if own or always else {
        (f.subject_kind, f.subject, f.fact): f for each in judged for f in _open(search, circuit, each)
    }  # fmt: skip
    return list(
        {(f.subject_kind, f.subject, f.fact): f for f in [*own, *always.values(), *some.values()]}.values()
    )


def _open(search: LinkSearch, circuit: Circuit, each: Judged) -> list[Unknown]:
    """Return what the lines of a link under one reading wait for."""
    found = each.found
    facts = [
        fact
        for line in governing(found.lines)
        if line.verdict is Verdict.VERIFY
        for fact in open_facts(
            search,
            circuit,
            line,
            found.stretches[max(line.stretch - 1, 0)].segments,
            found.stretches[max(line.stretch - 1, 0)].variant.cables,
        )
    ]
    return list({(f.subject_kind, f.subject, f.fact): f for f in facts}.values())


def _link(possible: Possible, worst: Judged, verdict: Verdict, decides: Sequence[Unknown]) -> Link:
    """Return the link at its worst, with the verdict over all values."""
    search, circuit, found = possible.search, possible.circuit, worst.found
    made = chosen_link(search, found, search.sites[found.site])
    measured = any(
        line.basis == "measured" and line.verdict is found.verdict for line in governing(found.lines)
    )
    limiting = _measured_words(found) or made.limiting
    if verdict is Verdict.VERIFY and decides:
        limiting = f"not known: {', '.join(f'{f.fact} of {f.subject}' for f in decides)}"
        if found.verdict is Verdict.OUTSIDE:
            limiting += f"; at its worst {made.limiting}"
    return replace(
        made,
        runs=tuple(_runs(possible, worst, made)),
        verdict=verdict,
        limiting=limiting,
        basis="measured" if measured else "calculated",
        own_cost=0.0,
        fed_at=made.fed_at and (circuit.fed_at or made.fed_at),
    )


def _measured_words(found: Found) -> str:
    """Say what was measured outside its limits, empty where nothing was."""
    lines = [line for line in governing(found.lines) if line.basis == "measured"]
    return "; ".join(in_words(line) for line in lines if line.verdict is Verdict.OUTSIDE)


def _runs(possible: Possible, worst: Judged, made: Link) -> Iterator[CableRun]:
    """Yield the cables of an installed link, power cables on their own ways; nothing of them is bought.

    A power cable that isn't on record is told beside the camera's stretch, without an id.
    """
    yield from (replace(run, purchase_m=0.0) for run in made.runs if run.role == "signal")
    reading, ends, last = worst.reading, worst.found.stretches[-1], len(worst.found.stretches)
    if not possible.power:
        yield from (replace(r, purchase_m=0.0) for r in made.runs if r.role == "power" and r.stretch == last)
        return
    for piece, kind, length_m in zip(possible.power, reading.power, reading.power_lengths_m, strict=True):
        yield CableRun(
            "power", kind, piece.way_m, length_m, 0.0, reading.methods[-1], reading.feed, piece.nodes, piece.segments,
            ends.at_head, ends.at_camera, stretch=last, installed=piece.row.id,
        )  # fmt: skip


def taken_for_granted(unknowns: Sequence[Unknown]) -> tuple[str, ...]:
    """Return the columns of facts that could have one value only: that value is an assumption."""
    layers = {"cable": "cables", "camera": "points"}
    return tuple(dict.fromkeys(f"{layers[f.subject_kind]}.{f.fact}" for f in unknowns if len(f.values) == 1))


FACTS = ("cable", "cores", "method", "routes", "length_m", "joints", "tees", "equipment", "status")


def _assumed(search: LinkSearch, circuit: Circuit, camera: CameraFacts) -> tuple[str, ...]:
    """Return the columns of a link whose value is the user's assumption."""
    survey = search.survey
    found = [f"points.{column}" for column in camera.assumed]
    found += [
        f"cables.{column}"
        for column in FACTS
        if any(survey.cables.is_assumed(column, row.row) for row in circuit.rows)
    ]
    rows = survey.points.row_of()
    buildings = survey.buildings.row_of()
    for name in (circuit.camera, circuit.head):
        building = buildings.get(str(survey.points["building"][rows[name]]), -1) if name in rows else -1
        if building >= 0 and survey.buildings.is_assumed("earthing", building):
            found.append("buildings.earthing")
    return tuple(dict.fromkeys(found))
