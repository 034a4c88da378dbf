"""Budget lines of the signal: where the catalogue's values meet the formulas."""

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Cable
from estate.findings import NAN, Verdict
from estate.formulas.attenuation import attenuation_db_per_100m, counted_length_m
from estate.formulas.ethernet import insertion_loss_temperature_factor
from estate.formulas.fibre import fibre_loss_db
from estate.formulas.single_pair import single_pair_loss_limit_db
from estate.links.camera import CameraFacts
from estate.links.conditions import NO_JOINTS, Conditions, Joints, stream_mbps
from estate.links.lines import ceiling, passes, unknown, with_profile_note
from estate.links.link import BudgetLine
from estate.links.power import feed_lines
from estate.links.variants import Variant

PROFILES = ("cautious", "typical")

SINGLE_PAIR_MHZ = np.geomspace(0.1, 20.0, 60)
"""Where a link segment of 10BASE-T1L is judged: the range of its limit."""


def assess(
    variant: Variant,
    camera: CameraFacts,
    length_m: float,
    conditions: Conditions,
    joints: Joints = NO_JOINTS,
) -> tuple[BudgetLine, ...]:
    """Return every budget line of a link whose cables are `length_m` long (design length) [m].

    `joints` are those of the signal cable.
    """
    signal = signal_lines(variant, camera, length_m, conditions, joints)
    return (*with_profile_note(signal), *feed_lines(variant, camera, length_m, conditions))


def signal_lines(
    variant: Variant,
    camera: CameraFacts,
    length_m: float,
    conditions: Conditions,
    joints: Joints = NO_JOINTS,
) -> list[BudgetLine]:
    """Return the lines on how far the signal goes."""
    catalogue = conditions.catalogue
    assert camera.signal is not None
    signal, method = catalogue.signals[camera.signal], catalogue.methods[variant.method]
    cable = catalogue.cables[variant.signal_cable]
    own = [
        *method_lines(variant, camera, length_m, conditions, joints),
        *material_lines(cable, length_m, conditions),
    ]
    if cable.family == "fibre":
        return [*own, *fibre_lines(variant, length_m, conditions, joints)]
    if signal.kind == "ethernet" and cable.family == "pair":
        channel = single_pair_lines if "reach_limit_m" in method.figures else ethernet_lines
        return [*own, *channel(variant, length_m, conditions), *data_joint_lines(joints)]
    if signal.kind == "ethernet":
        return own
    if signal.kind == "sdi":
        return [*own, loss_line(variant, camera, length_m, conditions, joints, informs=False)]
    loss = loss_line(variant, camera, length_m, conditions, joints, informs=True)
    if "reach_cautious_m" in method.figures:
        return [*own, loss]
    reach = [reach_line(variant, camera, length_m, profile, conditions, joints) for profile in PROFILES]
    return [*own, *reach, loss]


def joint_db(cable: Cable, joints: Joints, conditions: Conditions) -> float:
    """Return the loss of the joints known good [dB]; bad or unknown ones count as trade reach instead."""
    if not joints.good:
        return 0.0
    return joints.good * conditions.catalogue.items[f"joint-{cable.family}"].number("loss_db")


def counted_m(length_m: float, joints: Joints, conditions: Conditions) -> float:
    """Return the length that counts against a trade reach: a bad or unknown joint costs some [m]."""
    each_m = float(conditions.catalogue.rules["joints"]["reach_m"].value)
    return float(counted_length_m(length_m, joints.bad_or_unknown, each_m))


def counted_text(length_m: float, joints: Joints, conditions: Conditions) -> str:
    """Say how a counted length comes about, empty where it is the cable's own."""
    if not joints.bad_or_unknown:
        return ""
    each_m = float(conditions.catalogue.rules["joints"]["reach_m"].value)
    return f"counted: {length_m:.1f} m of cable and {joints.bad_or_unknown} joints bad or unknown at {each_m:g} m"


def data_joint_lines(joints: Joints) -> list[BudgetLine]:
    """Return the line that any joint in a data cable gives: only a test of the channel decides."""
    if not joints.count:
        return []
    count = f"{joints.count} joint{'s' if joints.count > 1 else ''}"
    return [unknown("joints", "", NAN, "", f"{count} in a data cable: test the channel")]


def material_lines(cable: Cable, length_m: float, conditions: Conditions) -> list[BudgetLine]:
    """Return the length from which links on a poor conductor tend to fail, where the catalogue has one."""
    if "fails_from_m" not in cable.figures:
        return []
    margin = conditions.limits.margin_percent["length"]
    limit_m, source = cable.number("fails_from_m"), cable.source("fails_from_m")
    return [ceiling("material", length_m, limit_m, "m", margin, source=source, text=f"of {cable.id}")]


