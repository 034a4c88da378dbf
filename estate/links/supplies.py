"""Power supplies as their links load them: rating, fused outputs, range of volts, cameras lost with one."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import NAN, Action, Effect, Finding, Severity, Verdict
from estate.links.camera import CameraFacts, camera_facts
from estate.links.link import BudgetLine, Link
from estate.survey.survey import Survey

STATES = ("day", "night")
WHEN = {"day": "by day", "night": "at night"}
TOLERANCE = 1e-9
RATING = "read its rating plate and enter watts"

Key = tuple[str, str, float]
"""Point, kind (dc, ac) and rated volts: supplies that share a key share their links."""


@dataclass(frozen=True, slots=True)
class Draw:
    """What one link takes from its supply at the supply's least volts, by state; NaN where not known."""

    link: Link
    watts: dict[str, float]
    amps: dict[str, float]

    @property
    def known(self) -> bool:
        """Whether both states are known."""
        return not np.isnan(list(self.watts.values())).any()


@dataclass(frozen=True)
class SupplyGroup:
    """The supplies of one kind and voltage at one point, and the links they feed."""

    ids: tuple[str, ...]
    rows: tuple[int, ...]
    draws: tuple[Draw, ...]
    x: float
    y: float

    @property
    def name(self) -> str:
        """Its supplies in words."""
        return f"supply {self.ids[0]}" if len(self.ids) == 1 else f"supplies {', '.join(self.ids)} together"

    @property
    def cameras(self) -> tuple[str, ...]:
        """The cameras it feeds."""
        return tuple(sorted(draw.link.camera for draw in self.draws))

    def only(self, draws: Sequence[Draw]) -> "SupplyGroup":
        """Return the group with some of its links alone."""
        return replace(self, draws=tuple(draws))

    def finding(self, severity: Severity, effect: Effect, action: Action, text: str, **more: Any) -> Finding:
        """Return a finding on these supplies that touches these links' cameras."""
        return Finding(
            severity,
            effect,
            action,
            "supply",
            self.ids[0],
            text,
            self.x,
            self.y,
            cameras=self.cameras,
            **more,
        )

    def load_w(self, state: str) -> float:
        """Sum of the loads that are known in one state [W]."""
        return float(np.nansum([draw.watts[state] for draw in self.draws]))


def supply_findings(survey: Survey, catalogue: Catalogue, links: Sequence[Link]) -> list[Finding]:
    """Return what the supplies give to do or to know, for the links that are fed from where they stand.

    A supply feeds every link whose head it stands at and whose feed is of its kind and rated volts.
    """
    found = list(_without_volts(survey))
    for group in supply_groups(survey, catalogue, links):
        if group.draws:
            found += [
                *_load(group, survey),
                *_outputs(group, survey),
                *_fuses(group, survey),
                *_range(group, survey),
                _lost(group, survey),
            ]
    return found


def supply_groups(survey: Survey, catalogue: Catalogue, links: Sequence[Link]) -> list[SupplyGroup]:
    """Return the supplies by point, kind and volts, with what each link takes from them."""
    supplies, cameras = survey.supplies, {c.id: c for c in camera_facts(survey.points)}
    rows: dict[Key, list[int]] = defaultdict(list)
    for row in range(len(supplies)):
        if not np.isnan(supplies["volts"][row]):
            key = (str(supplies["at"][row]), str(supplies["kind"][row]), float(supplies["volts"][row]))
            rows[key].append(row)
    fed: dict[Key, list[Draw]] = defaultdict(list)
    for link in links:
        if link.camera in cameras and (needs := supply_key(link, cameras[link.camera], catalogue)) in rows:
            assert needs is not None
            least_v = min(_least_volts(survey, row) for row in rows[needs])
            fed[needs].append(link_draw(link, cameras[link.camera], least_v, catalogue))
    return [
        SupplyGroup(
            tuple(str(supplies["id"][r]) for r in at), tuple(at), tuple(fed[key]), *_place(survey, key[0])
        )
        for key, at in sorted(rows.items())
    ]


def supply_key(link: Link, camera: CameraFacts, catalogue: Catalogue) -> Key | None:
    """Return where a link's feed starts and what it must be, None for a feed that needs no supply."""
    feed = catalogue.feeds.get(link.feed)
    if feed is None or feed.kind not in ("dc", "ac", "coax"):
        return None
    volts = feed.number("source_volts")
    if feed.kind == "coax" and not np.isnan(camera.volts):
        volts = camera.volts
    return link.fed_at or link.head, "ac" if feed.kind == "ac" else "dc", volts


