"""The assets of an installed system: in what condition each is, and when something is due."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from estate.findings import Effect, Finding, Severity, Verdict
from estate.installed.link import InstalledLink
from estate.installed.links import Installed
from estate.installed.rows import CableRow
from estate.links.search import LinkSearch
from estate.placement.places import segment_users, served_by
from estate.placement.recorders import RecorderUse


class Condition(StrEnum):
    """What an asset is like, as far as records and calculation say."""

    SOUND = "sound"
    WORN = "worn"
    FAILING = "failing"
    FAILED = "failed"
    RETIRED = "retired"
    UNKNOWN = "unknown"


class Priority(StrEnum):
    """When something is due."""

    NOW = "now"
    THIS_YEAR = "this year"
    PLANNED = "planned"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Asset:
    """One cable, recorder, cabinet or segment."""

    kind: str
    id: str
    type: str
    building: str
    year: int | None
    status: str
    condition: Condition
    priority: Priority
    findings: tuple[str, ...]
    """Ids of the findings that it is the subject of, or its link is."""
    cameras: tuple[str, ...]


def assets_of(
    search: LinkSearch,
    stands: Installed,
    installed: Sequence[InstalledLink],
    recorders: Sequence[RecorderUse],
    findings: Sequence[Finding],
) -> tuple[Asset, ...]:
    """Return every cable on record, recorder, cabinet that is a head, and segment in use that findings name."""
    told = _by_subject(findings)
    return (
        *_cables(search, stands.rows, installed, told),
        *_points(search, installed, recorders, told),
        *_segments(search, installed, told),
    )


Told = Mapping[tuple[str, str], list[Finding]]


def _by_subject(findings: Sequence[Finding]) -> Told:
    found: dict[tuple[str, str], list[Finding]] = defaultdict(list)
    for finding in findings:
        found[finding.subject_kind, finding.subject].append(finding)
    return found


def priority_of(findings: Sequence[Finding]) -> Priority:
    """Return when something is due: now for danger and lost pictures, this year for other faults, else planned."""
    faults = [f for f in findings if f.severity in (Severity.DANGER, Severity.FAULT)]
    if any(f.effect in (Effect.DANGER, Effect.PICTURE) for f in faults):
        return Priority.NOW
    if faults:
        return Priority.THIS_YEAR
    return Priority.PLANNED if any(f.severity is Severity.WATCH for f in findings) else Priority.NONE


def condition_of(verdict: Verdict, findings: Sequence[Finding]) -> Condition:
    """Return the condition of what a verdict was found of: failed where a picture is lost, or somebody in danger."""
    if verdict is Verdict.OUTSIDE:
        lost = any(
            f.effect in (Effect.DANGER, Effect.PICTURE) and f.severity is not Severity.NOTE for f in findings
        )
        return Condition.FAILED if lost else Condition.FAILING
    if verdict in (Verdict.VERIFY, Verdict.NONE):
        return Condition.UNKNOWN
    worn = verdict is Verdict.MARGINAL or any(f.effect is Effect.DEGRADED for f in findings)
    return Condition.WORN if worn else Condition.SOUND


# Cables


def _cables(
    search: LinkSearch, rows: Sequence[CableRow], installed: Sequence[InstalledLink], told: Told
) -> Iterator[Asset]:
    of_cable = {name: each for each in installed for name in each.cables}
    links = [each.link for each in installed]
    years, points = search.survey.cables["year"], search.survey.points.row_of()
    for row in rows:
        link = of_cable.get(row.id)
        own = list(told.get(("cable", row.id), []))
        if link is not None:
            own += told.get(("link", link.link.id), [])
            names = (str(search.network.segment_id[s]) for s in dict.fromkeys(link.link.segments))
            own += [
                f for name in names for f in told.get(("segment", name), []) if f.severity is Severity.FAULT
            ]
        if link is not None:
            condition = condition_of(link.link.verdict, own)
        else:
            condition = Condition.RETIRED if row.status == "dead" else Condition.UNKNOWN
        place = points.get(row.camera or row.start, -1)
        yield Asset(
            kind="cable",
            id=row.id,
            type=row.cable or "unknown",
            building=_building(search, place),
            year=None if np.isnan(years[row.row]) else int(years[row.row]),
            status=row.status or "unknown",
            condition=condition,
            priority=priority_of(own),
            findings=tuple(f.id for f in own),
            cameras=served_by(links, [link.link]) if link is not None else (),
        )


def _building(search: LinkSearch, point: int) -> str:
    if point < 0:
        return ""
    node = int(search.network.point_node[point])
    row = int(search.network.node_building[node]) if node >= 0 else -1
    return str(
        search.survey.points["building"][point] or (search.survey.buildings["id"][row] if row >= 0 else "")
    )


# Recorders, cabinets, segments


def _points(
    search: LinkSearch, installed: Sequence[InstalledLink], recorders: Sequence[RecorderUse], told: Told
) -> Iterator[Asset]:
    links = [each.link for each in installed]
    for use in recorders:
        own = told.get(("recorder", use.site.id), [])
        cameras = tuple(sorted(link.camera for link in links if link.recorder == use.site.id and link.camera))
        yield _point(search, "recorder", use.site.row, use.model, own, cameras)
    for head in sorted(
        {link.head for link in links if link.camera and link.head != link.recorder and link.head}
    ):
        own = [*told.get(("point", head), []), *told.get(("link", f"U-{head}"), [])]
        cameras = tuple(sorted(link.camera for link in links if link.head == head and link.camera))
        yield _point(search, "cabinet", search.survey.points.row_of()[head], "cabinet", own, cameras)


def _point(
    search: LinkSearch, kind: str, row: int, model: str, own: Sequence[Finding], cameras: tuple[str, ...]
) -> Asset:
    faults = any(f.severity in (Severity.DANGER, Severity.FAULT) for f in own)
    return Asset(
        kind=kind,
        id=str(search.survey.points["id"][row]),
        type=model,
        building=_building(search, row),
        year=None,
        status="in_use" if cameras else "idle",
        condition=Condition.FAILING if faults else Condition.UNKNOWN,
        priority=priority_of(own),
        findings=tuple(f.id for f in own),
        cameras=cameras,
    )


def _segments(search: LinkSearch, installed: Sequence[InstalledLink], told: Told) -> Iterator[Asset]:
    network = search.network
    for segment, cameras in segment_users([each.link for each in installed if each.link.nodes]).items():
        name, route = str(network.segment_id[segment]), int(network.segment_route[segment])
        own = list(told.get(("segment", name), []))
        if route >= 0:
            own += told.get(("route", str(search.survey.routes["id"][route])), [])
        if not own:
            continue
        faults = any(f.severity in (Severity.DANGER, Severity.FAULT) for f in own)
        building = int(network.segment_building[segment])
        yield Asset(
            kind="segment",
            id=name,
            type=str(network.segment_containment[segment] or "unknown"),
            building=str(search.survey.buildings["id"][building]) if building >= 0 else "",
            year=None,
            status="in_use",
            condition=Condition.FAILING if faults else Condition.UNKNOWN,
            priority=priority_of(own),
            findings=tuple(f.id for f in own),
            cameras=cameras,
        )
