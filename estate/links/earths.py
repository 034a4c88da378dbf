"""Between earths: what a link joins, for which reasons that matters, and whether it may be designed.

Only what the survey says is judged. The outcome refers to a competent electrical designer; no result here is a
statement that an installation is safe.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.catalogue.tables import Cable, Catalogue
from estate.findings import NAN, Verdict, worst
from estate.links.lines import ceiling
from estate.links.link import BudgetLine
from estate.network.network import Network
from estate.settings import LimitsSection
from estate.survey.survey import Survey

EXPORTED = ("TN-S", "TN-C-S")
"""Earths that come with the supply."""

INDEPENDENT = ("TT", "own steel")
"""Earths of the place itself: an electrode, or earthed steel that a camera stands on."""

LOW_VOLTAGE_FEEDS = ("dc", "ac", "coax")
"""Kinds of feed whose conductors join both ends; Ethernet power is isolated at both (IEEE 802.3, 1500 V)."""

SOURCE = (
    "BS 7671 444.4.9: metal-free fibre is preferred between buildings with separate bonding (second hand)"
)


@dataclass(frozen=True, slots=True)
class EarthPlace:
    """The earth of a point: `zone` empty where unknown, `earthing` None where unknown."""

    zone: str
    earthing: str | None
    nearest: str = ""
    """Zone of the nearest building where the point stands in none; empty where there is none."""


@dataclass(frozen=True, slots=True)
class EarthJudgement:
    """What a link does between the earths of its ends."""

    verdict: Verdict
    reasons: tuple[str, ...]
    """shock, ground loop, surge: those that apply."""
    paths: tuple[str, ...]
    """What of the link carries an earth: screen, armour, DC pair, strand, metal duct …"""
    text: str
    mixed: bool = False
    """Between an earth that comes with the supply and one of the place itself."""
    presumed: bool = False
    """Rests on the nearest building's zone: to be confirmed on site."""


End = int | EarthPlace
"""What a link ends at: a camera or recorder by its row of points, or equipment on the way by its place."""

SAME = EarthJudgement(Verdict.WITHIN, (), (), "one earth zone")
METAL_FREE = EarthJudgement(Verdict.WITHIN, (), (), "metal-free")


