"""Cameras cured against money, as PNG, SVG and PDF."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

from estate.output.compare_plot import FILES, UNDATED
from estate.output.result import Result

NOTE_WIDTH = 125
"""Letters of a note in one line."""

LABELLED = 24
"""Steps of the curve that have their money beside them, at most."""


def draw_programme(folder: Path, result: Result) -> None:
    """Draw the programme of an audit's result; nothing for other results, or where there is nothing to cure."""
    if "programme_curve" in result.tables:
        rows = result.tables["programme_curve"].records()
        notes = [note for note in result.notes if "rates" in note or "programme" in note.lower()]
        budget = result.summary["programme"]["budget"]
        plot_programme(folder, rows, str(result.estate.get("currency") or ""), notes, budget)


def plot_programme(
    folder: Path, rows: Sequence[Mapping[str, Any]], currency: str, notes: Sequence[str], budget: float | None
) -> list[Path]:
    """Draw programme.png, .svg and .pdf: for each sum of money the most cameras it cures; nothing where none can be.

    `rows` are those of the table programme_curve. A budget is a dashed line.
    """
    from matplotlib import rc_context  # noqa: PLC0415  slow
    from matplotlib.figure import Figure  # noqa: PLC0415
    from matplotlib.ticker import MaxNLocator  # noqa: PLC0415

    if not rows:
        return []
    fixed: Any = {"svg.hashsalt": "estate", "svg.fonttype": "none", "pdf.fonttype": 42, "font.size": 8}
    with rc_context({**fixed, "text.parse_math": False}):
        figure = Figure(figsize=(7.2, 4.2), layout="constrained")
        axes = figure.subplots()
        money, cured = most_for(rows)
        right = max(money[-1], budget or 0.0) * 1.06 or 1.0
        axes.step([*money, right], [*cured, cured[-1]], where="post", color="black", linewidth=1.0)
        axes.plot(money[1:], cured[1:], "o", color="black", markersize=4)
        for x, y in list(zip(money[1:], cured[1:], strict=True)) if len(money) <= LABELLED else ():
            axes.annotate(
                f"{x:,.0f}",
                (x, y),
                xytext=(4, -9),
                textcoords="offset points",
                fontsize=6.5,
                annotation_clip=False,
            )
        if budget is not None:
            axes.axvline(budget, color="black", linestyle=(0, (5, 3)), linewidth=0.8)
            axes.annotate(
                f"budget {budget:,.0f}", (budget, 0.3), rotation=90, xytext=(-9, 0),
                textcoords="offset points", fontsize=7,
            )  # fmt: skip
        axes.set_xlim(0, right)
        axes.set_ylim(0, cured[-1] + 1)
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
        axes.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
        axes.set_xlabel(f"Money [{currency}]" if currency else "Money")
        axes.set_ylabel("Cameras cured, at most")
        axes.grid(visible=True, linewidth=0.3)
        figure.supxlabel("\n".join(fill(note, NOTE_WIDTH) for note in notes), fontsize=7, x=0.01, ha="left")
        for ending in FILES:
            figure.savefig(folder / f"programme.{ending}", dpi=150, metadata=dict(UNDATED[ending]))
    return [folder / f"programme.{ending}" for ending in FILES]


def most_for(rows: Sequence[Mapping[str, Any]]) -> tuple[list[float], list[int]]:
    """Return the sums at which more cameras are cured, and how many: the most that each sum cures.

    >>> most_for([{"cost": 5.0, "cured": 1}, {"cost": 5.0, "cured": 2}, {"cost": 9.0, "cured": 3}])
    ([0.0, 5.0, 9.0], [0, 2, 3])
    """
    most: dict[float, int] = {0.0: 0}
    for row in rows:
        most[float(row["cost"])] = max(int(row["cured"]), most.get(float(row["cost"]), 0))
    money = sorted(most)
    return money, [most[sum_] for sum_ in money]
