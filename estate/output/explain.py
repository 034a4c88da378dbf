"""Why this link for a camera, and why not another; or why there is none, and what would make one."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from estate.findings import Verdict
from estate.links.lines import DIGITS
from estate.output.explain_audit import AUDIT, told_cures, told_open
from estate.output.result import Result
from estate.placement.others import Alternative, Beaten, Saved

Row = Mapping[str, Any]

INDENT = "  "
MOST_NAMED = 6
"""Segments named before the rest are counted."""

VERDICTS = {
    Verdict.WITHIN: "within calculated limits",
    Verdict.MARGINAL: "within calculated limits, with little margin",
    Verdict.VERIFY: "to be verified on site",
    Verdict.OUTSIDE: "outside limits",
}


def told_explanation(
    result: Result, camera: str, beaten: Beaten | None, standing: Sequence[Alternative] = ()
) -> list[str]:
    """Say what a camera's link is, why, and what it beat; or why there is none.

    `beaten` is None where that could not be worked out; `standing` are links that stand for a camera without one.
    """
    link = _link(result, camera)
    lines = [_heading(result, link)]
    if link["verdict"] == Verdict.NONE:
        lines += [
            *_why_none(result, link),
            *_told_standing(result, camera, standing),
            *(_would_stand(result, camera) if result.command != AUDIT else ()),
        ]
    else:
        lines += [*_way(result, link), *_budget(result, link)]
        if result.command == AUDIT:
            lines += [
                *told_open(result, link),
                *told_cures(result, camera),
                *_told_standing(result, camera, standing),
            ]
        else:
            lines += [*_cost(result, link), *_beaten(result, link, beaten), *_alternatives(result, link)]
    lines += _findings(result, link)
    return [*lines, "", *result.notes, *_cautions(result, link)]


def camera_ids(result: Result) -> list[str]:
    """Return the cameras that a result has links, or reasons for none, of."""
    return [str(row["camera"]) for row in _rows(result, "links", kind="camera")]


def saved_link(result: Result, camera: str) -> Saved | None:
    """Return a camera's link by ids, None where none stands."""
    link = _link(result, camera)
    if link["verdict"] == Verdict.NONE:
        return None
    return Saved(
        method=link["method"],
        head=link["head"],
        segments=tuple(_ids(link["segments"])),
        cables=tuple(run["cable"] for run in _rows(result, "runs", link=link["link"])),
        items=tuple(row["item"] for row in _rows(result, "equipment", link=link["link"])),
        to_verify=link["verdict"] == Verdict.VERIFY,
    )


def switched_cabinets(result: Result) -> list[str]:
    """Return the cabinets of a result in which a switch stands."""
    return [str(row["patch"]) for row in _rows(result, "cabinets") if row["switch"]]


def _link(result: Result, camera: str) -> Row:
    (link,) = _rows(result, "links", kind="camera", camera=camera)
    (facts,) = _rows(result, "link_facts", link=link["link"])
    return {**link, **facts}


def _rows(result: Result, table: str, **wanted: Any) -> list[Row]:
    """Return the rows of a table where columns have given values."""
    records = result.tables[table].records()
    return [row for row in records if all(row[column] == value for column, value in wanted.items())]


def _heading(result: Result, link: Row) -> str:
    camera = _point(result, link["camera"])
    if link["verdict"] == Verdict.NONE:
        return f"{camera}: no link {'is on record' if result.command == AUDIT else 'stands'}"
    if not link["segments"] and result.command == AUDIT:
        return f"{camera}: {VERDICTS[Verdict(link['verdict'])]}; {link['limiting']}"
    recorded = "" if link["recorder"] == link["head"] else f", recorded at {link['recorder']}"
    margin = "" if link["margin_percent"] is None else f", least margin {link['margin_percent']:.1f} %"
    limiting = f"; {link['limiting']}" if link["limiting"] else ""
    verdict = VERDICTS[Verdict(link["verdict"])]
    if link["verdict"] == Verdict.MARGINAL and not _has_little_margin(result, link):
        verdict, margin, limiting = f"marginal, {link['limiting']}", f"; else{margin[1:]}", ""
    return f"{camera}: {link['method']} from {_point(result, link['head'])}{recorded}; {verdict}{margin}{limiting}"


def _has_little_margin(result: Result, link: Row) -> bool:
    """Whether a marginal link is so by a margin; between earths it is so whatever its margins are."""
    lines = _rows(result, "budget", link=link["link"], verdict=Verdict.MARGINAL)
    return any(line["margin_percent"] is not None for line in lines)


def _point(result: Result, name: str) -> str:
    """Return a point's id, with its name where that says more."""
    points = result.layers["points"]
    names = dict(zip(points.column("id"), points.column("name"), strict=True))
    return f"{name} ({names[name]})" if names.get(name) not in (None, "", name) else name


# The way


