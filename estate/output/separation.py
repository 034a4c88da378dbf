"""What `estate separation` gives: the distance required, how it comes about, and what has to be said with it."""

import math
from collections.abc import Iterator

from estate.catalogue.tables import Catalogue
from estate.links.induced import induced_rows
from estate.links.separation_question import (
    ROUNDINGS,
    SeparationAnswer,
    answered,
    told_source,
    with_rounding,
)
from estate.network.proximity import HIGH_VOLTAGE_V
from estate.units import MM_PER_M

ADVICE = {
    "buried": ("depth_footway_mm", "depth_grass_mm", "depth_carriageway_mm", "depth_machines_mm", "depth_field_mm"),
    "overhead": ("height_carriageway_m", "height_high_load_m", "height_farm_m"),
}  # fmt: skip
"""Figures of depth or height that are told with a placement."""

CAUTION = (
    "Calculated from published figures, not a declaration of safety: isolate and prove dead, locate and hand-dig; "
    "local codes and licensed practice govern."
)


def told_separation(answer: SeparationAnswer, *, explain: bool = False) -> list[str]:
    """Return the page: what is required, how, the verdict, sources, advice and cautions."""
    return [
        *_required(answer),
        *_how(answer),
        *_other_rounding(answer),
        *_judged(answer),
        *(f"  source: {source}" for source in answer.sources),
        *_outdoors(answer),
        *(_induced(answer) if explain else ()),
        CAUTION,
    ]


def _mm(value: float) -> str:
    return f"{math.ceil(value - 1e-6)} mm"


def _required(answer: SeparationAnswer) -> Iterator[str]:
    question = answer.question
    ours = question.cable or f"cable of class {question.cable_class}"
    if answer.least_mm < answer.required_mm:
        yield (
            f"Separation of {ours}: {_mm(answer.least_mm)} to {_mm(answer.required_mm)}, "
            f"for want of {', '.join(answer.unknown)}."
        )
    else:
        yield f"Separation of {ours}: {_mm(answer.required_mm)} required ({answer.governs} governs)."


def _how(answer: SeparationAnswer) -> Iterator[str]:
    question = answer.question
    if question.rules == "pairs-2000":
        yield (
            f"  table of pairs, {question.barrier} divider: {answer.base_mm:g} mm. Superseded: for audits of older "
            "work only, never for a design."
        )
        last_m = question.catalogue.rules["separation"]["pairs_2000_last_m"]
        yield f"  The last {last_m.value:g} m of a horizontal run needed none then."
        return
    if question.kind == "mains":
        count = "not known" if math.isinf(answer.circuits) else f"{answer.circuits:g}"
        screened = ", mains screened" if question.screened else ""
        yield (
            f"  interference: S {answer.base_mm:g} mm (class {question.cable_class or 'without signal'}, barrier "
            f"{question.barrier}{screened}) × P {answer.factor:g} (N {count} circuits of 20 A, parts rounded "
            f"{question.rounding}) = {answer.interference_mm:g} mm"
        )
    elif not question.cable_class:
        yield "  interference: none, the cable carries no electrical signal"
    safety = question.catalogue.rules["separation"]["safety_mm"].value
    yield (
        f"  safety: {safety:g} mm"
        if question.safety
        else "  safety: switched off; local codes may still ask for it"
    )


def _other_rounding(answer: SeparationAnswer) -> Iterator[str]:
    """Tell the other rounding of parts of 20 A where it asks for something else; the standard settles neither."""
    question = answer.question
    (other,) = (rounding for rounding in ROUNDINGS if rounding != question.rounding)
    second = answered(with_rounding(question, other))
    if second.required_mm != answer.required_mm and math.isfinite(second.circuits):
        safe = "up is the safe reading" if question.rounding == "up" else "the safe reading"
        yield (
            f"  parts rounded {other}: N {second.circuits:g}, P {second.factor:g}, {_mm(second.required_mm)}; {safe}"
        )


def _judged(answer: SeparationAnswer) -> Iterator[str]:
    if answer.verdict is None:
        return
    why = " (the designer's distance: IEC 62305-3)" if answer.question.kind == "lightning_protection" else ""
    yield f"Declared {answer.question.declared_mm:g} mm: {answer.verdict.value}{why}."


def _outdoors(answer: SeparationAnswer) -> Iterator[str]:
    question = answer.question
    if question.placement != "indoor" or question.volts > HIGH_VOLTAGE_V:
        yield "Outdoors, overhead and over 1 kV: the network operator's word governs. Ask before any work."
    yield from told_advice(question.catalogue, question.placement)


def told_advice(catalogue: Catalogue, placement: str) -> Iterator[str]:
    """Tell depths or heights by surface, as advice with source and status."""
    for name in ADVICE.get(placement, ()):
        figure = catalogue.rules["outdoors"][name]
        what, surface = name.rsplit("_", 1)[0].split("_", 1)
        unit = name.rsplit("_", 1)[1]
        yield f"  advice, {what}, {surface.replace('_', ' ')}: {figure.value:g} {unit}; {told_source(figure)}"


def _induced(answer: SeparationAnswer) -> Iterator[str]:
    """Tell what induction makes of the stretch; a net current or a loop is what matters, not the pair."""
    question = answer.question
    known = [c.amps for c in question.circuits if not math.isnan(c.amps)]
    apart_mm = question.declared_mm if question.declared_mm > 0 else answer.required_mm
    if not known or not apart_mm > 0:
        yield "Induced voltage: give --amps to see it."
        return
    catalogue = question.catalogue
    rule = {name: float(figure.value) for name, figure in catalogue.rules["induction"].items()}
    yield (
        f"Induced at {apart_mm:g} mm over {rule['length_m']:g} m by one line pair of {max(known):g} A "
        "(information, never a basis for reducing the distance):"
    )
    for row in induced_rows(max(known), apart_mm / MM_PER_M, catalogue):
        yield (
            f"  {row.frequency_hz:g} Hz: M {row.mutual_h_per_m:.3g} H/m; pair untwisted {row.untwisted_v * 1e6:.3g} µV, "
            f"twisted {row.twisted_v * 1e6:.2g} µV"
        )
        yield (
            f"         {rule['net_a']:g} A of net current in a loop of {rule['loop_m']:g} m: {row.loop_v * 1e3:.3g} mV; "
            f"after {rule['balance_db']:g} dB of balance {row.balanced_v * 1e6:.3g} µV; "
            f"with a bonded screen {row.screened_v * 1e3:.3g} mV"
        )
