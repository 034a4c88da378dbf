"""Installed uplinks: the trunks from a recorder to each cabinet that cameras end at, judged like any link."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from estate.catalogue.tables import Cable
from estate.findings import NAN, Verdict
from estate.installed.circuits import Circuit, uplink_circuits
from estate.installed.facts import unknown
from estate.installed.link import InstalledLink, Unknown
from estate.installed.links import FACTS, Installed, taken_for_granted
from estate.installed.open_lines import open_facts
from estate.installed.readings import Key
from estate.installed.rows import CableRow
from estate.installed.settling import deciding, verdict_over
from estate.installed.ways import LaidPiece, laid_pieces
from estate.links.assess import signal_lines
from estate.links.camera import CameraFacts
from estate.links.conditions import Joints
from estate.links.lines import governing, in_words, verdict_of
from estate.links.link import BudgetLine, CableRun, Link
from estate.links.schemes import LOCAL
from estate.links.search import LinkSearch
from estate.links.variants import Variant

SIGNAL = "ethernet-1g"
METHOD = {"fibre": "ethernet-fibre", "pair": "ethernet", "coax": "ethernet-coax"}
"""What carries an uplink on each cable family, where nobody named the method."""


@dataclass(frozen=True, slots=True)
class Values:
    """One set of values: type and joints of each trunk, from the recorder on."""

    cables: tuple[str, ...]
    joints: tuple[int, ...]


def installed_uplinks(
    search: LinkSearch, installed: Installed
) -> tuple[list[InstalledLink], list[LaidPiece]]:
    """Return the uplink of every cabinet that cameras end at, and where its trunks lie."""
    used = [link.link.head for link in installed.links if link.link.head]
    found, laid = [], list[LaidPiece]()
    for circuit in uplink_circuits(installed.rows, installed.plant, used):
        link, pieces = _uplink(search, circuit, installed)
        found.append(link)
        laid += pieces
    return found, laid


def _uplink(
    search: LinkSearch, circuit: Circuit, installed: Installed
) -> tuple[InstalledLink, list[LaidPiece]]:
    rows = circuit.rows
    pieces, lost = laid_pieces(search, circuit.signal)
    if circuit.trouble:
        facts = [
            unknown(
                "cabinet",
                circuit.fed_at,
                "ends",
                test="find the cable that leads on from it; trace it with a tone",
            )
        ]
        return _unmade(circuit, circuit.trouble, facts), []
    if lost:
        facts = [unknown("cable", name, "routes") for name in lost]
        return _unmade(circuit, f"no way on record joins the ends of {', '.join(lost)}", facts), pieces
    every = [(values, _lines(search, circuit, pieces, values, installed)) for values in _every(search, rows)]
    order = [Verdict.OUTSIDE, Verdict.VERIFY, Verdict.MARGINAL, Verdict.WITHIN]
    verdicts = [verdict_of(tuple(lines)) for _, lines in every]
    worst = min(range(len(every)), key=lambda k: order.index(verdicts[k]))
    verdict = verdict_over(verdicts)
    facts = list(_facts(rows, [values for values, _ in every]))
    decides = _decides(search, circuit, pieces, every, facts) if verdict is Verdict.VERIFY else []
    link = _link(search, circuit, pieces, *every[worst], verdict, decides)
    return InstalledLink(
        link=link,
        cables=tuple(row.id for row in rows),
        found=None,
        unknowns=tuple(facts),
        deciding=tuple(decides),
        values=len(every),
        best=max(verdicts, key=order.index),
        assumed=(*_assumed(search, rows), *taken_for_granted(facts)),
        calculated=verdict,
        inferred=tuple(piece.row.id for piece in pieces if piece.inferred),
    ), pieces


def _assumed(search: LinkSearch, rows: Sequence[CableRow]) -> list[str]:
    """Return the columns of an uplink's trunks whose value is the user's assumption."""
    cables = search.survey.cables
    return [f"cables.{name}" for name in FACTS if any(cables.is_assumed(name, row.row) for row in rows)]


def _decides(
    search: LinkSearch,
    circuit: Circuit,
    pieces: Sequence[LaidPiece],
    every: Sequence[tuple[Values, list[BudgetLine]]],
    facts: Sequence[Unknown],
) -> list[Unknown]:
    """Return the facts that an unsettled uplink waits for: those of its trunks, else those of its open lines."""
    values = [dict(_settled(circuit.rows, v)) for v, _ in every]
    own = deciding(facts, values, [verdict_of(tuple(lines)) for _, lines in every])
    if own:
        return own
    segments = tuple(s for piece in pieces for s in piece.segments)
    waiting = [
        fact
        for v, lines in every
        for line in governing(tuple(lines))
        if line.verdict is Verdict.VERIFY
        for fact in open_facts(search, circuit, line, segments, v.cables)
    ]
    return list({(f.subject_kind, f.subject, f.fact): f for f in waiting}.values())


def _settled(rows: Sequence[CableRow], values: Values) -> Iterator[tuple[Key, object]]:
    """Yield the values that one set gives to facts that are not known."""
    for k, row in enumerate(rows):
        if row.cable is None:
            yield ("cable", row.id, "cable"), values.cables[k]
        if np.isnan(row.joints):
            yield ("cable", row.id, "joints"), values.joints[k]


def uplink_id(circuit: Circuit) -> str:
    """Return what an uplink is called: the working one by its cabinet, others numbered."""
    return f"U{circuit.number + 1 if circuit.number else ''}-{circuit.fed_at}"


def _unmade(circuit: Circuit, why: str, facts: Sequence[Unknown]) -> InstalledLink:
    link = Link(
        id=uplink_id(circuit), kind="uplink", camera="", head=circuit.head, recorder=circuit.head, method="", feed="",
        port="", runs=(), nodes=(), segments=(), length_m=NAN, cable_length_m=NAN, equipment=(), lines=(),
        verdict=Verdict.VERIFY, limiting=why, patch=circuit.fed_at,
    )  # fmt: skip
    cables = tuple(row.id for row in circuit.rows)
    return InstalledLink(link, cables, None, tuple(facts), tuple(facts), values=0, best=Verdict.VERIFY)


def _every(search: LinkSearch, rows: Sequence[CableRow]) -> Iterator[Values]:
    """Yield every type and number of joints that the trunks could have."""
    most = int(search.catalogue.rules["joints"]["unknown_at_most"].value)
    kinds = [[row.cable] if row.cable else _could_be(search, row) for row in rows]
    joints = [[0, most] if np.isnan(row.joints) else [int(row.joints)] for row in rows]
    for cables, counts in product(product(*kinds), product(*joints)):
        yield Values(tuple(map(str, cables)), counts)


def _could_be(search: LinkSearch, row: CableRow) -> list[str]:
    methods = [row.method] if row.method else list(METHOD.values())
    return list(dict.fromkeys(c for m in methods for c in search.catalogue.methods[m].signal_cables))


def _facts(rows: Sequence[CableRow], every: Sequence[Values]) -> Iterator[Unknown]:
    for k, row in enumerate(rows):
        if row.cable is None:
            yield unknown("cable", row.id, "cable", tuple(dict.fromkeys(v.cables[k] for v in every)))
        if np.isnan(row.joints):
            yield unknown("cable", row.id, "joints", tuple(dict.fromkeys(str(v.joints[k]) for v in every)))


def _method(search: LinkSearch, row: CableRow, cable: str) -> str:
    return row.method or METHOD.get(search.catalogue.cables[cable].family, "ethernet")


def _lines(
    search: LinkSearch, circuit: Circuit, pieces: Sequence[LaidPiece], values: Values, installed: Installed
) -> list[BudgetLine]:
    """Return the budget lines of an uplink, hop by hop between switches."""
    points = search.survey.points.row_of()
    lines: list[BudgetLine] = []
    hops = _hops(circuit, values, installed)
    for number, hop in enumerate(hops, 1):
        first = hop[0]
        cable = values.cables[first]
        method = _method(search, pieces[first].row, cable)
        segments = tuple(s for k in hop for s in pieces[k].segments)
        length_m = sum(pieces[k].length_m for k in hop)
        joints = Joints(bad_or_unknown=sum(values.joints[k] for k in hop) + _patched(search, cable, hop))
        facts = _facts_of(points[circuit.signal[hop[-1]].far])
        conditions = search.conditions(None, hot=search.is_hot(segments))
        own = list(signal_lines(Variant(method, LOCAL, cable), facts, length_m, conditions, joints))
        beside = search.separation.line(
            segments, search.catalogue.cables[cable].separation_class, informs=False
        )
        ends = points[circuit.signal[hop[-1]].far], points[circuit.signal[hop[0]].near]
        earths = search.earths.line((cable,), LOCAL, *ends, segments)
        own += [line for line in (beside, earths) if line is not None]
        lines += [replace(line, stretch=number) for line in own] if len(hops) > 1 else own
    return lines


def _patched(search: LinkSearch, cable: str, hop: Sequence[int]) -> int:
    entry: Cable = search.catalogue.cables[cable]
    return len(hop) - 1 if entry.family != "pair" else 0


def _hops(circuit: Circuit, values: Values, installed: Installed) -> list[list[int]]:
    """Return the trunks between one switch and the next, those of one type together."""
    hops = [[0]]
    for k in range(1, len(circuit.signal)):
        alike = values.cables[k] == values.cables[k - 1]
        if circuit.signal[k].near in installed.plant.heads or not alike:
            hops.append([])
        hops[-1].append(k)
    return hops


def _facts_of(row: int) -> CameraFacts:
    """Return an uplink's far end as the budget lines want a camera."""
    return CameraFacts("", row, SIGNAL, (), "unswitched", NAN, NAN, NAN, NAN, NAN, NAN, 1, 0.0)


