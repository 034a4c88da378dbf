"""The tests that installed links are to pass, with the value each must reach, calculated link by link."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from estate.catalogue.tables import Cable, Catalogue, Figure
from estate.findings import NAN
from estate.formulas.attenuation import volts_after_loss
from estate.formulas.conductor import ALUMINIUM_PER_K, COPPER_PER_K
from estate.formulas.dc_feed import coax_loop_ohm, loop_resistance_ohm
from estate.formulas.fibre import fibre_loss_db
from estate.links.camera import CameraFacts
from estate.links.lines import governing
from estate.links.link import BudgetLine, CableRun, Link

AT_MOST, AT_LEAST = "at most", "at least"
BOTH_ENDS = "both ends"
COMPOSITE = "composite"
WAVELENGTHS_NM = (850, 1300, 1310, 1550)
NAMES = {
    "labels": "Labels checked against the schedule, at both ends",
    "fixed part": "Fixed part tested to the limits of the cable's category",
    "loop": "Loop resistance of a cable measured",
    "volts": "Volts at the camera measured, infra-red on",
    "volts max": "Greatest volts at the camera measured, least load",
    "video": "Video level at the recorder measured, sync to white",
    "video detail": "Level at the reference frequency measured with a video test signal",
    "screen": "Voltage between the screens of both ends measured",
    "fibre loss": "Loss of every fibre of a cable measured, one wavelength, one direction",
    "trace": "Reflectometry of a fibre cable from both ends",
    "channel loss": "Loss of a whole fibre channel measured",
}
"""What each kind of test is called in a bill."""


@dataclass(frozen=True, slots=True)
class Acceptance:
    """One test to be made: what is calculated, and what passes. `limit` NaN: no pass value, `text` says why."""

    link: str
    run: int
    """Place of the cable among the link's, -1 for the whole link."""
    kind: str
    """One of NAMES."""
    at: str
    """Where it is measured, or from where to where."""
    state: str = ""
    expected: float = NAN
    relation: str = ""
    limit: float = NAN
    unit: str = ""
    source: str = ""
    text: str = ""
    record: str = ""
    """Column of the layer `cables` that holds the measured value."""


def acceptance_tests(
    links: Sequence[Link], cameras: Mapping[str, CameraFacts], catalogue: Catalogue
) -> list[Acceptance]:
    """Return the tests of every link, cable by cable, then of the link as a whole; a shared trunk is tested once."""
    found: list[Acceptance] = []
    for link in links:
        for number, run in enumerate(link.runs):
            if not run.shared:
                found += _cable_tests(link, number, run, catalogue)
        found += _link_tests(link, cameras.get(link.camera), catalogue)
    return found


def _cable_tests(link: Link, number: int, run: CableRun, catalogue: Catalogue) -> Iterator[Acceptance]:
    cable = catalogue.cables[run.cable]
    yield Acceptance(
        link.id, number, "labels", BOTH_ENDS, text="the number of this schedule at both ends, durable",
        source="common practice, no source",
    )  # fmt: skip
    if cable.family == "fibre":
        yield from _fibre_tests(link, number, run, cable, catalogue)
        return
    yield _loop_test(link, number, run, cable, catalogue)
    yield from _fixed_part(link, number, run)
    if cable.screened:
        figure = catalogue.rules["earths"]["screen_mv"]
        yield Acceptance(
            link.id, number, "screen", "head, screen off", "", NAN, AT_MOST, float(figure.value), "mV", _told(figure),
            "between the cable's screen and the head's earth, screen fixed at the far end only; treat it as live until "
            "proved dead", "screen_mv",
        )  # fmt: skip


