"""What a design gives to do or to know."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from estate.findings import Action, Effect, Finding, Severity, Verdict
from estate.links.link import BudgetLine, Link
from estate.links.miss import Miss
from estate.links.search import LinkSearch
from estate.links.supplies import supply_findings
from estate.network.network import Network
from estate.placement.recorders import RecorderUse
from estate.survey.survey import Layer
from estate.units import MM_PER_M

OPERATOR = "ask the network's operator, then establish it on site before ordering"


def design_findings(
    search: LinkSearch,
    links: Sequence[Link],
    misses: Mapping[int, list[Miss]],
    recorders: Sequence[RecorderUse],
) -> list[Finding]:
    """Return every finding of a design beside those of the drawing, not yet numbered."""
    users = segment_users(links)
    return [
        *_unlinked(search, links, misses),
        *_near_limits(links),
        *_near_mains(search, links, users),
        *_between_earths(search, links),
        *_leaving_buildings(search, links),
        *_hazardous(search, users),
        *_digging(search),
        *_recorder_room(search, recorders),
        *supply_findings(search.survey, search.catalogue, links),
        *_installed(search),
    ]


def segment_users(links: Iterable[Link]) -> dict[int, tuple[str, ...]]:
    """Return the cameras whose links use each segment."""
    users: dict[int, set[str]] = defaultdict(set)
    for link in links:
        for segment in link.segments:
            users[segment].add(link.camera)
    return {segment: tuple(sorted(cameras)) for segment, cameras in sorted(users.items())}


def middle(network: Network, segment: int) -> tuple[float, float]:
    """Return the point half-way along a segment [m]; NaN where it isn't drawn."""
    line = network.segment_geometry[segment]
    if line is None:
        return float("nan"), float("nan")
    point = line.interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)


def _unlinked(
    search: LinkSearch, links: Sequence[Link], misses: Mapping[int, list[Miss]]
) -> Iterator[Finding]:
    """Yield one finding per camera without a link, on the segment where the nearest miss passes its limit."""
    for k, nearest in misses.items():
        camera, link = search.cameras[k], links[k]
        points = search.survey.points
        node = int(search.network.point_node[camera.row])
        if node < 0:
            continue  # the drawing's own finding says so already
        miss = nearest[0] if nearest else None
        action = miss.action if miss is not None else Action.ENLARGE
        night = miss is not None and miss.line is not None and miss.line.state == "night"
        line = miss.line if miss is not None else None
        subject_kind, subject = "point", camera.id
        if miss is not None and miss.found is not None and line is not None and miss.found.segments:
            segment = segment_at_limit(search, miss)
            subject_kind, subject = "segment", str(search.network.segment_id[segment])
        yield Finding(
            Severity.FAULT,
            Effect.NIGHT if night else Effect.PICTURE,
            action,
            subject_kind,
            subject,
            f"camera {camera.id} has no link that stands; nearest: {link.limiting}",
            x=float(search.network.node_x[node]),
            y=float(search.network.node_y[node]),
            measured=line.value if line is not None else float("nan"),
            limit=line.limit if line is not None else float("nan"),
            unit=line.unit if line is not None else "",
            source=line.source if line is not None else "",
            remedy=REMEDIES[action],
            cameras=(str(points["id"][camera.row]),),
        )


REMEDIES = {
    Action.REPEATER: "stand a repeater or a switch with power on the way, go over to fibre, or bring a recorder nearer",
    Action.CONVERT: "take another feed, a thicker conductor, or another method",
    Action.RELOCATE: "move the route clear of the mains run, or put a metal barrier between",
    Action.SURVEY: "establish the unknown fact on site",
    Action.CONNECT: "draw or build a route to it, or offer a feed or method it can take",
    Action.ENLARGE: "a recorder with more channels, or one more recorder",
}


def segment_at_limit(search: LinkSearch, miss: Miss) -> int:
    """Return the segment, from the head, on which the nearest miss passes its limit."""
    assert miss.found is not None
    assert miss.line is not None
    found, lengths = miss.found, search.settings.lengths
    if miss.line.quantity == "separation":
        return next(
            (s for s in found.segments if str(search.network.segment_id[s]) in miss.line.text.split()),
            found.segments[-1],
        )
    reach_m = search.limit_m(found.variant, search.cameras[found.camera], search.sites[found.site])
    limit_m = (max(reach_m, 0.0) - 2 * lengths.end_m) / (1 + lengths.slack_percent / 100)
    along = np.cumsum(search.network.segment_length_m[list(found.segments)])
    return found.segments[min(int(np.searchsorted(along, limit_m)), len(along) - 1)]


def _near_limits(links: Sequence[Link]) -> Iterator[Finding]:
    """Yield links that pass with less than the margin wanted, or rest on an unverified fact."""
    for link in links:
        if link.verdict is Verdict.MARGINAL:
            yield Finding(
                Severity.WATCH, Effect.DEGRADED, Action.SURVEY, "link", link.id,
                f"link {link.id} passes with little margin: {link.limiting}",
                remedy="measure the way with a wheel before ordering", cameras=(link.camera,),
            )  # fmt: skip