def _way(result: Result, link: Row) -> Iterator[str]:
    """Yield the way stretch by stretch, node by node."""
    yield ""
    yield f"way from {link['head']} to {link['camera']}, {link['length_m']:.1f} m; cable {link['cable_length_m']:.1f} m"
    runs = _rows(result, "runs", link=link["link"])
    stands = _stands(result, link)
    segments = {row["segment"]: row for row in _rows(result, "segments")}
    told: set[str] = set()
    for number in sorted({run["stretch"] for run in runs}):
        own = [run for run in runs if run["stretch"] == number]
        yield INDENT + _stretch_in_words(own, link, number)
        for run in _pieces(own):
            nodes, passed = _ids(run["nodes"]), _ids(run["segments"])
            yield from _at_node(result, nodes[0], stands, told)
            for segment, node in zip(passed, nodes[1:], strict=True):
                row = segments[segment]
                yield f"{INDENT * 3}{segment:<14}{row['length_m']:>8.1f} m  {row['containment'] or '-'}"
                yield from _at_node(result, node, stands, told)


def _ids(listed: str) -> list[str]:
    return listed.split(";") if listed else []


def _pieces(runs: Sequence[Row]) -> list[Row]:
    """Return the pieces of the signal cable, one after another."""
    return [run for run in runs if run["role"] == "signal"]


def _stretch_in_words(runs: Sequence[Row], link: Row, number: int) -> str:
    cables = [
        f"{run['cable']} {run['cable_length_m']:.1f} m"
        + (f" ({run['installed']})" if run["installed"] else "")
        for run in runs
    ]
    feed = runs[0]["feed"]
    fed = "" if feed in ("", "local") else f", feed {feed}"
    begins = f" from {link['fed_at']}" if fed and link["fed_at"] else ""
    return f"stretch {number}, {runs[0]['method']}{fed}{begins}: {' + '.join(cables)}"


def _stands(result: Result, link: Row) -> dict[str, list[str]]:
    """Return what stands at each node of a link, counted."""
    counts: dict[str, dict[tuple[str, str, str], int]] = defaultdict(dict)
    for row in _rows(result, "equipment", link=link["link"]):
        key = (row["item"], row["name"], row["fed_by"])
        counts[row["node"]][key] = counts[row["node"]].get(key, 0) + 1
    return {node: [_item(*key, count) for key, count in items.items()] for node, items in counts.items()}


FED = {"mains": ", fed by mains there", "port": ", fed by the head's port", "": ""}


def _item(item: str, name: str, fed_by: str, count: int) -> str:
    return f"{count} × {item}: {name}{FED[fed_by]}"


def _at_node(result: Result, node: str, stands: Mapping[str, list[str]], told: set[str]) -> Iterator[str]:
    """Yield a node, and once what stands there."""
    yield f"{INDENT * 2}{_point(result, node)}"
    if node not in told:
        told.add(node)
        yield from (f"{INDENT * 4}stands here: {words}" for words in stands.get(node, ()))


# Budget and cost


def _budget(result: Result, link: Row) -> Iterator[str]:
    """Yield the budget lines as a table that lines up; those that only inform in brackets."""
    head = ("quantity", "state", "value", "limit", "unit", "margin", "verdict", "stretch", "")
    notes = _rows(result, "budget_notes", link=link["link"])
    lines = _rows(result, "budget", link=link["link"])
    rows = [_budget_row({**line, **note}) for line, note in zip(lines, notes, strict=True)]
    if not rows:
        return
    yield ""
    yield "budget lines; those in brackets inform and don't govern"
    yield from aligned([head, *rows], right=(2, 3, 5))


def _budget_row(row: Row) -> tuple[str, ...]:
    verdict = row["verdict"] or "-"
    return (
        row["quantity"] if row["informs"] == "no" else f"[{row['quantity']}]",
        row["state"],
        _number(row["value"], row["unit"]),
        "" if row["limit"] is None else f"{round(row['limit'], 2):g}",
        row["unit"],
        "" if row["margin_percent"] is None else f"{row['margin_percent']:.1f} %",
        verdict if row["informs"] == "no" else f"[{verdict}]",
        str(row["stretch"] or ""),
        row["note"] or row["profile"],
    )


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.{DIGITS.get(unit, 1)}f}"


def aligned(rows: Sequence[Sequence[str]], right: Iterable[int] = ()) -> list[str]:
    """Return rows of cells in columns that line up; columns that are empty throughout are left out.

    >>> aligned([("a", "", "1.0"), ("bc", "", "10.0")], right=[2])
    ['  a    1.0', '  bc  10.0']
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    ends = set(right)
    return [
        INDENT
        + "  ".join(
            cell.rjust(width) if k in ends else cell.ljust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
            if width
        ).rstrip()
        for row in rows
    ]


def _cost(result: Result, link: Row) -> Iterator[str]:
    """Yield the link's own money, and that of the works it uses, with who else uses them."""
    currency = result.estate.get("currency", "")
    yield ""
    yield f"cost {link['cost']:,.2f} {currency}".rstrip() + ": cable, pulling, ends made off, equipment"
    if link["works_cost"]:
        proposed = _proposed(result)
        own = [s for s in dict.fromkeys(_ids(link["segments"])) if s in proposed]
        sharing = sorted(
            row["link"]
            for row in _rows(result, "links")
            if row["link"] != link["link"] and set(own) & set(_ids(row["segments"] or ""))
        )
        shared = f"; shared with {', '.join(sharing)}" if sharing else ""
        yield f"{INDENT}and {link['works_cost']:,.2f} for works on {_named(own)}, in full{shared}"