def _loop_test(link: Link, number: int, run: CableRun, cable: Cable, catalogue: Catalogue) -> Acceptance:
    """Return the loop of one pair, of a power cable, or of centre and screen, at 20 °C."""
    centre = cable.number("conductor_ohm_per_km")
    if cable.family == "coax":
        expected = float(coax_loop_ohm(centre, cable.number("screen_ohm_per_km"), run.cable_length_m))
        what = "centre and screen joined at the far end"
    else:
        expected = float(loop_resistance_ohm(centre, run.cable_length_m, 1, 1))
        what = "conductors joined at the far end" + (
            ", each pair by itself" if cable.family == "pair" else ""
        )
    tolerance = catalogue.rules["acceptance"]["loop_tolerance_percent"]
    if np.isnan(expected):
        text = f"no resistance of {cable.id} is known: the maker's figure for the length in the schedule"
        return Acceptance(
            link.id, number, "loop", BOTH_ENDS, unit="Ω", relation=AT_MOST, text=text, record="loop_ohm"
        )
    alpha = ALUMINIUM_PER_K if cable.conductor == "cca" else COPPER_PER_K
    text = f"{what}; reading brought to 20 °C: R / (1 + {alpha:g}·(T - 20))"
    source = f"{cable.source('conductor_ohm_per_km')}; {tolerance.value:g} % on top: {_told(tolerance)}"
    limit = expected * (1 + float(tolerance.value) / 100)
    return Acceptance(
        link.id, number, "loop", BOTH_ENDS, "", expected, AT_MOST, limit, "Ω", source, text, "loop_ohm"
    )


def _fixed_part(link: Link, number: int, run: CableRun) -> Iterator[Acceptance]:
    """Yield the test of a copper Ethernet cable, whose length the budget lines hold against the fixed part."""
    if run.role != "signal":
        return
    for line in _lines(link, "fixed part", run.stretch):
        text = "every limit of the cable's category, with a tester of at least its accuracy level"
        yield Acceptance(
            link.id, number, "fixed part", BOTH_ENDS, "", run.cable_length_m, AT_MOST, line.limit, "m", line.source,
            "; ".join(filter(None, (text, line.text))),
        )  # fmt: skip


def _fibre_tests(
    link: Link, number: int, run: CableRun, cable: Cable, catalogue: Catalogue
) -> Iterator[Acceptance]:
    """Yield the loss of each fibre by wavelength and direction, connectors at both ends, and the trace."""
    rules = catalogue.rules["fibre"]
    connectors, connector_db = float(rules["connectors"].value), float(rules["connector_db"].value)
    for wavelength_nm in WAVELENGTHS_NM:
        per_km = cable.number(f"loss_{wavelength_nm}_db_per_km")
        if np.isnan(per_km):
            continue
        limit = float(fibre_loss_db(run.cable_length_m, per_km, connectors, 0, connector_db))
        source = (
            f"{cable.source(f'loss_{wavelength_nm}_db_per_km')}; connector {_told(rules['connector_db'])}"
        )
        for direction in ("from the head's end", "from the far end"):
            yield Acceptance(
                link.id, number, "fibre loss", direction, f"{wavelength_nm} nm", limit, AT_MOST, limit, "dB", source,
                f"every fibre; {run.cable_length_m:.1f} m at {per_km:g} dB/km and {connectors:g} connectors",
            )  # fmt: skip
    yield Acceptance(
        link.id, number, "trace", "from both ends", source="common practice, no source",
        text="kept with the records; no event but those of the schedule",
    )  # fmt: skip


def _link_tests(link: Link, camera: CameraFacts | None, catalogue: Catalogue) -> Iterator[Acceptance]:
    for line in _lines(link, "fibre loss"):
        yield Acceptance(
            link.id, -1, "channel loss", _stretch_words(line), "", line.value, AT_MOST, line.limit, "dB", line.source,
            "both directions, cords and equipment's connectors included",
        )  # fmt: skip
    yield from _volts_tests(link)
    if camera is not None and link.port == "analogue":
        yield from _video_tests(link, camera, catalogue)


def _volts_tests(link: Link) -> Iterator[Acceptance]:
    """Yield what the feed must give at the camera: at night under full load, and the most it may see."""
    for line in _lines(link, "volts"):
        if line.state != "night":
            continue
        text = "infra-red and heater on, at the camera's terminals; with power by Ethernet at its plug, by tester"
        missing = "" if not np.isnan(line.value) else f"; not calculated: {line.text}"
        yield Acceptance(
            link.id, -1, "volts", "camera", "night", line.value, AT_LEAST, line.limit, "V", line.source,
            text + missing, "volts_night",
        )  # fmt: skip
    for line in _lines(link, "volts max"):
        text = "infra-red and heater off, supply at its highest"
        yield Acceptance(
            link.id, -1, "volts max", "camera", "day", line.value, AT_MOST, line.limit, "V", line.source, text,
            "volts_day",
        )  # fmt: skip


