"""Budget lines of the signal: where the catalogue's values meet the formulas."""

import numpy as np

from estate.catalogue.tables import Cable
from estate.findings import NAN, Verdict
from estate.formulas.attenuation import attenuation_db_per_100m
from estate.formulas.ethernet import insertion_loss_temperature_factor
from estate.formulas.fibre import fibre_loss_db
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions, stream_mbps
from estate.links.lines import ceiling, unknown
from estate.links.link import BudgetLine
from estate.links.power import feed_lines
from estate.links.variants import Variant

PROFILES = ("cautious", "typical")


def assess(
    variant: Variant, camera: CameraFacts, length_m: float, conditions: Conditions
) -> tuple[BudgetLine, ...]:
    """Return every budget line of a link whose cables are `length_m` long (design length) [m]."""
    return (
        *signal_lines(variant, camera, length_m, conditions),
        *feed_lines(variant, camera, length_m, conditions),
    )


def signal_lines(
    variant: Variant, camera: CameraFacts, length_m: float, conditions: Conditions
) -> list[BudgetLine]:
    """Return the lines on how far the signal goes."""
    catalogue = conditions.catalogue
    assert camera.signal is not None
    signal, method = catalogue.signals[camera.signal], catalogue.methods[variant.method]
    cable = catalogue.cables[variant.signal_cable]
    own = method_lines(variant, camera, length_m, conditions)
    if cable.family == "fibre":
        return [*own, *fibre_lines(variant, length_m, conditions)]
    if "reach_cautious_m" in method.figures or (
        "reach_limit_m" in method.figures and signal.kind == "ethernet"
    ):
        return own
    if signal.kind == "ethernet":
        return [*own, *ethernet_lines(variant, length_m, conditions)]
    if signal.kind == "sdi":
        return [*own, loss_line(variant, camera, length_m, conditions, informs=False)]
    reach = [reach_line(variant, camera, length_m, profile, conditions) for profile in PROFILES]
    return [*own, *reach, loss_line(variant, camera, length_m, conditions, informs=True)]


def method_lines(
    variant: Variant, camera: CameraFacts, length_m: float, conditions: Conditions
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
                    length_m,
                    limit,
                    "m",
                    margin,
                    source=source,
                    profile=profile,
                    informs=profile != limits.profile,
                )
            )
    if not np.isnan(limit := method.number("reach_limit_m")):
        lines.append(ceiling("reach", length_m, limit, "m", margin, source=method.source("reach_limit_m")))
    if not np.isnan(limit := method.number("mbps_max")):
        mbps = stream_mbps(camera, conditions.catalogue)
        lines.append(ceiling("throughput", mbps, limit, "Mb/s", 0.0, source=method.source("mbps_max")))
    return lines


def reach_line(
    variant: Variant, camera: CameraFacts, length_m: float, profile: str, conditions: Conditions
) -> BudgetLine:
    """Return the trade reach of an analogue format on a cable family, for one profile."""
    catalogue = conditions.catalogue
    signal = catalogue.signals[str(camera.signal)]
    cable = catalogue.cables[variant.signal_cable]
    figure = signal.reach.get(cable.reach_class, {}).get(profile)
    informs = profile != conditions.limits.profile
    if figure is None:
        text = f"no trade reach is known for {signal.id} on {cable.id}"
        return unknown("reach", "", length_m, "m", text, profile=profile, informs=informs)
    return ceiling(
        "reach", length_m, float(figure.value), "m", conditions.limits.margin_percent["length"],
        source=f"{figure.source} ({figure.status.replace('_', ' ')})", profile=profile, informs=informs,
    )  # fmt: skip


def loss_line(
    variant: Variant, camera: CameraFacts, length_m: float, conditions: Conditions, *, informs: bool
) -> BudgetLine:
    """Return the loss at the signal's reference frequency, against its limit where it has one."""
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
    loss_db = per_100m * length_m / 100 + ends_db
    if informs:
        text = "the trade reach governs" if not np.isnan(loss_db) else "no attenuation is known here"
        return BudgetLine(
            "loss", "", loss_db, NAN, "dB", NAN, Verdict.WITHIN, "calculated",
            cable.source("attenuation_a"), informs=True, text=text,
        )  # fmt: skip
    if np.isnan(loss_db) or np.isnan(limit_db):
        return unknown("loss", "", loss_db, "dB", f"no attenuation is known for {signal.id} on {cable.id}")
    margin = conditions.limits.margin_percent["loss"]
    return ceiling("loss", loss_db, limit_db, "dB", margin, source=signal.source("loss_limit_db"))


def _attenuation(cable: Cable, frequency_mhz: float, ambient_c: float) -> float:
    """Attenuation at the ambient temperature [dB/100 m], NaN outside the figures' range."""
    low, high = cable.number("attenuation_from_mhz"), cable.number("attenuation_to_mhz")
    a, b, c = (cable.number(f"attenuation_{k}") for k in "abc")
    if np.isnan(a) or np.isnan(frequency_mhz) or not low <= frequency_mhz <= high:
        return NAN
    at_20 = attenuation_db_per_100m(frequency_mhz, a, np.nan_to_num(b), np.nan_to_num(c), low, high)
    screened = cable.screened
    return float(at_20 * insertion_loss_temperature_factor(max(20.0, ambient_c), screened=screened))


def ethernet_lines(variant: Variant, length_m: float, conditions: Conditions) -> list[BudgetLine]:
    """Return fixed part and channel of copper Ethernet, shorter when hot."""
    rules = conditions.catalogue.rules["ethernet"]
    cable = conditions.catalogue.cables[variant.signal_cable]
    hot = float(insertion_loss_temperature_factor(max(20.0, conditions.ambient_c), screened=cable.screened))
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


def fibre_lines(variant: Variant, length_m: float, conditions: Conditions) -> list[BudgetLine]:
    """Return loss and reach of the fibre application that the method uses on this cable."""
    catalogue = conditions.catalogue
    method, cable = catalogue.methods[variant.method], catalogue.cables[variant.signal_cable]
    application = catalogue.applications[method.applications[cable.id]]
    per_km = cable.number(f"loss_{application.wavelength_nm}_db_per_km")
    fibre = catalogue.rules["fibre"]
    connectors, connector_db = float(fibre["connectors"].value), float(fibre["connector_db"].value)
    loss_db = float(fibre_loss_db(length_m, per_km, connectors, connector_db=connector_db))
    margin = conditions.limits.margin_percent
    return [
        ceiling("fibre loss", loss_db, application.number("loss_db"), "dB", margin["fibre"], source=application.source("loss_db")),
        ceiling("fibre reach", length_m, application.number("reach_m"), "m", margin["length"], source=application.source("reach_m")),
    ]  # fmt: skip