class Earths:
    """Earth zones of an estate, and the judgement of links between them."""

    def __init__(self, survey: Survey, network: Network, catalogue: Catalogue) -> None:
        """Settle the earth of every point and building."""
        self.survey, self.network, self.catalogue = survey, network, catalogue
        self._earthing = _zone_earthing(survey)
        self._building_zone = [_building_zone(survey, row) for row in range(len(survey.buildings))]
        self._building_row = survey.buildings.row_of()
        self._outlined = [k for k, outline in enumerate(survey.buildings.geometry) if outline is not None]
        self.places = [self._place(row) for row in range(len(survey.points))]
        self._stranded = _strand_segments(network)
        kinds = [(p, survey.points["insulated"][row]) for row, p in enumerate(self.places)]
        first = {kind: number for number, kind in reversed(list(enumerate(kinds)))}
        self._alike = [first[kind] for kind in kinds]
        self._settled: dict[tuple[object, ...], tuple[bool, tuple[str, ...]]] = {}
        self._judged: dict[tuple[object, ...], EarthJudgement] = {}

    # Places

    def _place(self, row: int) -> EarthPlace:
        """Return the earth of a point: declared, else its building's, else unknown."""
        declared = self.survey.points["earth_zone"][row]
        if declared:
            return EarthPlace(str(declared), self._earthing.get(str(declared)))
        building = self._building_of(row)
        if building >= 0:
            return EarthPlace(self._building_zone[building], self.survey.buildings["earthing"][building])
        return EarthPlace("", None, self._nearest_zone(row))

    def node_place(self, node: int) -> EarthPlace:
        """Return the earth of equipment at a node: that of the point there, else of the building, else not known."""
        here = np.flatnonzero((self.network.point_node == node) & (self.survey.points["kind"] != "camera"))
        if len(here):
            return self.places[int(here[0])]
        building = int(self.network.node_building[node])
        if building < 0:
            return EarthPlace("", None)
        return EarthPlace(self._building_zone[building], self.survey.buildings["earthing"][building])

    def zone_of(self, building: str) -> str:
        """Return the earth zone of a building."""
        return self._building_zone[self._building_row[building]]

    def _building_of(self, row: int) -> int:
        declared = self.survey.points["building"][row]
        found = self._building_row.get(declared or "", -1)
        node = int(self.network.point_node[row])
        return found if found >= 0 or node < 0 else int(self.network.node_building[node])

    def _nearest_zone(self, row: int) -> str:
        """Zone of the building whose outline is nearest, empty where nothing is drawn."""
        place = self.survey.points.geometry[row]
        if place is None or not self._outlined:
            return ""
        distance = shapely.distance(self.survey.buildings.geometry[self._outlined], place)
        return self._building_zone[self._outlined[int(np.argmin(distance))]]

    def node_zones(self, nodes: Sequence[int]) -> dict[str, str | None]:
        """Return the zones of the buildings that nodes stand in, with their earthing."""
        rows = {int(self.network.node_building[n]) for n in nodes}
        return {
            self._building_zone[row]: self._earthing.get(self._building_zone[row]) for row in rows if row >= 0
        }

    # Judgement

    def judge(
        self,
        cables: Sequence[str],
        feed: str,
        end: End,
        head: End,
        segments: Sequence[int] = (),
        *,
        isolated: bool = False,
    ) -> EarthJudgement:
        """Judge copper between a head and a camera, or equipment, by every earth the camera could have.

        `isolated` where an isolator opens the screen. Metal containment along `segments` counts as a path too.
        """
        metallic = any(self.catalogue.cables[c].metallic for c in cables)
        found = [between(zones, [kind]) for kind, zones in self._containment(segments)]
        if metallic:
            alike = (tuple(cables), feed, self.alike(end), self.alike(head), isolated)
            if alike not in self._judged:
                self._judged[alike] = self._copper(cables, feed, end, head, isolated=isolated)
            found.append(self._judged[alike])
        return _worst_of(found) if found else METAL_FREE

    def alike(self, end: End) -> object:
        """Return the same for all ends that are judged alike."""
        return end if isinstance(end, EarthPlace) else self._alike[end]

    def _place_of(self, end: End) -> EarthPlace:
        return end if isinstance(end, EarthPlace) else self.places[end]

    def _copper(
        self, cables: Sequence[str], feed: str, end: End, head_end: End, *, isolated: bool
    ) -> EarthJudgement:
        """Judge the copper of a link by the earths of its two ends."""
        paths = list(cable_paths([self.catalogue.cables[c] for c in cables], self._feed_kind(feed)))
        if isolated:
            paths = [p for p in paths if p not in ("screen", "coax screen")]
        head = self._place_of(head_end)
        readings, presumed = self._readings(end, head, feed)
        found = [_pair(head, camera, paths, isolated=isolated) for camera in readings]
        verdicts = {each.verdict for each in found}
        result = _worst_of(found)
        passing = verdicts <= {Verdict.WITHIN, Verdict.MARGINAL}
        if len(verdicts) > 1 and not passing:  # an unknown fact decides between them
            return replace(
                result,
                verdict=Verdict.VERIFY,
                text=f"whether the camera is insulated from earthed steel is not known; if not: {result.text}",
            )
        if presumed:
            text = "earths outdoors taken as those of the nearest building: to be confirmed on site"
            return replace(result, text=text, presumed=True)
        return result

    def _feed_kind(self, feed: str) -> str:
        entry = self.catalogue.feeds.get(feed)
        return entry.kind if entry is not None else ""

    def _readings(self, end: End, head: EarthPlace, feed: str) -> tuple[list[EarthPlace], bool]:
        """Return every earth that an end could have, and whether it rests on the nearest building's.

        Fed from the mains where it stands: that supply's. A camera fed over its link: insulated, the head's; on
        earthed steel its building's or its own; not known, both. Equipment on the way is fed from mains.
        """
        place = self._place_of(end)
        steel = place if place.zone else EarthPlace("the camera's own steel", "own steel")
        taken = not (place.zone and head.zone)
        near = taken and (place.zone or place.nearest) == (head.zone or head.nearest)
        if isinstance(end, EarthPlace) or feed == "local":
            # Outdoors the supply may come from anywhere; with no building at all there is nothing to tell it by.
            presumable = bool(place.zone) or not len(self.survey.buildings)
            return ([head], True) if near and presumable else ([place], False)
        insulated = self.survey.points["insulated"][end]
        if insulated:
            return [head], False
        if insulated is False:
            return [steel], False
        return ([head], True) if near else ([head, steel], False)

    # Containment

    def _containment(self, segments: Sequence[int]) -> list[tuple[str, dict[str, str | None]]]:
        """Return metal containment along a way that joins buildings: its kind and the zones it touches."""
        found = []
        for kind, run in _runs(self._stranded, segments):
            nodes = [int(n) for s in run for n in (self.network.segment_from[s], self.network.segment_to[s])]
            zones = self.node_zones(nodes)
            if len(zones) > 1:
                found.append((kind, zones))
        return found

    def joining_routes(self) -> list[tuple[int, str, dict[str, str | None]]]:
        """Return the routes whose metal containment joins buildings of different zones: row, kind, zones."""
        network = self.network
        found = []
        metal = network.segment_route[sorted(self._stranded)]
        for route in sorted(set(metal[metal >= 0].tolist())):
            segments = np.flatnonzero(network.segment_route == route).tolist()
            found += [(route, kind, zones) for kind, zones in self._containment(segments)]
        return found

    # For the search

    def barred(self) -> NDArray[np.bool_]:
        """Return the segments of metal containment that joins earths which must not be joined, or are not known."""
        marks = np.zeros(self.network.segments, dtype=bool)
        for route, kind, zones in self.joining_routes():
            if between(zones, [kind]).verdict in (Verdict.OUTSIDE, Verdict.VERIFY):
                segments = np.flatnonzero(self.network.segment_route == route).tolist()
                marks[[s for s in segments if s in self._stranded]] = True
        return marks

    def settled(
        self, cables: Sequence[str], feed: str, end: End, head: End, signal: str
    ) -> tuple[bool, tuple[str, ...]]:
        """Return whether the earths of two ends let a link be designed, and with which isolator.

        An isolator is due where one coax screen joins two known earths; once for all ends that are alike.
        """
        alike = (tuple(cables), feed, self.alike(end), self.alike(head), signal)
        if alike not in self._settled:
            found = self.judge(cables, feed, end, head)
            inline: tuple[str, ...] = ()
            known = found.verdict in (Verdict.OUTSIDE, Verdict.MARGINAL)
            if known and found.paths == ("coax screen",):
                inline = tuple(fitting("isolator", signal, "coax", feed, self.catalogue)[:1])
            if inline:
                found = self.judge(cables, feed, end, head, isolated=True)
            self._settled[alike] = found.verdict in (Verdict.WITHIN, Verdict.MARGINAL), inline
        return self._settled[alike]

    def line(
        self,
        cables: Sequence[str],
        feed: str,
        end: End,
        head: End,
        segments: Sequence[int] = (),
        *,
        isolated: bool = False,
    ) -> BudgetLine | None:
        """Return the budget line of a link, None where it has no metal and joins nothing."""
        found = self.judge(cables, feed, end, head, segments, isolated=isolated)
        if found is METAL_FREE:
            return None
        return BudgetLine(
            "earths", "", NAN, NAN, "", NAN, found.verdict, "assumed" if found.presumed else "declared", SOURCE,
            text=found.text,
        )  # fmt: skip