def _proposed(result: Result) -> set[str]:
    segments = result.layers["segments"]
    return {
        name
        for name, is_new in zip(segments.column("segment"), segments.column("proposed"), strict=True)
        if is_new
    }


def _named(segments: Sequence[str]) -> str:
    more = len(segments) - MOST_NAMED
    return ", ".join(segments[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


# Others


def _beaten(result: Result, link: Row, beaten: Beaten | None) -> Iterator[str]:
    yield ""
    if beaten is None:
        yield "what it beat is not known: the layers that the result rests on are not beside it"
        return
    yield "what it beat, each link by itself with its works in full"
    words = ("next best method", "same method, next best head or route")
    rows = []
    for word, other in zip(words, beaten, strict=True):
        cells = ("none stands", "", "", "", "") if other is None else _other(result, link, _as_row(other))
        rows.append((word, *cells))
    yield from aligned(rows, right=(3, 4))
    if any(other is not None and other.cost < _in_full(link) for other in beaten):
        yield f"{INDENT}cheaper by itself; in the whole design works, recorders, ports and room decide"


def _as_row(other: Alternative) -> Row:
    row = {name: getattr(other, name) for name in Alternative.__dataclass_fields__}
    return row | {"avoids": ";".join(other.avoids)}


def _in_full(link: Row) -> float:
    return float(link["cost"] or 0.0) + float(link["works_cost"] or 0.0)


def _other(result: Result, link: Row, other: Row) -> tuple[str, ...]:
    """Return another link as cells: method and head, cable, cost, how much more, what it avoids."""
    more = "" if link["verdict"] == Verdict.NONE else f"{other['cost'] - _in_full(link):+,.2f}"
    used = {*result.summary["recorders"], *switched_cabinets(result)}
    idle = "" if other["head"] in used else ", which this design doesn't use"
    avoids = _ids(other["avoids"])
    return (
        f"{other['method']} from {other['head']}{idle}",
        f"cable {other['cable_length_m']:.1f} m",
        f"{other['cost']:,.2f}",
        more,
        f"without {_named(avoids)}" if avoids else "",
    )


def _alternatives(result: Result, link: Row) -> Iterator[str]:
    others = _rows(result, "alternatives", camera=link["camera"])
    if others:
        yield ""
        yield "alternatives that the design kept, the cheapest first"
        yield from aligned(
            [(str(row["rank"]), *_other(result, link, row)) for row in others], right=(0, 3, 4)
        )


# None stands


def _why_none(result: Result, link: Row) -> Iterator[str]:
    misses = _rows(result, "misses", camera=link["camera"])
    yield ""
    if not misses:
        yield link["limiting"]
        return
    yield "nearest miss of each method, the nearest first"
    by_text: dict[str, list[str]] = defaultdict(list)
    for miss in misses:
        by_text[miss["text"]].append(miss["method"])
    for text, methods in by_text.items():
        named = ", ".join(filter(None, methods))
        yield f"{INDENT}{named}: {text}" if named else f"{INDENT}{text}"


def _told_standing(result: Result, camera: str, standing: Sequence[Alternative]) -> Iterator[str]:
    if standing:
        yield ""
        yield (
            "links that a design could have, by themselves"
            if result.command == AUDIT
            else "links that stand, by themselves"
        )
        link = _link(result, camera)
        yield from aligned([_other(result, link, _as_row(other)) for other in standing], right=(2,))


def _would_stand(result: Result, camera: str) -> Iterator[str]:
    """Yield every change that would make a link, the cheapest first, with what it comes to in all."""
    changes = _rows(result, "would_stand", camera=camera)
    yield ""
    if not changes:
        yield "no single change that is tried here would make one"
        return
    yield "would stand with, the cheapest first; change and link in all"
    for row in changes:
        yield f"{INDENT}{row['cost']:>10,.2f}  {row['text']}; then {row['method']} from {row['head']}"


def _findings(result: Result, link: Row) -> Iterator[str]:
    """Yield the findings on the link, its camera and the segments it passes, the gravest first."""
    passed = {link["link"], link["camera"], *_ids(link["segments"] or "")}
    own = [
        row
        for row in _rows(result, "findings")
        if row["subject"] in passed or link["camera"] in _ids(row["cameras"] or "")
    ]
    if own:
        yield ""
        yield "findings"
        yield from (f"{INDENT}{row['finding']:<4} {row['severity']:<7}{row['text']}" for row in own)


def _cautions(result: Result, link: Row) -> Iterator[str]:
    """Yield the cautions that matter for what was told: always the first, all of them where something is to be built."""
    yield result.cautions[0]
    if link["verdict"] == Verdict.NONE and _rows(result, "would_stand", camera=link["camera"]):
        yield from result.cautions[1:]
    else:
        yield "The cautions of the report apply; local codes and licensed practice govern."
