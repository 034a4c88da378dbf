"""What the survey says of a camera, in the terms its link is judged by."""

from dataclasses import dataclass

from estate.survey.survey import Layer


@dataclass(frozen=True, slots=True)
class CameraFacts:
    """One camera's facts; NaN, None or an empty tuple where unknown."""

    id: str
    row: int
    signal: str | None
    feeds: tuple[str, ...]
    power: str | None
    load_w: float
    load_night_w: float
    volts: float
    volts_min: float
    volts_max: float
    mbps: float
    priority: int
    height_m: float
    assumed: tuple[str, ...] = ()
    """Columns whose value comes from [assume]."""

    @property
    def has_own_power(self) -> bool:
        """Whether it can be fed where it stands."""
        return self.power in ("unswitched", "ups")

    @property
    def kind(self) -> tuple[object, ...]:
        """What decides how far any method reaches: cameras of one kind share every limit."""
        loads = tuple(None if v != v else v for v in (self.load_w, self.load_night_w))  # noqa: PLR0124
        volts = tuple(None if v != v else v for v in (self.volts, self.volts_min, self.volts_max))  # noqa: PLR0124
        return (self.signal, *loads, *volts)


FACTS = ("signal", "feeds", "power", "load_w", "load_night_w", "volts", "volts_min", "volts_max", "mbps")


def camera_facts(points: Layer) -> list[CameraFacts]:
    """Return the cameras of a points layer, in row order."""
    rows = [row for row, kind in enumerate(points["kind"]) if kind == "camera"]
    return [_facts(points, row) for row in rows]


def _facts(points: Layer, row: int) -> CameraFacts:
    def number(column: str) -> float:
        return float(points[column][row])

    height_m, priority = number("height_m"), number("priority")
    return CameraFacts(
        id=str(points["id"][row]),
        row=row,
        signal=points["signal"][row],
        feeds=tuple(points["feeds"][row]),
        power=points["power"][row],
        load_w=number("load_w"),
        load_night_w=number("load_night_w"),
        volts=number("volts"),
        volts_min=number("volts_min"),
        volts_max=number("volts_max"),
        mbps=number("mbps"),
        priority=int(priority),
        height_m=0.0 if height_m != height_m else height_m,  # noqa: PLR0124
        assumed=tuple(column for column in FACTS if points.is_assumed(column, row)),
    )