def method_lines(
    variant: Variant,
    camera: CameraFacts,
    length_m: float,
    conditions: Conditions,
    joints: Joints = NO_JOINTS,
) -> list[BudgetLine]:
    """Return the limits that the method itself has: its own reach and throughput."""
    method, limits = conditions.catalogue.methods[variant.method], conditions.limits
    margin = limits.margin_percent["length"]
    lines = []
    for profile in PROFILES:
        if not np.isnan(limit := method.number(f"reach_{profile}_m")):
            source = method.source(f"reach_{profile}_m")
            lines.append(
                ceiling(
                    "reach",
                    counted_m(length_m, joints, conditions),
                    limit,
                    "m",
                    margin,
                    source=source,
                    profile=profile,
                    informs=profile != limits.profile,
                    text=counted_text(length_m, joints, conditions),
                )
            )
    if not np.isnan(limit := method.number("reach_limit_m")):
        lines.append(ceiling("reach", length_m, limit, "m", margin, source=method.source("reach_limit_m")))
    if not np.isnan(limit := method.number("mbps_max")):
        mbps = stream_mbps(camera, conditions.catalogue)
        lines.append(ceiling("throughput", mbps, limit, "Mb/s", 0.0, source=method.source("mbps_max")))
    return lines


def reach_line(
    variant: Variant,
    camera: CameraFacts,
    length_m: float,
    profile: str,
    conditions: Conditions,
    joints: Joints = NO_JOINTS,
) -> BudgetLine:
    """Return the trade reach of an analogue format on a cable family, for one profile."""
    catalogue = conditions.catalogue
    signal = catalogue.signals[str(camera.signal)]
    cable = catalogue.cables[variant.signal_cable]
    figure = signal.reach.get(cable.reach_class, {}).get(profile)
    informs = profile != conditions.limits.profile
    counted = counted_m(length_m, joints, conditions)
    if figure is None:
        text = f"no trade reach is known for {signal.id} on {cable.id}"
        return unknown("reach", "", counted, "m", text, profile=profile, informs=informs)
    return ceiling(
        "reach", counted, float(figure.value), "m", conditions.limits.margin_percent["length"],
        source=f"{figure.source} ({figure.status.replace('_', ' ')})", profile=profile, informs=informs,
        text=counted_text(length_m, joints, conditions),
    )  # fmt: skip


def loss_line(
    variant: Variant,
    camera: CameraFacts,
    length_m: float,
    conditions: Conditions,
    joints: Joints = NO_JOINTS,
    *,
    informs: bool,
) -> BudgetLine:
    """Return the loss at the signal's reference frequency, against its limit where it has one.

    A joint that is bad or unknown costs no decibels here; where no trade reach counts it, it decides.
    """
    catalogue = conditions.catalogue
    signal = catalogue.signals[str(camera.signal)]
    cable = catalogue.cables[variant.signal_cable]
    frequency_mhz, limit_db = signal.number("reference_mhz"), signal.number("loss_limit_db")
    per_100m = _attenuation(cable, frequency_mhz, conditions.ambient_c)
    method = catalogue.methods[variant.method]
    ends_db = sum(
        value
        for item in (*method.at_camera, *method.at_head)
        if not np.isnan(value := catalogue.items[item].number("loss_db"))
    )
    loss_db = per_100m * length_m / 100 + ends_db + joint_db(cable, joints, conditions)
    if informs:
        text = "the trade reach governs" if not np.isnan(loss_db) else "no attenuation is known here"
        return BudgetLine(
            "loss", "", loss_db, NAN, "dB", NAN, Verdict.WITHIN, "calculated",
            cable.source("attenuation_a"), informs=True, text=text,
        )  # fmt: skip
    if np.isnan(loss_db) or np.isnan(limit_db):
        return unknown("loss", "", loss_db, "dB", f"no attenuation is known for {signal.id} on {cable.id}")
    margin = conditions.limits.margin_percent["loss"]
    line = ceiling("loss", loss_db, limit_db, "dB", margin, source=signal.source("loss_limit_db"))
    if joints.bad_or_unknown and passes(line):
        text = f"{joints.bad_or_unknown} joints bad or unknown, and no trade reach that they cost is known"
        return unknown("loss", "", loss_db, "dB", text, limit=limit_db)
    return line


def _attenuation(cable: Cable, frequency_mhz: float, ambient_c: float) -> float:
    """Attenuation at the ambient temperature [dB/100 m], NaN outside the figures' range."""
    low, high = cable.number("attenuation_from_mhz"), cable.number("attenuation_to_mhz")
    if np.isnan(frequency_mhz) or not low <= frequency_mhz <= high:
        return NAN
    return float(_attenuations(cable, np.array([frequency_mhz]), ambient_c)[0])


