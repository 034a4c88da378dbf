"""What a design rests on at switches and recorders though nobody knows it: to be established before ordering."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from estate.findings import NAN, Action, Effect, Finding, Severity
from estate.links.link import Link
from estate.links.search import LinkSearch
from estate.links.site import SiteFacts
from estate.placement.unknown_power import power_unknown


def establish_findings(search: LinkSearch, links: Sequence[Link]) -> list[Finding]:
    """Return the switches whose power is not known, and the recorders and cabinets of cameras whose stream is not."""
    return [*_switch_power(search, links), *_streams(search, links)]


def _switch_power(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    for site in search.sites[search.recorders :]:
        fed = [link for link in links if link.head == site.id and link.poe_w > 0]
        if fed and power_unknown(search, site):
            needed_w = sum(link.poe_w for link in fed)
            yield _finding(
                search, site, "points.poe_w is blank", (link.camera for link in fed), measured=needed_w, unit="W",
                text=f"cabinet {site.id}: the PoE power of its switch is not known; the design has it allocate "
                f"{needed_w:g} W to {len(fed)} cameras",
                remedy="read the rating of its switch and enter it as poe_w",
            )  # fmt: skip


def _streams(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    for site in search.sites[: search.recorders]:
        own = [link for link in links if link.kind == "camera" and link.recorder == site.id]
        without = [link.camera for link in own if np.isnan(link.mbps)]
        if without:
            known = sum(link.mbps for link in own if not np.isnan(link.mbps))
            yield _finding(
                search, site, "points.mbps is blank", without, measured=known, unit="Mb/s",
                text=f"recorder {site.id}: the streams of {len(without)} of its {len(own)} cameras are not known; the "
                f"others bring {known:g} Mb/s, limits of throughput are kept for these alone",
                remedy="enter the stream of each camera as mbps",
            )  # fmt: skip


def _finding(
    search: LinkSearch,
    site: SiteFacts,
    source: str,
    cameras: Iterable[str],
    *,
    text: str,
    remedy: str,
    measured: float,
    unit: str,
) -> Finding:
    network = search.network
    return Finding(
        Severity.WATCH, Effect.PICTURE if site.is_cabinet else Effect.RECORDS, Action.SURVEY,
        "point" if site.is_cabinet else "recorder", site.id, text,
        x=float(network.node_x[site.node]), y=float(network.node_y[site.node]), measured=measured, limit=NAN, unit=unit,
        source=source, remedy=remedy, cameras=tuple(cameras),
    )  # fmt: skip