def _video_tests(link: Link, camera: CameraFacts, catalogue: Catalogue) -> Iterator[Acceptance]:
    """Yield the level at the recorder, sync to white, and that of fine detail; formats other than composite have none."""
    if camera.signal != COMPOSITE:
        text = f"no level is published for {camera.signal}: the maker's figure"
        yield Acceptance(
            link.id, -1, "video", "recorder", relation=AT_LEAST, unit="V", text=text, record="video_vpp"
        )
        return
    sent, least = catalogue.rules["measured"]["video_vpp"], catalogue.rules["measured"]["video_vpp_min"]
    yield Acceptance(
        link.id, -1, "video", "recorder", "", float(sent.value), AT_LEAST, float(least.value), "V", _told(least),
        f"peak to peak into 75 Ω, sync to white; {_told(sent)}", "video_vpp",
    )  # fmt: skip
    yield _detail_test(link, float(sent.value), catalogue)


def _detail_test(link: Link, sent_v: float, catalogue: Catalogue) -> Acceptance:
    """Return the level at the reference frequency: what is sent, less the loss since the camera or the last repeater.

    What an active receiver gives is set on site.
    """
    active = any(not np.isnan(catalogue.items[i].number("own_w")) for i in link.runs[0].at_head)
    loss_db = 0.0 if active else _loss_since_restored_db(link, catalogue)
    if np.isnan(loss_db):
        text = "not calculated, as the loss on the way is not known: to be agreed"
        return Acceptance(link.id, -1, "video detail", "recorder", relation=AT_LEAST, unit="V", text=text)
    tolerance = catalogue.rules["acceptance"]["video_tolerance_percent"]
    expected = float(volts_after_loss(sent_v, loss_db))
    limit = expected * (1 - float(tolerance.value) / 100)
    way = "the receiver is set to it" if active else f"{loss_db:.2f} dB on the way"
    frequency_mhz = catalogue.signals[COMPOSITE].number("reference_mhz")
    return Acceptance(
        link.id, -1, "video detail", "recorder", "", expected, AT_LEAST, limit, "V",
        f"loss as in budget.csv; {tolerance.value:g} % less: {_told(tolerance)}",
        f"peak to peak into 75 Ω, test signal of {sent_v:g} V at {frequency_mhz:g} MHz sent at the camera's end: {way}",
    )  # fmt: skip


def _loss_since_restored_db(link: Link, catalogue: Catalogue) -> float:
    """Return the loss that the recorder sees [dB]: of all stretches, of the first where a repeater restores all.

    NaN where a loss is not known, or equipment on the way restores a part only or makes another signal of it.
    """
    losses = _lines(link, "loss", informing=True)
    stretches = max(run.stretch for run in link.runs)
    media = {catalogue.cables[run.cable].family for run in link.runs if run.role == "signal"}
    if "fibre" in media or len(losses) != stretches:
        return NAN
    restored = [catalogue.items[each.item].number("restores") for each in link.equipment]
    shares = {share for share in restored if not np.isnan(share)}
    if shares - {1.0}:
        return NAN
    if shares:
        return next((line.value for line in losses if line.stretch == 1), NAN)
    return sum(line.value for line in losses)


def _lines(link: Link, quantity: str, stretch: int = 0, *, informing: bool = False) -> list[BudgetLine]:
    """Return a link's lines of a quantity, of one stretch where that is given and the lines are told by stretch."""
    lines = link.lines if informing else governing(link.lines)
    return [x for x in lines if x.quantity == quantity and (not stretch or x.stretch in (0, stretch))]


def _stretch_words(line: BudgetLine) -> str:
    return f"stretch {line.stretch}" if line.stretch else "end to end"


def _told(figure: Figure) -> str:
    if figure.status == "common_practice" and "common practice" in figure.source:
        return figure.source
    return f"{figure.source} ({figure.status.replace('_', ' ')})"