def _link(
    search: LinkSearch,
    circuit: Circuit,
    pieces: Sequence[LaidPiece],
    values: Values,
    lines: Sequence[BudgetLine],
    verdict: Verdict,
    decides: Sequence[Unknown],
) -> Link:
    """Return an uplink as a link from its recorder on."""
    runs = []
    for k, (piece, cable) in enumerate(zip(pieces, values.cables, strict=True)):
        method = _method(search, piece.row, cable)
        entry = search.catalogue.methods[method]
        runs.append(
            CableRun(
                "signal", cable, piece.way_m, piece.length_m, 0.0, method, LOCAL, piece.nodes, piece.segments,
                entry.at_head, entry.at_head, stretch=k + 1, installed=piece.row.id,
            )
        )  # fmt: skip
    governs = governing(tuple(lines))
    least = min(
        (line for line in governs if line.verdict is verdict_of(tuple(lines))),
        key=lambda line: np.inf if np.isnan(line.margin_percent) else line.margin_percent,
        default=None,
    )
    words = "" if least is None else in_words(least)
    if decides:
        words = f"not known: {', '.join(f'{f.fact} of {f.subject}' for f in decides)}; at its worst {words}"
    margins = [line.margin_percent for line in governs if not np.isnan(line.margin_percent)]
    return Link(
        id=uplink_id(circuit),
        kind="standby" if circuit.number else "uplink",
        camera="",
        head=circuit.head,
        recorder=circuit.head,
        method="+".join(dict.fromkeys(run.method for run in runs)),
        feed=LOCAL,
        port="ethernet",
        runs=tuple(runs),
        nodes=(pieces[0].nodes[0], *(node for piece in pieces for node in piece.nodes[1:])),
        segments=tuple(s for piece in pieces for s in piece.segments),
        length_m=sum(piece.way_m for piece in pieces),
        cable_length_m=sum(piece.length_m for piece in pieces),
        equipment=(),
        lines=tuple(lines),
        verdict=verdict,
        limiting=words,
        margin_percent=min(margins, default=NAN),
        mbps=NAN,
        own_cost=0.0,
        patch=circuit.fed_at,
    )