def _near_mains(
    search: LinkSearch, links: Sequence[Link], users: Mapping[int, tuple[str, ...]]
) -> Iterator[Finding]:
    """Yield segments too near mains, or not proven far enough, for the cables that lie or may lie there."""
    network, separation = search.network, search.separation
    classes: dict[int, set[str]] = defaultdict(set)
    for link in links:
        for segment in link.segments:
            classes[segment] |= {search.catalogue.cables[c].separation_class for c in link.cables}
    for segment, wanted in sorted(classes.items()):
        line = worst_separation(search, segment, wanted)
        if line is None or line.verdict not in (Verdict.VERIFY, Verdict.OUTSIDE):
            continue
        yield _mains_finding(search, segment, line, users[segment])
    for segment in range(network.segments):
        if segment in classes or network.segment_proposed[segment]:
            continue
        line = separation.line((segment,), "b", informs=False)
        if line is not None and line.verdict is Verdict.OUTSIDE:
            yield _mains_finding(search, segment, line, ())


def worst_separation(search: LinkSearch, segment: int, classes: Iterable[str]) -> BudgetLine | None:
    """Return the separation line of one segment for the cable that asks for most."""
    lines = [search.separation.line((segment,), c, informs=False) for c in sorted(classes)]
    return max((line for line in lines if line is not None), key=lambda line: line.limit, default=None)


def _mains_finding(search: LinkSearch, segment: int, line: BudgetLine, cameras: tuple[str, ...]) -> Finding:
    """Return the finding of one segment near mains."""
    name = str(search.network.segment_id[segment])
    x, y = middle(search.network, segment)
    outside = line.verdict is Verdict.OUTSIDE
    text = (
        f"segment {name} runs {line.value:.0f} mm from mains, {line.limit:.0f} mm required"
        if outside
        else f"segment {name} is drawn {line.value:.0f} mm from mains; the drawing can't tell whether "
        f"the {line.limit:.0f} mm required are kept"
    )
    return Finding(
        Severity.FAULT if outside and cameras else Severity.WATCH,
        Effect.DEGRADED,
        Action.RELOCATE if outside else Action.SURVEY,
        "segment",
        name,
        text,
        x=x,
        y=y,
        measured=line.value,
        limit=line.limit,
        unit="mm",
        source=line.source,
        remedy=REMEDIES[Action.RELOCATE]
        if outside
        else f"{OPERATOR}: measure the distance and enter separation_mm",
        cameras=cameras,
    )