def link_draw(link: Link, camera: CameraFacts, least_v: float, catalogue: Catalogue) -> Draw:
    """Return what a link takes from its supply: the load at its own volts, and the loss on the way."""
    items = catalogue.items
    source = next(run for run in link.runs if run.feed == link.feed)
    ends_w, head_w = (
        float(np.nansum([items[name].number("own_w") for name in names]))
        for names in (link.runs[-1].at_camera, source.at_head)
    )
    watts, amps = {}, {}
    for state, load_w in (("day", camera.load_w), ("night", camera.load_night_w)):
        volts = next((x.value for x in link.lines if x.quantity == "volts" and x.state == state), NAN)
        amps[state] = (load_w + ends_w) / volts + head_w / least_v
        watts[state] = amps[state] * least_v
    return Draw(link, watts, amps)


def _least_volts(survey: Survey, row: int) -> float:
    """Least volts of a supply: declared, else its rated volts."""
    least, rated = (float(survey.supplies[column][row]) for column in ("volts_min", "volts"))
    return rated if np.isnan(least) else least


def _place(survey: Survey, point: str) -> tuple[float, float]:
    """Return where a point stands, NaN where it isn't drawn [m]."""
    row = survey.points.row_of().get(point)
    geometry = survey.points.geometry[row] if row is not None else None
    return (NAN, NAN) if geometry is None else (float(geometry.x), float(geometry.y))


def _without_volts(survey: Survey) -> Iterator[Finding]:
    """Yield the supplies whose rated volts are not known: no link can be matched with them."""
    supplies = survey.supplies
    for row in np.flatnonzero(np.isnan(supplies["volts"].astype(float))):
        name, at = str(supplies["id"][row]), str(supplies["at"][row])
        x, y = _place(survey, at)
        yield Finding(
            Severity.WATCH, Effect.RECORDS, Action.SURVEY, "supply", name,
            f"supply {name} at {at}: its rated volts are not known, so no link is reckoned on it", x, y,
            remedy="read its rating plate and enter volts",
        )  # fmt: skip


def _load(group: SupplyGroup, survey: Survey) -> Iterator[Finding]:
    """Yield a load above the share of the rating that is allowed, or one that can't be judged."""
    percent = survey.settings.limits.supply_percent
    rating_w = sum(float(survey.supplies["watts"][row]) for row in group.rows)
    allowed_w = rating_w * percent / 100
    loads_w = {state: group.load_w(state) for state in STATES}
    state = max(STATES, key=lambda s: (loads_w[s], s == "day"))
    measured = {"measured": loads_w[state], "limit": allowed_w, "unit": "W"}
    told = f"{loads_w[state]:.1f} W {WHEN[state]} with the loss on the way"
    if np.isnan(rating_w):
        text = f"{group.name}: the rating is not known; the load is {told}"
        yield group.finding(Severity.WATCH, Effect.RECORDS, Action.SURVEY, text, remedy=RATING, **measured)
    elif loads_w[state] > allowed_w + TOLERANCE:
        effect = Effect.PICTURE if loads_w["day"] > allowed_w + TOLERANCE else Effect.NIGHT
        text = f"{group.name}: load {told}, {allowed_w:.1f} W allowed ({percent:g} % of {rating_w:g} W)"
        yield group.finding(
            Severity.FAULT, effect, Action.ENLARGE, text, source="[limits] supply_percent",
            remedy="a larger supply, a second one, or fewer cameras on it", **measured,
        )  # fmt: skip
    unknown = group.only([draw for draw in group.draws if not draw.known])
    if unknown.draws:
        text = f"{group.name}: the load of {_counted(len(unknown.draws))} is not known and counts as nothing"
        remedy = "enter load_w and load_night_w"
        yield unknown.finding(Severity.WATCH, Effect.RECORDS, Action.SURVEY, text, remedy=remedy)


