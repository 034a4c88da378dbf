"""What the commands print: short texts for a terminal or a pipe."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from estate.catalogue.tables import Catalogue, Entry
from estate.findings import Finding, Severity, Verdict
from estate.network.network import Network
from estate.output.result import Result, clean
from estate.survey.survey import Survey

JOIN_BANDS_M = (0.0, 0.05, 0.1, 0.25, 0.5, 1.0)
"""Upper ends of the distance bands that joins are counted in [m]."""

SHOWN = 20
"""Findings listed without -v."""


def counted(count: int, word: str) -> str:
    """Return a count with its word.

    >>> counted(1, "finding"), counted(2, "finding")
    ('1 finding', '2 findings')
    """
    return f"{count} {word}{'' if count == 1 else 's'}"


VERDICTS: Mapping[str, str] = {
    "verify": "to be verified",
    "outside": "outside limits",
    "none": "without a link",
}
"""Verdicts as they are counted; the others say it themselves."""


def told_counts(counts: Mapping[str, int]) -> str:
    """Return counts with their words; without those of which there is none.

    >>> told_counts({"danger": 2, "fault": 0, "note": 1}), told_counts({"danger": 0})
    ('2 danger, 1 note', 'none')
    """
    return ", ".join(f"{count} {word}" for word, count in counts.items() if count) or "none"


def told_verdicts(links: Mapping[str, int], without: str) -> str:
    """Return the verdicts of the cameras that have a link, then how many have none, in the words given.

    >>> told_verdicts({"within": 4, "verify": 1, "none": 2}, "not on record")
    '4 within, 1 to be verified; 2 not on record'
    >>> told_verdicts({"within": 0, "none": 2}, "without a link")
    '2 without a link'
    """
    judged = {VERDICTS.get(word, word): count for word, count in links.items() if word != "none"}
    parts = [told_counts(judged)] if any(judged.values()) else []
    return "; ".join([*parts, *([f"{links['none']} {without}"] if links.get("none") else [])])


def told_survey(survey: Survey) -> list[str]:
    """Say what was read: features in = accepted + rejected, coordinates, defaults taken."""
    lines = [f"{survey.settings.estate.title}"]
    for file in survey.files:
        note = f" ({file.note})" if file.note else ""
        lines.append(
            f"  {file.file}: {counted(file.features, 'feature')} = {file.accepted} accepted + {file.rejected} rejected{note}"
        )
    lines.append(f"  coordinates: {survey.crs or 'local, or none'}")
    lines += [f"  {note}" for note in survey.notes]
    assumed = [a for a in survey.assumptions if a.kind == "assumed"]
    lines += [f"  assumed: {a.subject} = {a.value} in {a.count} rows" for a in assumed]
    defaults = sum(a.count for a in survey.assumptions if a.kind != "assumed")
    if defaults:
        lines.append(f"  {counted(defaults, 'blank')} took a default")
    return lines


def told_network(network: Network) -> list[str]:
    """Say what the graph is: nodes, segments, parts, joins by distance."""
    from scipy.sparse import coo_array  # noqa: PLC0415  slow
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    ends = (network.segment_from, network.segment_to)
    matrix = coo_array((np.ones(network.segments), ends), shape=(network.nodes, network.nodes))
    parts = connected_components(matrix, directed=False)[0] if network.nodes else 0
    total_m = float(network.segment_length_m.sum())
    lines = [
        f"  network: {network.nodes} nodes, {network.segments} segments, {total_m:.1f} m, "
        f"{parts} part{'s' if parts != 1 else ''} that don't join"
        if parts != 1
        else f"  network: {network.nodes} nodes, {network.segments} segments, {total_m:.1f} m, all joined"
    ]
    gaps = [join.gap_m for join in network.joins if join.kind != "spur"]
    if gaps:
        lines.append(f"  joins by distance: {', '.join(told_bands(gaps))}")
    spurs = [join.gap_m for join in network.joins if join.kind == "spur"]
    if spurs:
        lines.append(f"  spurs to cameras: {len(spurs)}, the longest {max(spurs):.1f} m")
    return lines


def told_bands(gaps_m: Sequence[float]) -> list[str]:
    """Count gaps in bands.

    >>> told_bands([0.0, 0.02, 0.3, 0.3])
    ['1 at 0 m', '1 to 0.05 m', '2 to 0.5 m']
    """
    bands = Counter(int(np.searchsorted(JOIN_BANDS_M, round(gap, 6))) for gap in gaps_m)
    words = []
    for band, count in sorted(bands.items()):
        if band == len(JOIN_BANDS_M):
            words.append(f"{count} beyond {JOIN_BANDS_M[-1]:g} m")
        else:
            words.append(f"{count} {'to' if band else 'at'} {JOIN_BANDS_M[band]:g} m")
    return words


def told_findings(findings: Sequence[Finding], *, every: bool) -> list[str]:
    """List findings, the gravest first; all of them with `every`."""
    if not findings:
        return ["no findings"]
    counts = Counter(f.severity for f in findings)
    words = ", ".join(f"{counts[s]} {s}" for s in Severity if counts[s])
    shown = findings if every else findings[:SHOWN]
    lines = [f"{counted(len(findings), 'finding')}: {words}"]
    for f in shown:
        place = "" if np.isnan(f.x) else f" at {f.x:.1f}, {f.y:.1f}"
        lines.append(f"  {f.id:<4} {f.severity:<7}{f.action:<10}{f.text}{place}")
    if len(shown) < len(findings):
        lines.append(f"  … {len(findings) - len(shown)} more in findings.csv, or with -v")
    return lines


def told_design(result: Result) -> list[str]:
    """Say what a design came to."""
    summary, currency = result.summary, result.estate.get("currency", "")
    links = told_verdicts(summary["links"], VERDICTS["none"])
    cost = " + ".join(f"{word} {money:,.2f}" for word, money in summary["cost"].items() if word != "total")
    lines = [
        f"cameras: {summary['linked']} of {summary['cameras']} linked ({links})",
        *(
            f"recorder {row['recorder']}: {row['used']} of {row['channels']} channels "
            f"({row['used_analogue']} analogue, {row['used_network']} network), {row['status']}"
            for row in result.tables["recorders"].records()
        ),
        *told_cabinets(result),
        f"cost: {summary['cost']['total']:,.2f} {currency} = {cost}" if cost else f"cost: 0.00 {currency}",
        told_bound(result),
        *told_cut(result),
        *told_phases(result),
    ]
    return [*lines, *result.notes]


def told_cabinets(result: Result) -> list[str]:
    """Say what stands in each cabinet, how full it is, and where its uplinks lead."""
    points, links = result.layers["points"], result.tables["links"].records()
    is_new = dict(zip(points.column("id"), points.column("is_new"), strict=True))
    uplinks = {row["link"]: row for row in links if row["kind"] != "camera"}
    lines = []
    for row in result.tables["cabinets"].records():
        ways = [uplinks[name] for name in (row["uplink"] or "").split(";") if name]
        words = [
            f"{way['kind']} to {way['recorder']} over {way['length_m']:.0f} m{_beside(way)}" for way in ways
        ]
        state = "new" if is_new[row["patch"]] else "existing"
        lines.append(", ".join([f"cabinet {row['patch']}: {_switch(row)}", *words, state]))
    return lines


def _beside(link: Mapping[str, Any]) -> str:
    """Return the verdict of a link where it is not within limits."""
    return "" if link["verdict"] == Verdict.WITHIN else f" ({link['verdict']})"


def _switch(row: Mapping[str, Any]) -> str:
    """Return the switch of a cabinet with ports and power allocated."""
    if not row["switch"]:
        return "no switch, trunks pass through"
    limit = "" if row["poe_w"] is None else f" of {row['poe_w']:.0f}"
    return f"{row['switch']}, {row['used']} of {row['ports']} ports, {row['poe_used_w']:.0f}{limit} W"


def told_cut(result: Result) -> list[str]:
    """Say what the worst cut of one segment takes."""
    cut = result.summary["cuts"].get("segment")
    if cut is None or not cut["cameras_lost"]:
        return []
    stranded = cut["cameras_stranded"]
    other = f"{stranded} without another way" if stranded else "with another way for each"
    lost = f"{cut['cameras_lost']} of {counted(result.summary['linked'], 'linked camera')}"
    return [f"worst single cut: segment {cut['subject']} loses {lost}, {other} (cuts.csv)"]


def told_phases(result: Result) -> list[str]:
    """Say per phase what is dug and pulled, and how many cameras are live at its end."""
    rows = result.tables["phases"].records()
    lines, live = [], 0
    for phase in dict.fromkeys(row["phase"] for row in rows):
        own = [row for row in rows if row["phase"] == phase]
        counts = Counter(row["step"] for row in own)
        dug_m = sum(row["length_m"] for row in own if row["step"] == "dig")
        cost = sum(row["cost"] or 0 for row in own)
        live += counts["live"]
        lines.append(
            f"phase {phase}: {dug_m:.0f} m dug, {counted(counts['pull'], 'link')} pulled, "
            f"{counted(live, 'camera')} live at its end, cost {cost:,.2f}"
        )
    return lines


def told_bound(result: Result) -> str:
    """Say how near the choice is to the best possible one among its candidates."""
    summary = result.summary
    value, bound, gap = summary["objective_value"], summary["bound"], summary["gap_percent"]
    if value is None:
        return "nothing to choose"
    proof = "no bound" if bound is None or gap is None else f"bound {bound:,.2f}, gap {gap:.2f} %"
    return f"{summary['objective'].replace('_', ' ')} {value:,.2f}, {proof}, {summary['solver_status'].replace('_', ' ')}"


def told_entries(entries: Sequence[Entry], columns: Sequence[tuple[str, Sequence[str]]]) -> list[str]:
    """Return entries as a table in columns that line up."""
    head = ["id", *(title for title, _ in columns)]
    rows = [[entry.id, *(texts[k] for _, texts in columns)] for k, entry in enumerate(entries)]
    widths = [max(len(row[c]) for row in [head, *rows]) for c in range(len(head))]
    return [
        "  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip()
        for row in [head, *rows]
    ]


def told_cables(catalogue: Catalogue) -> list[str]:
    """Return the cables of the catalogue, one a line."""
    cables = list(catalogue.cables.values())

    def number(name: str) -> list[str]:
        return [_figure(cable, name) for cable in cables]

    return told_entries(
        cables,
        [
            ("family", [c.family for c in cables]),
            ("od mm", number("od_mm")),
            ("Ω/km", number("conductor_ohm_per_km")),
            ("class", [c.separation_class or "-" for c in cables]),
            ("fit for", [",".join(sorted(c.fit)) for c in cables]),
            ("name", [f"{c.name}{' (legacy: audited, never designed)' if c.legacy else ''}" for c in cables]),
        ],
    )


def told_methods(catalogue: Catalogue) -> list[str]:
    """Return the methods of the catalogue, one a line."""
    methods = list(catalogue.methods.values())
    return told_entries(
        methods,
        [
            ("delivers", [m.delivers for m in methods]),
            ("feeds", [",".join(m.feeds) for m in methods]),
            ("name", [m.name for m in methods]),
        ],
    )


def told_entry(entry: Entry) -> list[str]:
    """Return one entry with every figure, its source and its status."""
    lines = [f"{entry.id}: {entry.name}{' (legacy: audited, never designed)' if entry.legacy else ''}"]
    for name in sorted(set(type(entry).__dataclass_fields__) - {"id", "name", "figures", "legacy", "reach"}):
        value = getattr(entry, name)
        if value not in ("", (), {}, 0, None):
            text = ", ".join(map(str, value)) if isinstance(value, tuple) else value
            lines.append(f"  {name}: {text}")
    reach = getattr(entry, "reach", {})
    figures = {**entry.figures, **{f"reach {c} {p} [m]": f for c, ps in reach.items() for p, f in ps.items()}}
    for name, figure in figures.items():
        value = (
            ", ".join(map(str, figure.value)) if isinstance(figure.value, list) else clean("", figure.value)
        )
        lines.append(f"  {name} = {value}  [{figure.status.replace('_', ' ')}: {figure.source}]")
    return lines


def _figure(entry: Entry, name: str) -> str:
    value = entry.number(name)
    return "-" if np.isnan(value) else f"{value:g}"
