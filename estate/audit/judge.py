"""What an audit gives to do or to know."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from estate.audit.judge_lengths import every_way, inferred_findings, length_findings
from estate.audit.judge_links import link_findings
from estate.audit.judge_records import record_findings
from estate.audit.recorders import cabinet_overloads, overloads, recorder_records
from estate.catalogue.tables import Catalogue
from estate.findings import Action, Effect, Finding, Severity, Verdict
from estate.installed.link import InstalledLink
from estate.installed.links import Installed
from estate.installed.ways import LaidPiece
from estate.links.link import Link
from estate.links.search import LinkSearch
from estate.links.supplies import supply_findings
from estate.placement.cut_findings import cut_findings
from estate.placement.cuts import Cut
from estate.placement.earth_findings import DESIGNER, joining_routes, link_earths, presumed, supply_loops
from estate.placement.findings import hazardous, recorder_room
from estate.placement.mains_findings import mains_findings, near_mains_cures
from estate.placement.places import segment_users
from estate.placement.recorders import NOT_GIVEN, RecorderUse


def audit_findings(
    search: LinkSearch,
    stands: Installed,
    installed: Sequence[InstalledLink],
    laid: Sequence[LaidPiece],
    recorders: Sequence[RecorderUse],
    cuts: Sequence[Cut],
) -> list[Finding]:
    """Return every finding of an audit beside those of the drawing, neither ranked nor numbered."""
    links = [each.link for each in installed]
    made = [link for link in links if link.nodes]
    heads = sorted({use.site.node for use in recorders if use.site.node >= 0})
    everything = every_way(search, stands.rows)
    return [
        *link_findings(search, installed),
        *_earths(search, installed, made),
        *mains_findings(search, made, near_mains_cures(search, made)),
        *hazardous(search, segment_users(made)),
        *overloads(search, recorders, links),
        *cabinet_overloads(search, made),
        *recorder_records(search, recorders),
        *recorder_room(search, [use for use in recorders if use.model != NOT_GIVEN]),
        *map(_as_records, supply_findings(search.survey, search.catalogue, made)),
        *length_findings(search, everything),
        *inferred_findings(search, laid),
        *record_findings(search, stands, installed, everything),
        *cut_findings(search.network, search.prices, cuts, made, heads),
    ]


def _as_records(finding: Finding) -> Finding:
    """Return a note as one of records: what could be lost is not lost."""
    return replace(finding, effect=Effect.RECORDS) if finding.severity is Severity.NOTE else finding


# Earths


def _earths(
    search: LinkSearch, installed: Sequence[InstalledLink], links: Sequence[Link]
) -> Iterator[Finding]:
    """Yield what links do between earths; of links of which that isn't known, what they could do."""
    sure = [each for each in installed if each.found is not None and ("earths", "") in each.agreed]
    uplinks = [each for each in installed if not each.link.camera and each.link.nodes]
    yield from link_earths(search, [each.link for each in sure])
    for each in uplinks:
        yield from _uplink_earths(search, each.link)
    for each in installed:
        if each.found is not None and each not in sure:
            yield from _could_join(search, each)
    yield from presumed(search, links)
    yield from joining_routes(search, links)
    yield from supply_loops(search, [each.link for each in sure])
    yield from _unprotected(search, links, search.catalogue)


def _uplink_earths(search: LinkSearch, link: Link) -> Iterator[Finding]:
    """Yield what an uplink's copper does between the earths of its ends."""
    severity = {
        Verdict.OUTSIDE: Severity.DANGER,
        Verdict.VERIFY: Severity.FAULT,
        Verdict.MARGINAL: Severity.WATCH,
    }
    for line in link.lines:
        if line.quantity == "earths" and line.verdict in severity:
            yield Finding(
                severity[line.verdict],
                Effect.DANGER if line.verdict is Verdict.OUTSIDE else Effect.DEGRADED,
                Action.CONVERT if line.verdict is Verdict.OUTSIDE else Action.PROTECT,
                "link", link.id, f"link {link.id}: {line.text}", *_at(search, link.nodes[-1]), source=line.source,
                remedy=f"metal-free fibre; {DESIGNER}", cameras=_behind(search, link),
            )  # fmt: skip


def _behind(search: LinkSearch, uplink: Link) -> tuple[str, ...]:
    """Return the cameras of the cabinet that an uplink leads to."""
    patch = uplink.id.partition("-")[2]
    return tuple(
        sorted(camera for camera, found in search.designed.items() if search.sites[found.site].id == patch)
    )


NOT_OF_EARTHS = ("joints", "joint quality", "tees", "length_m", "load_w", "load_night_w")
"""Facts that say nothing of which earths a link joins."""


def _could_join(search: LinkSearch, each: InstalledLink) -> Iterator[Finding]:
    """Yield a link that joins earths at some of the values that its unknown facts could have."""
    worst = next(
        (
            x
            for x in (each.found.lines if each.found else ())
            if x.quantity == "earths" and x.verdict is Verdict.OUTSIDE
        ),
        None,
    )
    if worst is not None:
        telling = [f for f in each.unknowns if f.fact not in NOT_OF_EARTHS]
        names = ", ".join(f"{f.fact} of {f.subject}" for f in telling)
        yield Finding(
            Severity.FAULT, Effect.DANGER, Action.SURVEY, "link", each.link.id,
            f"link {each.link.id} could join earths, depending on {names}: {worst.text}",
            *_at(search, each.link.nodes[-1]), source=worst.source,
            remedy=f"{'; '.join(dict.fromkeys(f.test for f in telling))}; {DESIGNER}", cameras=(each.link.camera,),
        )  # fmt: skip


def _unprotected(search: LinkSearch, links: Sequence[Link], catalogue: Catalogue) -> Iterator[Finding]:
    """Yield one finding for all copper links that leave a building without surge protectors on record."""
    bare = [
        link
        for link in links
        if any(catalogue.cables[c].metallic for c in link.cables)
        and search.leaves_building(link.segments)
        and not any(catalogue.items[e.item].kind == "protector" for e in link.equipment)
    ]
    if bare:
        count = f"{len(bare)} copper link{'s leave' if len(bare) != 1 else ' leaves'}"
        cameras = {link.camera for link in bare if link.camera} | {
            c for x in bare if not x.camera for c in _behind(search, x)
        }
        yield Finding(
            Severity.WATCH, Effect.DEGRADED, Action.PROTECT, "estate", search.settings.estate.title,
            f"{count} a building, with no surge protectors on record: {', '.join(link.id for link in bare)}",
            source="common practice, no source",
            remedy=f"look for them at both ends; a surge decision is due for each, or metal-free fibre; {DESIGNER}",
            cameras=tuple(sorted(cameras)),
        )  # fmt: skip


def _at(search: LinkSearch, node: int) -> tuple[float, float]:
    return float(search.network.node_x[node]), float(search.network.node_y[node])
