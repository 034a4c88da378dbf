"""The programme of an audit as a curve on the page: for each sum of money the most cameras that it cures."""

from collections.abc import Iterator

from markupsafe import Markup

from estate.output.programme_plot import most_for
from estate.output.result import Result

LEFT, TOP, RIGHT, BOTTOM = 42.0, 14.0, 610.0, 236.0
"""The frame of the curve within its picture [px]."""

MOST_TICKS = 8


def curve(result: Result) -> Markup:
    """Return the curve as SVG, empty where nothing can be cured."""
    table = result.tables.get("programme_curve")
    if table is None or not table.rows:
        return Markup("")
    money, cured = most_for(table.records())
    budget = result.summary.get("programme", {}).get("budget")
    currency = str(result.estate.get("currency") or "")
    right = max(money[-1], budget or 0.0) * 1.06 or 1.0
    parts = [
        *_ticks(right, cured[-1]),
        *_steps(money, cured, right),
        *([] if budget is None else [_budget(budget, right)]),
        Markup('<text x="{}" y="272" class="mid">money{}, at least</text>').format(
            (LEFT + RIGHT) / 2, f" [{currency}]" if currency else ""
        ),
    ]
    told = f"Cameras cured, at most, for a sum of money: up to {cured[-1]} for {money[-1]:,.2f} {currency}"
    return Markup('<svg class="curve" viewBox="0 0 640 280" role="img" aria-label="{}">{}</svg>').format(
        told.strip(), Markup("").join(parts)
    )


def _x(money: float, right: float) -> float:
    return round(LEFT + (RIGHT - LEFT) * money / right, 1)


def _y(cured: int, most: int) -> float:
    return round(BOTTOM - (BOTTOM - TOP) * cured / (most + 0.5), 1)


def _steps(money: list[float], cured: list[int], right: float) -> Iterator[Markup]:
    """Yield the line and its steps; each says its sum and what it cures."""
    places = [(_x(m, right), _y(c, cured[-1])) for m, c in zip(money, cured, strict=True)]
    line = f"M{places[0][0]:g} {places[0][1]:g}" + "".join(f"H{x:g}V{y:g}" for x, y in places[1:])
    yield Markup('<path class="line" d="{}H{}"/>').format(line, RIGHT)
    for (x, y), m, c in list(zip(places, money, cured, strict=True))[1:]:
        told = f"{c} camera{'' if c == 1 else 's'} for {m:,.2f}"
        yield Markup('<circle cx="{}" cy="{}" r="4"><title>{}</title></circle>').format(x, y, told)


def _ticks(right: float, most: int) -> Iterator[Markup]:
    """Yield the axes with round figures."""
    yield Markup('<path class="axis" d="M{} {}V{}H{}"/>').format(LEFT, TOP, BOTTOM, RIGHT)
    for cured in range(0, most + 1, -(-most // MOST_TICKS)):
        y = _y(cured, most)
        yield Markup('<path class="rule" d="M{} {}H{}"/><text x="{}" y="{}" class="end">{}</text>').format(
            LEFT, y, RIGHT, LEFT - 6, y + 4, cured
        )
    step = round_step(right / MOST_TICKS)
    for k in range(int(right / step) + 1):
        yield Markup('<text x="{}" y="{}" class="mid">{}</text>').format(
            _x(k * step, right), BOTTOM + 16, f"{k * step:,.10g}"
        )


def round_step(least: float) -> float:
    """Return the least of 1, 2, 5, 10, 20 … that is no smaller; below 1 likewise.

    >>> round_step(1180.0), round_step(2.0), round_step(0.03)
    (2000.0, 2.0, 0.05)
    """
    power = 1.0
    while power * 10 <= least:
        power *= 10
    while power > least:
        power /= 10
    return next(round(each * power, 10) for each in (1, 2, 5, 10) if each * power >= least * (1 - 1e-9))


def _budget(budget: float, right: float) -> Markup:
    x = _x(budget, right)
    return Markup('<path class="budget" d="M{} {}V{}"/><text x="{}" y="{}">budget {}</text>').format(
        x, TOP, BOTTOM, x + 4, TOP + 8, f"{budget:,.0f}"
    )