def _between_earths(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    """Yield copper links that join two buildings with earths of their own, or with an earth not known."""
    buildings = search.survey.buildings
    if not len(buildings):
        return
    for link in links:
        if not link.nodes or not any(search.catalogue.cables[c].metallic for c in link.cables):
            continue
        head, camera = (int(search.network.node_building[n]) for n in (link.nodes[0], link.nodes[-1]))
        if head < 0 or camera < 0 or earth_zone(buildings, head) == earth_zone(buildings, camera):
            continue
        pair = f"{buildings['id'][head]} and {buildings['id'][camera]}"
        kinds = {buildings["earthing"][head], buildings["earthing"][camera]}
        paths = [c for c in link.cables if is_earth_path(search, c)]
        mixed = bool(paths) and "TT" in kinds and None not in kinds and len(kinds) > 1
        x, y = (float(v[link.nodes[-1]]) for v in (search.network.node_x, search.network.node_y))
        unknown = "; the earthing of one is not known" if None in kinds else ""
        yield Finding(
            Severity.DANGER if mixed else Severity.FAULT,
            Effect.DANGER if mixed else Effect.DEGRADED,
            Action.CONVERT if paths else Action.PROTECT,
            "link",
            link.id,
            f"copper of link {link.id} joins the earths of buildings {pair}{unknown}",
            x=x,
            y=y,
            source="BS 7671 444.4.9: metal-free fibre is preferred between buildings with separate earthing "
            "(second hand)",
            remedy="metal-free fibre, or a recorder in the camera's building; refer to an electrical designer",
            cameras=(link.camera,),
        )


def earth_zone(buildings: Layer, row: int) -> str:
    """Return the earth zone of a building: declared, else its own."""
    return str(buildings["earth_zone"][row] or buildings["id"][row])


def is_earth_path(search: LinkSearch, cable: str) -> bool:
    """Whether a cable carries an earth: coax, a screen, armour or a DC pair."""
    entry = search.catalogue.cables[cable]
    return entry.metallic and (entry.screened or entry.family != "pair")


def _leaving_buildings(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    """Yield one finding for all copper links with a stretch outdoors: a surge decision is due at both ends."""
    outdoors = search.network.segment_building < 0
    drawn = np.array([g is not None for g in search.network.segment_geometry], dtype=bool)
    cameras = sorted(
        link.camera
        for link in links
        if any(search.catalogue.cables[c].metallic for c in link.cables)
        and any(outdoors[s] and drawn[s] for s in link.segments)
    )
    if cameras:
        yield Finding(
            Severity.WATCH, Effect.DEGRADED, Action.PROTECT, "estate", search.settings.estate.title,
            f"{len(cameras)} copper links leave a building: decide on surge protection at both ends of each",
            source="common practice, no source",
            remedy="surge protection at entry and camera by an electrical designer, or metal-free fibre",
            cameras=tuple(cameras),
        )  # fmt: skip


def _hazardous(search: LinkSearch, users: Mapping[int, tuple[str, ...]]) -> Iterator[Finding]:
    """Yield a danger finding for every hazardous route."""
    network = search.network
    for route in sorted(set(network.segment_route[network.segment_environment == "hazardous"].tolist())):
        segments = np.flatnonzero(network.segment_route == route).tolist()
        x, y = middle(network, segments[0])
        cameras = sorted({c for s in segments for c in users.get(s, ())})
        yield Finding(
            Severity.DANGER, Effect.DANGER, Action.SURVEY, "route", str(search.survey.routes["id"][route]),
            "route in a hazardous area: area classification comes first, by a competent person",
            x=x, y=y, remedy="have the area classified before anything is designed or entered there",
            cameras=tuple(cameras),
        )  # fmt: skip


def _digging(search: LinkSearch) -> Iterator[Finding]:
    """Yield proposed trenches that may lie within machine-digging distance of a buried mains run."""
    exposures, network = search.separation.exposures, search.network
    mains = search.survey.mains
    hand_dig = search.catalogue.rules["outdoors"]["hand_dig_m"]
    seen = set()
    for e in range(len(exposures.segment)):
        segment, run = int(exposures.segment[e]), int(exposures.mains[e])
        dug = network.segment_proposed[segment] and network.segment_containment[segment] in ("duct", "buried")
        if not dug or run < 0 or mains["placement"][run] != "buried" or (segment, run) in seen:
            continue
        if exposures.distance_m[e] - exposures.accuracy_m[e] >= float(hand_dig.value):
            continue
        seen.add((segment, run))
        x, y = middle(network, segment)
        name = str(network.segment_id[segment])
        yield Finding(
            Severity.DANGER, Effect.DANGER, Action.RELOCATE, "segment", name,
            f"proposed trench {name} may come within {float(hand_dig.value):g} m of buried mains {mains['id'][run]}: "
            "no machine digging",
            x=x, y=y, measured=float(exposures.distance_m[e]) * MM_PER_M, limit=float(hand_dig.value) * MM_PER_M,
            unit="mm", source=f"{hand_dig.source} ({hand_dig.status.replace('_', ' ')})",
            remedy="get service plans, locate, dig trial holes by hand; or move the trench",
        )  # fmt: skip


def _recorder_room(search: LinkSearch, recorders: Sequence[RecorderUse]) -> Iterator[Finding]:
    """Yield existing recorders below the spare that is wanted."""
    wanted = search.settings.design.spare_percent
    for use in recorders:
        if not use.used:
            continue
        spare = 100 * (use.channels - use.used) / use.used
        if spare < wanted:
            node = use.site.node
            yield Finding(
                Severity.WATCH, Effect.RECORDS, Action.ENLARGE, "recorder", use.site.id,
                f"recorder {use.site.id}: {use.used} of {use.channels} channels in use, {spare:.1f} % spare "
                f"where {wanted:g} % is wanted",
                x=float(search.network.node_x[node]), y=float(search.network.node_y[node]),
                measured=spare, limit=wanted, unit="%", source="[design] spare_percent",
                remedy=REMEDIES[Action.ENLARGE],
            )  # fmt: skip


def _installed(search: LinkSearch) -> Iterator[Finding]:
    """Yield installed cables of unknown type, and cables of types that are not designed any more."""
    cables = search.survey.cables
    for row in range(len(cables)):
        name, kind = str(cables["id"][row]), cables["cable"][row]
        served = tuple(c for c in (cables["camera"][row],) if c)
        entry = search.catalogue.cables.get(kind or "")
        if entry is None:
            yield Finding(
                Severity.NOTE, Effect.RECORDS, Action.SURVEY, "cable", name,
                f"installed cable {name} is of unknown type",
                remedy="read the sheath print and measure the loop resistance", cameras=served,
            )  # fmt: skip
        elif entry.conductor == "cca" and cables["status"][row] == "in_use":
            yield Finding(
                Severity.WATCH, Effect.DEGRADED, Action.CONVERT, "cable", name,
                f"installed cable {name} has copper-clad aluminium conductors",
                source=entry.source("conductor_ohm_per_km"),
                remedy="replace it with a cable of solid copper; don't extend it", cameras=served,
            )  # fmt: skip
