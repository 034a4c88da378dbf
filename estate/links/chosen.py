"""What was chosen as links: cables by the piece, what stands where, and what governs."""

from collections.abc import Sequence

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import NAN, Verdict
from estate.links.camera import CameraFacts
from estate.links.conditions import stream_mbps
from estate.links.found import Found, Reuse, Stretch
from estate.links.lines import governing, in_words, profile_note, verdict_of
from estate.links.link import BudgetLine, CableRun, Equipment, Link
from estate.links.schemes import LOCAL
from estate.links.search import LinkSearch, kind_of
from estate.links.site import SiteFacts
from estate.links.stop_words import between_in_words

NAN_LAST = float("inf")
NEAR_SUPPLY = "volts max"
"""A check near the supply: it passes or not, and how near is no matter of the way."""


def chosen_link(
    search: LinkSearch, found: Found, recorder: SiteFacts, more: Sequence[BudgetLine] = ()
) -> Link:
    """Return the link of a chosen candidate, with the recorder that records it; `more` are lines beside its own."""
    camera, site = search.cameras[found.camera], search.sites[found.site]
    lines = (*found.lines, *more)
    verdict = verdict_of(lines)
    governs = [line for line in governing(lines) if line.quantity != NEAR_SUPPLY]
    limiting = min(
        (line for line in governs if line.verdict is verdict),
        key=lambda line: (NAN_LAST if np.isnan(line.margin_percent) else line.margin_percent, line.quantity),
        default=None,
    )
    words = ""
    if limiting is not None:
        between = between_in_words(found, limiting, search.network.node_id)
        words = ", ".join(filter(None, (in_words(limiting), between)))
    margins = [line.margin_percent for line in governs if not np.isnan(line.margin_percent)]
    return Link(
        id=f"L-{camera.id}",
        kind="camera",
        camera=camera.id,
        head=site.id,
        recorder=recorder.id,
        method=found.scheme.name,
        feed=found.scheme.feed,
        port=kind_of(found.scheme, search, discouraged=False)[0],
        runs=cable_runs(search, found),
        nodes=found.nodes,
        segments=found.segments,
        length_m=found.way_m,
        cable_length_m=found.cable_length_m,
        equipment=equipment(search, found),
        lines=lines,
        verdict=verdict,
        limiting="; ".join(filter(None, (words, profile_note(lines)))),
        margin_percent=min(margins, default=NAN),
        basis="assumed" if camera.assumed else "calculated",
        mbps=camera_mbps(camera, search.catalogue),
        poe_w=port_w(found, search.catalogue),
        own_cost=found.own_cost,
        fed_at=_fed_at(search, found),
    )


def _fed_at(search: LinkSearch, found: Found) -> str:
    """Return where a camera's feed begins, empty where it is fed where it stands."""
    if found.scheme.feed == LOCAL:
        return ""
    if found.scheme.source == 0:
        return search.sites[found.site].id
    return str(search.network.node_id[found.stretches[found.scheme.source].nodes[0]])


def cable_runs(search: LinkSearch, found: Found) -> tuple[CableRun, ...]:
    """Return the cables of a link: those of each stretch from the head on, spare and new pieces apart."""
    runs = []
    for number, stretch in enumerate(found.stretches, 1):
        runs += [_piece(search, stretch, number, *piece) for piece in stretch.pieces]
        if stretch.variant.power_cable:
            whole = (0, len(stretch.segments))
            length_m = stretch.power_length_m
            runs.append(_run(search, stretch, number, "power", stretch.variant.power_cable, *whole, length_m))
    return tuple(runs)


def _piece(
    search: LinkSearch, stretch: Stretch, number: int, first: int, beyond: int, spare: Reuse | None
) -> CableRun:
    """Return one piece of a signal cable; new pieces share ends and mounting heights by their way."""
    cable = stretch.variant.signal_cable
    if spare is not None:
        return _run(search, stretch, number, "signal", cable, first, beyond, spare.length_m, spare.cable)
    new_m = stretch.cable_length_m - sum(each.length_m for each in stretch.reused)
    of_all_m = sum(_way_m(search, stretch, a, b) for a, b, each in stretch.pieces if each is None)
    here_m = _way_m(search, stretch, first, beyond)
    length_m = new_m * here_m / of_all_m if of_all_m else new_m
    return _run(search, stretch, number, "signal", cable, first, beyond, length_m)


def _way_m(search: LinkSearch, stretch: Stretch, first: int, beyond: int) -> float:
    segments = list(stretch.segments[first:beyond])
    return float(search.network.segment_length_m[segments].sum()) if segments else 0.0


def _run(  # noqa: PLR0913, PLR0917  the columns of a run
    search: LinkSearch,
    stretch: Stretch,
    number: int,
    role: str,
    cable: str,
    first: int,
    beyond: int,
    length_m: float,
    installed: str = "",
) -> CableRun:
    bought = 1 + search.settings.lengths.waste_percent / 100
    return CableRun(
        role=role,
        cable=cable,
        length_m=_way_m(search, stretch, first, beyond),
        cable_length_m=length_m,
        purchase_m=0.0 if installed else length_m * bought,
        method=stretch.variant.method,
        feed=stretch.variant.feed,
        nodes=stretch.nodes[first : beyond + 1],
        segments=stretch.segments[first:beyond],
        at_head=stretch.at_head,
        at_camera=stretch.at_camera,
        stretch=number,
        installed=installed,
    )


def equipment(search: LinkSearch, found: Found) -> tuple[Equipment, ...]:
    """Return what stands on a link and at its ends, with what feeds the equipment on the way."""
    network = search.network
    placed: list[Equipment] = []
    for k, stretch in enumerate(found.stretches):
        near, far = str(network.node_id[stretch.nodes[0]]), str(network.node_id[stretch.nodes[-1]])
        placed += [Equipment(item, far) for item in (*stretch.at_camera, *stretch.protectors)]
        placed += [Equipment(item, near) for item in (*stretch.at_head, *stretch.inline, *stretch.protectors)]
        if k < len(found.scheme.stops):
            stop = found.scheme.stops[k]
            placed += [Equipment(item, far, "port" if stop.by_port else "mains") for item in stop.items]
    return tuple(placed)


def no_link(camera: CameraFacts, why: str) -> Link:
    """Return the row of a camera without a link."""
    return Link(
        id=f"L-{camera.id}", kind="camera", camera=camera.id, head="", recorder="", method="", feed="", port="",
        runs=(), nodes=(), segments=(), length_m=NAN, cable_length_m=NAN, equipment=(), lines=(),
        verdict=Verdict.NONE, limiting=why,
    )  # fmt: skip


def camera_mbps(camera: CameraFacts, catalogue: Catalogue) -> float:
    """Return the camera's recorded stream [Mb/s], NaN where neither it nor its signal has a figure."""
    return float(stream_mbps(camera, catalogue))


def port_w(found: Found, catalogue: Catalogue) -> float:
    """Return the power that the head's port must allocate to a link [W], 0 without PoE."""
    return float(np.nan_to_num(catalogue.feeds[found.scheme.stages[0].feed].number("pse_w")))