def _building_zone(survey: Survey, row: int) -> str:
    return str(survey.buildings["earth_zone"][row] or survey.buildings["id"][row])


def _zone_earthing(survey: Survey) -> dict[str, str | None]:
    """Earthing by zone; None where unknown or where buildings of one zone disagree."""
    found: dict[str, set[str | None]] = {}
    for row in range(len(survey.buildings)):
        found.setdefault(_building_zone(survey, row), set()).add(survey.buildings["earthing"][row])
    return {zone: next(iter(kinds)) if len(kinds) == 1 else None for zone, kinds in found.items()}


def _strand_segments(network: Network) -> dict[int, str]:
    """Outdoor segments whose containment is metal from end to end: what it is."""
    found = {}
    for segment in np.flatnonzero(network.segment_building < 0).tolist():
        if network.segment_containment[segment] == "catenary":
            found[segment] = "steel strand"
        elif network.segment_barrier[segment] in ("open", "perforated", "solid"):
            found[segment] = "metal containment"
    return found


def _runs(metal: dict[int, str], segments: Sequence[int]) -> list[tuple[str, list[int]]]:
    """Unbroken runs of metal containment along a way, with what they are."""
    runs: list[tuple[str, list[int]]] = []
    broken = True
    for segment in segments:
        if segment not in metal:
            broken = True
            continue
        if broken:
            runs.append((metal[segment], []))
        runs[-1][1].append(segment)
        broken = False
    return runs


