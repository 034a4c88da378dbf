"""What a design gives to do or to know."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from estate.findings import Action, Effect, Finding, Severity, Verdict
from estate.links.cures import Cure
from estate.links.link import Link
from estate.links.miss import Miss
from estate.links.search import LinkSearch
from estate.links.supplies import supply_findings
from estate.placement.earth_findings import earth_findings
from estate.placement.establish_findings import establish_findings
from estate.placement.left_out import LeftOut
from estate.placement.mains_findings import MOVE, mains_findings
from estate.placement.places import middle, segment_users, served_by
from estate.placement.recorders import NOT_GIVEN, RecorderUse


def design_findings(
    search: LinkSearch,
    links: Sequence[Link],
    out: Mapping[int, LeftOut],
    recorders: Sequence[RecorderUse],
    cures: Sequence[Cure] = (),
) -> list[Finding]:
    """Return every finding of a design beside those of the drawing, not yet numbered."""
    users = segment_users(links)
    return [
        *_unlinked(search, links, out),
        *_near_limits(links),
        *_beyond_limits(links),
        *establish_findings(search, links),
        *mains_findings(search, links, cures),
        *earth_findings(search, links),
        *hazardous(search, users),
        *recorder_room(search, recorders),
        *supply_findings(search.survey, search.catalogue, links),
        *_installed(search),
        *_spares(search),
    ]


def _unlinked(search: LinkSearch, links: Sequence[Link], out: Mapping[int, LeftOut]) -> Iterator[Finding]:
    """Yield one finding per camera without a link, on the segment where the nearest miss passes its limit."""
    for k, each in out.items():
        camera, link, nearest = search.cameras[k], links[k], each.misses
        points = search.survey.points
        node = int(search.network.point_node[camera.row])
        if node < 0:
            continue  # the drawing's own finding says so already
        miss = nearest[0] if nearest else None
        night = miss is not None and miss.line is not None and miss.line.state == "night"
        line = miss.line if miss is not None else None
        subject_kind, subject = ("segment", each.segment) if each.segment else ("point", camera.id)
        why = (
            f"has no link that stands; nearest: {link.limiting}"
            if nearest
            else f"has no link: {link.limiting}"
        )
        earths = line is not None and line.quantity == "earths"  # a matter of both ends, of no segment
        if (
            miss is not None
            and miss.found is not None
            and line is not None
            and miss.found.segments
            and not earths
        ):
            segment = segment_at_limit(search, miss)
            subject_kind, subject = "segment", str(search.network.segment_id[segment])
        yield Finding(
            Severity.FAULT,
            Effect.NIGHT if night else Effect.PICTURE,
            each.action,
            subject_kind,
            subject,
            f"camera {camera.id} {why}",
            x=float(search.network.node_x[node]),
            y=float(search.network.node_y[node]),
            measured=line.value if line is not None else float("nan"),
            limit=line.limit if line is not None else float("nan"),
            unit=line.unit if line is not None else "",
            source=line.source if line is not None else "",
            remedy=each.remedy or REMEDIES[each.action],
            cameras=(str(points["id"][camera.row]),),
        )


REMEDIES = {
    Action.REPEATER: "stand a repeater or a switch with power on the way, go over to fibre, or bring a recorder nearer",
    Action.CONVERT: "take another feed, a thicker conductor, or another method",
    Action.RELOCATE: MOVE,
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
    stretch = found.stretches[miss.line.stretch - 1] if miss.line.stretch else found.stretches[-1]
    if not stretch.segments:
        return found.segments[-1]
    reach_m = search.limit_m(stretch.variant, search.cameras[found.camera], search.sites[found.site])
    if len(found.stretches) > 1:
        reach_m = miss.line.limit if miss.line.unit == "m" else stretch.cable_length_m
    limit_m = (max(reach_m, 0.0) - 2 * lengths.end_m) / (1 + lengths.slack_percent / 100)
    along = np.cumsum(search.network.segment_length_m[list(stretch.segments)])
    return stretch.segments[min(int(np.searchsorted(along, limit_m)), len(along) - 1)]


def _near_limits(links: Sequence[Link]) -> Iterator[Finding]:
    """Yield links that pass with less than the margin wanted, or rest on an unverified fact."""
    for link in links:
        little = [
            line for line in link.lines if line.verdict is Verdict.MARGINAL and line.quantity != "earths"
        ]
        if link.verdict is Verdict.MARGINAL and little:
            yield Finding(
                Severity.WATCH, Effect.DEGRADED, Action.SURVEY, "link", link.id,
                f"link {link.id} passes with little margin: {link.limiting}",
                remedy="measure the way with a wheel before ordering", cameras=served_by(links, [link]),
            )  # fmt: skip


def _beyond_limits(links: Sequence[Link]) -> Iterator[Finding]:
    """Yield uplinks that pass a limit."""
    for link in links:
        if link.kind != "camera" and link.verdict is Verdict.OUTSIDE:
            yield Finding(
                Severity.FAULT, Effect.PICTURE, Action.RELOCATE, "link", link.id,
                f"uplink {link.id} is beyond its limits: {link.limiting}",
                remedy="another way for its fibre, a fibre that goes farther, or a cabinet nearer a recorder",
                cameras=served_by(links, [link]),
            )  # fmt: skip


def hazardous(search: LinkSearch, users: Mapping[int, tuple[str, ...]]) -> Iterator[Finding]:
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


def recorder_room(search: LinkSearch, recorders: Sequence[RecorderUse]) -> Iterator[Finding]:
    """Yield existing recorders below the spare that is wanted."""
    wanted = search.settings.design.spare_percent
    for use in recorders:
        if not use.used:
            continue
        if use.model == NOT_GIVEN:
            yield _channels_to_establish(search, use)
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


def _spares(search: LinkSearch) -> Iterator[Finding]:
    """Yield spare cables that no link can take, and those that links take on what is not established."""
    used = {
        name: camera
        for camera, found in search.designed.items()
        for name in (() if found.kept else found.spares)
    }
    in_use = {spare.id for spare in search.reusable}
    for unusable in search.unusable_spares:
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "cable", unusable.id,
            f"spare cable {unusable.id} can't be designed with: {unusable.why}", remedy=unusable.settles,
        )  # fmt: skip
    for spare in search.spares:
        if spare.id in used:
            inferred = (
                "; its way is taken as the shortest, its routes are not given" if spare.inferred else ""
            )
            yield Finding(
                Severity.NOTE, Effect.RECORDS, Action.SURVEY, "cable", spare.id,
                f"{'installed' if spare.id in in_use else 'spare'} cable {spare.id} is taken for {used[spare.id]}{inferred}",
                remedy="before ordering: trace it with a tone, read its sheath print, measure its loop resistance "
                "and its length with a reflectometer",
                cameras=(used[spare.id],),
            )  # fmt: skip


def _channels_to_establish(search: LinkSearch, use: RecorderUse) -> Finding:
    """Return the finding of an existing recorder whose channels are not given."""
    node = use.site.node
    return Finding(
        Severity.WATCH, Effect.RECORDS, Action.SURVEY, "recorder", use.site.id,
        f"recorder {use.site.id}: its channels are not given; the design puts {use.used} cameras on it, which needs "
        f"{use.channels} channels with the spare wanted",
        x=float(search.network.node_x[node]), y=float(search.network.node_y[node]),
        measured=float("nan"), limit=float(use.channels), unit="channels", source="points.channels is blank",
        remedy="count its channels and enter them as channels",
    )  # fmt: skip
