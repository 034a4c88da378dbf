"""Cost against the number of recorders, as PNG, SVG and PDF."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

MARKS = "osD^vP*X<>"
FILES = ("png", "svg", "pdf")
LONGEST = 32
"""Letters of a name that the legend shows; of a path the end tells more."""

UNDATED: Mapping[str, Mapping[str, None]] = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
}


def plot_costs(
    folder: Path,
    rows: Sequence[Mapping[str, Any]],
    currency: str,
    notes: Sequence[str],
    *,
    joined: bool,
) -> list[Path]:
    """Draw compare.png, .svg and .pdf: one mark per result, its bound below it; nothing where none has a cost.

    A number of recorders that gave no answer is a dashed line. `joined` draws a line from mark to mark.
    """
    from matplotlib import rc_context  # noqa: PLC0415  slow
    from matplotlib.figure import Figure  # noqa: PLC0415
    from matplotlib.ticker import MaxNLocator  # noqa: PLC0415

    priced = [row for row in rows if row["cost_total"] is not None and row["recorders"]]
    if not priced:
        return []
    fixed: Any = {"svg.hashsalt": "estate", "svg.fonttype": "none", "pdf.fonttype": 42, "font.size": 8}
    with rc_context({**fixed, "text.parse_math": False}):
        figure = Figure(figsize=(7.2, 4.6), layout="constrained")
        axes = figure.subplots()
        if joined:
            axes.plot(
                [r["recorders"] for r in priced],
                [r["cost_total"] for r in priced],
                color="black",
                linewidth=0.6,
            )
        _points(axes, priced)
        for row in rows:
            if row["cost_total"] is None and row["recorders"] is not None:
                axes.axvline(row["recorders"], color="black", linestyle=(0, (5, 3)), linewidth=0.8)
                axes.plot([], [], "--", color="black", linewidth=0.8, label=f"{row['name']}: no answer")
        counts = [row["recorders"] for row in rows if row["recorders"] is not None]
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        axes.set_xlim(min(counts) - 0.5, max(counts) + 0.5)
        axes.set_ylim(bottom=0)
        axes.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
        axes.set_xlabel("Recorders")
        axes.set_ylabel(f"Cost [{currency}]" if currency else "Cost")
        axes.grid(visible=True, linewidth=0.3)
        figure.supxlabel("\n".join(notes), fontsize=7, x=0.01, ha="left")
        figure.legend(loc="outside right upper", fontsize=7)
        for ending in FILES:
            figure.savefig(folder / f"compare.{ending}", dpi=150, metadata=dict(UNDATED[ending]))
    return [folder / f"compare.{ending}" for ending in FILES]


def _points(axes: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    """Draw cost by count and what bound was proven; several of one count stand side by side."""
    counts = [row["recorders"] for row in rows]
    for number, row in enumerate(rows):
        count, cost, bound = row["recorders"], row["cost_total"], row["bound"]
        before, same = counts[:number].count(count), counts.count(count)
        place = count + 0.6 * ((before + 0.5) / same - 0.5)
        mark, filled = MARKS[number % len(MARKS)], "white" if number // len(MARKS) % 2 else "black"
        name = row["name"] if len(row["name"]) <= LONGEST else f"…{row['name'][1 - LONGEST :]}"
        label = f"{name}: {cost:,.0f}, {row['linked']} of {row['cameras']} linked"
        axes.plot(place, cost, mark, color="black", markerfacecolor=filled, markersize=5, label=label)
        if row["objective"] == "cost" and bound is not None:
            axes.plot([place, place], [bound, cost], ":", color="black", linewidth=0.8)
            axes.plot(place, bound, "_", color="black", markersize=9)
    if any(row["objective"] == "cost" and row["bound"] is not None for row in rows):
        axes.plot([], [], "_", color="black", markersize=9, label="bound: none that links as many costs less")