def _attenuations(cable: Cable, frequency_mhz: NDArray[np.float64], ambient_c: float) -> NDArray[np.float64]:
    """Attenuation at frequencies within the figures' range [dB/100 m], NaN where the cable has none."""
    low, high = cable.number("attenuation_from_mhz"), cable.number("attenuation_to_mhz")
    a, b, c = (cable.number(f"attenuation_{k}") for k in "abc")
    if np.isnan(a):
        return np.full(len(frequency_mhz), NAN)
    at_20 = attenuation_db_per_100m(frequency_mhz, a, np.nan_to_num(b), np.nan_to_num(c), low, high)
    screened = cable.screened
    return np.asarray(at_20 * insertion_loss_temperature_factor(max(20.0, ambient_c), screened=screened))


def ethernet_lines(variant: Variant, length_m: float, conditions: Conditions) -> list[BudgetLine]:
    """Return fixed part and channel of copper Ethernet, shorter when hot."""
    rules = conditions.catalogue.rules["ethernet"]
    cable = conditions.catalogue.cables[variant.signal_cable]
    hot = float(insertion_loss_temperature_factor(conditions.cable_c, screened=cable.screened))
    margin = conditions.limits.margin_percent["length"]
    at = f" at {conditions.ambient_c:g} °C" if hot > 1 else ""
    channel_m = length_m + conditions.lengths.cords_m
    cords_allowed_m = float(rules["channel_m"].value) - float(rules["fixed_part_m"].value)
    fixed_limit_m = float(rules["fixed_part_m"].value) / hot
    return [
        ceiling("fixed part", length_m, fixed_limit_m, "m", margin, source=_rule_source(conditions, "fixed_part_m"), text=at.strip()),
        ceiling("channel", channel_m, fixed_limit_m + cords_allowed_m, "m", margin, source=_rule_source(conditions, "channel_m"), text=at.strip()),
    ]  # fmt: skip


def _rule_source(conditions: Conditions, name: str) -> str:
    figure = conditions.catalogue.rules["ethernet"][name]
    return f"{figure.source} ({figure.status.replace('_', ' ')})"


def single_pair_lines(variant: Variant, length_m: float, conditions: Conditions) -> list[BudgetLine]:
    """Return the loss of a 10BASE-T1L link segment where it comes nearest to its limit.

    Judged over what the range of the limit, 0.1 to 20 MHz, and that of the cable's figures share.
    """
    cable = conditions.catalogue.cables[variant.signal_cable]
    low, high = cable.number("attenuation_from_mhz"), cable.number("attenuation_to_mhz")
    shared = SINGLE_PAIR_MHZ[(low <= SINGLE_PAIR_MHZ) & (high >= SINGLE_PAIR_MHZ)]
    if not len(shared):
        return [unknown("loss", "", NAN, "dB", f"no attenuation of {cable.id} is known at 0.1 to 20 MHz")]
    limit_db = np.asarray(single_pair_loss_limit_db(shared))
    loss_db = _attenuations(cable, shared, conditions.ambient_c) * length_m / 100
    worst = int(np.argmax(loss_db - limit_db))
    return [
        ceiling(
            "loss", float(loss_db[worst]), float(limit_db[worst]), "dB", conditions.limits.margin_percent["loss"],
            source="IEEE 802.3cg, link segment of 10BASE-T1L (from memory)",
            text=f"at {shared[worst]:.3g} MHz, judged from {shared[0]:.2g} to {shared[-1]:.3g} MHz",
        )
    ]  # fmt: skip


def fibre_lines(
    variant: Variant, length_m: float, conditions: Conditions, joints: Joints = NO_JOINTS
) -> list[BudgetLine]:
    """Return loss and reach of the fibre application that the method uses on this cable.

    A splice known good costs decibels; one bad or unknown decides the link.
    """
    catalogue = conditions.catalogue
    method, cable = catalogue.methods[variant.method], catalogue.cables[variant.signal_cable]
    application = catalogue.applications[method.applications[cable.id]]
    per_km = cable.number(f"loss_{application.wavelength_nm}_db_per_km")
    fibre = catalogue.rules["fibre"]
    connectors, connector_db = float(fibre["connectors"].value), float(fibre["connector_db"].value)
    splice_db = float(fibre["splice_db"].value)
    loss_db = float(fibre_loss_db(length_m, per_km, connectors, joints.good, connector_db, splice_db))
    margin = conditions.limits.margin_percent
    bad = f"{joints.bad_or_unknown} splices bad or unknown: measure the loss"
    return [
        *([unknown("joints", "", NAN, "", bad)] if joints.bad_or_unknown else []),
        ceiling("fibre loss", loss_db, application.number("loss_db"), "dB", margin["fibre"], source=application.source("loss_db")),
        ceiling("fibre reach", length_m, application.number("reach_m"), "m", margin["length"], source=application.source("reach_m")),
    ]  # fmt: skip
