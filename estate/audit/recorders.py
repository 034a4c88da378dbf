"""The recorders that installed links are recorded at, and what is too much for them."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from estate.findings import Action, Effect, Finding, Severity
from estate.links.link import Link
from estate.links.search import LinkSearch
from estate.placement.channels import channels_needed
from estate.placement.findings import REMEDIES
from estate.placement.recorders import NOT_GIVEN, RecorderUse

PORTS = {"analogue": "channels_analogue", "ethernet": "channels_network"}


def recorders_in_use(search: LinkSearch, links: Sequence[Link]) -> tuple[RecorderUse, ...]:
    """Return the recorders that links are recorded at, and the existing ones that none is, in the order of points."""
    uses = []
    for site in search.sites[: search.recorders]:
        own = [link for link in links if link.recorder == site.id and link.kind == "camera"]
        if not own and not site.existing:
            continue
        given = float(search.survey.points["channels"][site.row])
        needed = channels_needed(len(own), search.settings.design.spare_percent)
        uses.append(
            RecorderUse(
                site=replace(site, existing=True),
                model=NOT_GIVEN if np.isnan(given) else "existing",
                channels=needed if np.isnan(given) else int(given),
                used_analogue=sum(link.port == "analogue" for link in own),
                used_network=sum(link.port == "ethernet" for link in own),
                used_unknown=sum(link.port not in PORTS for link in own),
                mbps=float(np.nansum([link.mbps for link in own])),
                cost=0.0,
            )
        )
    return tuple(uses)


def overloads(
    search: LinkSearch, recorders: Sequence[RecorderUse], links: Sequence[Link]
) -> Iterator[Finding]:
    """Yield recorders with more cameras on record than they have channels for, of one kind or in all.

    Nobody knows which of them is too much, so each finding touches all that ask for the same.
    """
    for use in recorders:
        own = [link for link in links if link.recorder == use.site.id and link.kind == "camera"]
        by_column = {"channels": own} | {
            column: [link for link in own if link.port == port] for port, column in PORTS.items()
        }
        for column, some in by_column.items():
            limit = float(search.survey.points[column][use.site.row])
            if len(some) > limit:
                yield _finding(search, use, len(some), limit, "channels", column, some)
        limit = float(search.survey.points["mbps_max"][use.site.row])
        if use.mbps > limit:
            sending = [link for link in own if link.mbps > 0]
            yield _finding(search, use, use.mbps, limit, "Mb/s", "mbps_max", sending)


def recorder_records(search: LinkSearch, recorders: Sequence[RecorderUse]) -> Iterator[Finding]:
    """Yield recorders in use whose channels are not given, or that are entered as candidates."""
    points = search.survey.points
    for use in recorders:
        node = use.site.node
        x, y = float(search.network.node_x[node]), float(search.network.node_y[node])
        if use.used and use.model == NOT_GIVEN:
            yield Finding(
                Severity.WATCH, Effect.RECORDS, Action.SURVEY, "recorder", use.site.id,
                f"recorder {use.site.id}: its channels are not given; {use.used} in use by the records",
                x=x, y=y, measured=float(use.used), unit="channels", source="points.channels is blank",
                remedy="count its channels and enter them as channels",
            )  # fmt: skip
        if use.used and points["status"][use.site.row] == "candidate":
            yield Finding(
                Severity.NOTE, Effect.RECORDS, Action.SURVEY, "recorder", use.site.id,
                f"recorder {use.site.id} is entered as a candidate, but {use.used} installed link{' ends' if use.used == 1 else 's end'} there",
                x=x, y=y, source="points.status", remedy="enter status existing, or correct the ends of the cables",
            )  # fmt: skip


def cabinet_overloads(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    """Yield cabinets with more cameras on record than their switch has ports, or more power allocated than it has."""
    points, rows = search.survey.points, search.survey.points.row_of()
    heads = sorted({link.head for link in links if link.camera and link.head and link.head != link.recorder})
    for head in heads:
        row = rows[head]
        own = [link for link in links if link.camera and link.head == head]
        taken = {"ports": float(len(own)), "poe_w": float(sum(link.poe_w for link in own))}
        for column, unit in (("ports", "ports"), ("poe_w", "W")):
            limit = float(points[column][row])
            if taken[column] > limit:
                node = int(search.network.point_node[row])
                yield Finding(
                    Severity.FAULT, Effect.PICTURE, Action.ENLARGE, "point", head,
                    f"cabinet {head}: {taken[column]:g} {unit} in use by the records, {limit:g} there are ({column})",
                    x=float(search.network.node_x[node]), y=float(search.network.node_y[node]), measured=taken[column],
                    limit=limit, unit=unit, source=f"declared, points.{column}",
                    remedy="a switch with more ports or power, or cameras moved to another head",
                    cameras=tuple(sorted(link.camera for link in own)),
                )  # fmt: skip


def _finding(
    search: LinkSearch,
    use: RecorderUse,
    taken: float,
    limit: float,
    unit: str,
    column: str,
    links: Sequence[Link],
) -> Finding:
    node = use.site.node
    return Finding(
        Severity.FAULT, Effect.PICTURE, Action.ENLARGE, "recorder", use.site.id,
        f"recorder {use.site.id}: {taken:g} {unit} in use by the records, {limit:g} there are ({column})",
        x=float(search.network.node_x[node]), y=float(search.network.node_y[node]),
        measured=float(taken), limit=limit, unit=unit, source=f"declared, points.{column}",
        remedy=REMEDIES[Action.ENLARGE], cameras=tuple(sorted(link.camera for link in links)),
    )  # fmt: skip