def _outputs(group: SupplyGroup, survey: Survey) -> Iterator[Finding]:
    """Yield more cameras than fused outputs."""
    outputs = sum(float(survey.supplies["outputs"][row]) for row in group.rows)
    if len(group.draws) > outputs:
        yield group.finding(
            Severity.FAULT, Effect.DEGRADED, Action.ENLARGE,
            f"{group.name}: {_counted(len(group.draws))} on {outputs:g} outputs",
            measured=float(len(group.draws)), limit=outputs,
            source="one fused output for each camera: common practice, no source",
            remedy="a supply with more fused outputs, so that one fault takes one camera",
        )  # fmt: skip


def _fuses(group: SupplyGroup, survey: Survey) -> Iterator[Finding]:
    """Yield the cameras that take more than the fuse of an output; the least fuse where supplies differ."""
    fuses = [float(survey.supplies["fuse_a"][row]) for row in group.rows]
    fuse_a = float(np.nanmin(fuses)) if not np.isnan(fuses).all() else NAN
    by_day, by_night = (
        [d for d in group.draws if d.amps[state] > fuse_a + TOLERANCE] for state in ("day", "night")
    )
    over = group.only([d for d in group.draws if d in by_day or d in by_night])
    if over.draws:
        most_a = max(float(np.nanmax(list(d.amps.values()))) for d in over.draws)
        yield over.finding(
            Severity.FAULT, Effect.PICTURE if by_day else Effect.NIGHT, Action.ENLARGE,
            f"{group.name}: {_counted(len(over.draws))} at up to {most_a:.2f} A, the fuse of an output is {fuse_a:g} A",
            measured=most_a, limit=fuse_a, unit="A", source="declared, supplies.fuse_a",
            remedy="a supply with larger outputs; a larger fuse only as the cable and the maker allow",
        )  # fmt: skip


def _range(group: SupplyGroup, survey: Survey) -> Iterator[Finding]:
    """Yield an unknown range of volts, and the cameras that fail at one of its ends."""
    supplies = survey.supplies
    ends = [float(supplies[column][row]) for column in ("volts_min", "volts_max") for row in group.rows]
    if np.isnan(ends).any():
        text = f"{group.name}: its least or greatest volts are not known; the rated volts are taken instead"
        remedy = "read the data sheet, or measure at no load and at full load; enter volts_min and volts_max"
        yield group.finding(Severity.NOTE, Effect.RECORDS, Action.SURVEY, text, remedy=remedy)
    high = group.only([draw for draw in group.draws if _fails(draw.link, "volts max")])
    if high.draws:
        line = max(
            (_fails(draw.link, "volts max")[0] for draw in high.draws), key=lambda x: x.value - x.limit
        )
        text = (
            f"{group.name}: at its greatest volts {_counted(len(high.draws))} near it at up to {line.value:.2f} V, "
            f"above the {line.limit:g} V allowed"
        )
        yield high.finding(
            Severity.FAULT, Effect.PICTURE, Action.CONVERT, text, measured=line.value, limit=line.limit,
            unit="V", source=line.source, remedy="a supply of closer range, or a regulator at the camera",
        )  # fmt: skip
    low = group.only([draw for draw in group.draws if _fails(draw.link, "volts")])
    if low.draws:
        night = all(line.state == "night" for draw in low.draws for line in _fails(draw.link, "volts"))
        text = f"{group.name}: at its least volts {_counted(len(low.draws))} with less than needed"
        yield low.finding(
            Severity.FAULT, Effect.NIGHT if night else Effect.PICTURE, Action.CONVERT, text,
            remedy="a thicker conductor, a higher feed voltage, or a supply nearer to them",
        )  # fmt: skip


def _fails(link: Link, quantity: str) -> list[BudgetLine]:
    """Return a link's lines of one quantity that are outside."""
    return [line for line in link.lines if line.quantity == quantity and line.verdict is Verdict.OUTSIDE]


def _lost(group: SupplyGroup, survey: Survey) -> Finding:
    """Return which cameras are lost with the supply, and whether it outlasts the mains."""
    ups = [survey.supplies["ups"][row] for row in group.rows]
    held = "held through a mains failure" if all(ups) else "lost with the mains too"
    held = held if None not in ups else "whether it outlasts the mains is not known"
    text = f"{group.name}: {_counted(len(group.draws))} lost with it; {held}"
    return group.finding(
        Severity.NOTE, Effect.PICTURE, Action.ENLARGE, text,
        remedy="a second supply for part of the cameras where losing all of them at once matters",
    )  # fmt: skip


def _counted(cameras: int) -> str:
    return f"{cameras} camera{'s' if cameras != 1 else ''}"