def cable_paths(cables: Sequence[Cable], feed_kind: str) -> tuple[str, ...]:
    """Return what of a link's cables joins the earths of its ends; empty for unscreened data pair and glass."""
    found = []
    for cable in cables:
        if not cable.metallic:
            continue
        if cable.family == "fibre":
            found.append("armour")
        elif cable.family == "coax":
            found.append("coax screen")
        elif cable.screened:
            found.append("screen")
    if feed_kind in LOW_VOLTAGE_FEEDS and any(c.metallic and c.family != "fibre" for c in cables):
        found.append(f"{feed_kind.upper()} pair" if feed_kind != "coax" else "fed coax")
    return tuple(found)


def fitting(kind: str, signal: str, family: str, feed: str, catalogue: Catalogue) -> list[str]:
    """Return the items of a kind that carry a signal on a cable family and pass its feed, in the catalogue's order."""
    return [
        item.id
        for item in catalogue.items.values()
        if item.kind == kind
        and (not item.signals or signal in item.signals)
        and (not item.families or family in item.families)
        and feed in item.passes
    ]


def _pair(
    head: EarthPlace, camera: EarthPlace, paths: Sequence[str], *, isolated: bool = False
) -> EarthJudgement:
    """Judge copper between two places."""
    if head is camera or (head.zone and head.zone == camera.zone):
        return SAME
    if not head.zone or not camera.zone:
        text = f"{joined(paths)} between earths of which one is not known"
        return EarthJudgement(Verdict.VERIFY, _reasons(paths), tuple(paths), text)
    return between({head.zone: head.earthing, camera.zone: camera.earthing}, paths, isolated=isolated)


def between(zones: dict[str, str | None], paths: Sequence[str], *, isolated: bool = False) -> EarthJudgement:
    """Judge what joins different zones, given with their earthing."""
    told = " and ".join(
        f"{zone} ({earthing or 'earthing not known'})" for zone, earthing in sorted(zones.items())
    )
    kinds = set(zones.values())
    if None in kinds or "IT" in kinds:
        text = f"{joined(paths)} between {told}: to be established by the electrical designer"
        return EarthJudgement(Verdict.VERIFY, _reasons(paths), tuple(paths), text)
    mixed = bool(kinds & set(EXPORTED)) and bool(kinds & set(INDEPENDENT))
    if paths and mixed:
        text = f"shock and ground loop: {joined(paths)} joins {told}"
        return EarthJudgement(Verdict.OUTSIDE, ("shock", "ground loop", "surge"), tuple(paths), text, mixed)
    if paths:
        text = f"ground loop and surge: {joined(paths)} joins {told}"
        return EarthJudgement(Verdict.MARGINAL, ("ground loop", "surge"), tuple(paths), text)
    what = "isolated copper" if isolated else "unscreened pair"
    text = f"surge: {what} between {told}; protect both ends"
    return EarthJudgement(Verdict.MARGINAL, ("surge",), (), text, mixed)


def _reasons(paths: Sequence[str]) -> tuple[str, ...]:
    return ("shock", "ground loop", "surge") if paths else ("surge",)


def joined(paths: Sequence[str]) -> str:
    """Name earth paths in words."""
    return " and ".join(paths) if paths else "copper"


def _worst_of(found: Sequence[EarthJudgement]) -> EarthJudgement:
    verdict = worst(each.verdict for each in found)
    return next(each for each in found if each.verdict is verdict)


def with_items(
    lines: Sequence[BudgetLine], items: Sequence[str], catalogue: Catalogue, limits: LimitsSection
) -> list[BudgetLine]:
    """Return the lines of a link with what in-line items cost: decibels of loss, metres of trade reach."""
    loss_db, reach_m = (
        sum(float(np.nan_to_num(catalogue.items[i].number(name))) for i in items)
        for name in ("loss_db", "reach_m")
    )
    more = {"loss": loss_db, "reach": reach_m, "fixed part": reach_m, "channel": reach_m}
    return [_raised(line, more.get(line.quantity, 0.0), limits) for line in lines]


def _raised(line: BudgetLine, by: float, limits: LimitsSection) -> BudgetLine:
    """Return a line whose value is greater by so much, judged again where it has a limit."""
    if not by:
        return line
    value = line.value + by
    if np.isnan(line.limit) or line.verdict is Verdict.VERIFY:
        return replace(line, value=value)
    wanted = limits.margin_percent["loss" if line.unit == "dB" else "length"]
    fresh = ceiling(line.quantity, value, line.limit, line.unit, wanted, source=line.source)
    return replace(line, value=value, margin_percent=fresh.margin_percent, verdict=fresh.verdict)
