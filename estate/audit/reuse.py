"""Which installed coax and pair runs could serve network cameras, which not, and why.

A run is a candidate where it is one piece of baseband cable with copper conductors, without tees, within the reach of
the method; the converters are tested on it before anything is promised. Power is a limit of its own.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from estate.catalogue.tables import Cable, Catalogue, Method
from estate.findings import NAN
from estate.links.spares import UNKNOWN, installed_cable
from estate.network.network import Network
from estate.survey.survey import Survey

OVER_COAX, OVER_PAIRS, OVER_ONE_PAIR = "ethernet-coax", "ethernet", "ethernet-single-pair"
POWERED = ("unswitched", "ups")

TEST_CONVERTERS = "test it end to end with the converter pair before promising anything"
TEST_PAIRS = "test it as a permanent link with a cable tester"
FIND_TYPE = "read the sheath print and measure the loop resistance"
FIND_LENGTH = "measure its length with a reflectometer"
FIND_TEES = "look along it for tees, splitters and amplifiers; a reflectometer shows them"
FIND_JOINTS = "count its joints; a reflectometer shows them"


class Can(StrEnum):
    """Whether a run can serve a network camera."""

    YES = "yes"
    AFTER = "after"
    VERIFY = "verify"
    NO = "no"


@dataclass(frozen=True, slots=True)
class ReuseVerdict:
    """What is to be said of one installed cable."""

    cable: str
    type: str
    camera: str
    status: str
    can: Can
    why: str
    method: str
    length_m: float
    """Measured, else of its way; NaN where neither is known."""
    joints: float
    reach_m: float
    """Of the method by the set profile, less what joints take; NaN where no method is to be had."""
    mbps: float
    """What the converters, or the pairs, carry at best."""
    power: str
    test: str


@dataclass(frozen=True)
class _Run:
    """One row of the cables layer, with what is known of it."""

    survey: Survey
    catalogue: Catalogue
    row: int
    length_m: float

    def text(self, column: str) -> str:
        return str(self.survey.cables[column][self.row] or "")

    def number(self, column: str) -> float:
        return float(self.survey.cables[column][self.row])

    @property
    def entry(self) -> Cable | None:
        return self.catalogue.cables.get(self.text("cable"))


def reuse_verdicts(survey: Survey, network: Network, catalogue: Catalogue) -> tuple[ReuseVerdict, ...]:
    """Return what can be said of every installed cable that could be coax or pair, by id."""
    found = []
    for row in range(len(survey.cables)):
        length_m = float(survey.cables["length_m"][row])
        if not length_m > 0:
            whole = installed_cable(survey, network, catalogue, row)
            length_m = whole.length_m if whole is not None else NAN
        run = _Run(survey, catalogue, row, length_m)
        if run.entry is None or run.entry.family in ("coax", "pair"):
            found.append(_verdict(run))
    return tuple(sorted(found, key=lambda each: each.cable))


def _verdict(run: _Run) -> ReuseVerdict:
    """Return the verdict of one run: the worst of what stands against it, all of that in words."""
    method = _method(run)
    against = list(_against(run, method))
    order = (Can.NO, Can.VERIFY, Can.AFTER)
    can = min((each for each, _, _ in against), key=order.index, default=Can.YES)
    why = [text for _, text, _ in against] or [
        f"{run.length_m:.0f} m within the reach of {_reach_m(run, method):.0f} m"
    ]
    tests = [test for _, _, test in against if test]
    last = TEST_PAIRS if method is not None and method.id == OVER_PAIRS else TEST_CONVERTERS
    return ReuseVerdict(
        cable=run.text("id"),
        type=run.text("cable") or UNKNOWN,
        camera=run.text("camera"),
        status=run.text("status"),
        can=can,
        why="; ".join(why),
        method=method.id if method is not None and can is not Can.NO else "",
        length_m=run.length_m,
        joints=run.number("joints"),
        reach_m=_reach_m(run, method) if method is not None else NAN,
        mbps=_mbps(run, method) if method is not None and can is not Can.NO else NAN,
        power=_power(run, method) if can is not Can.NO else "",
        test="; ".join(dict.fromkeys([*tests, last])) if can is not Can.NO else "",
    )


def _method(run: _Run) -> Method | None:
    """Return the method that a run could carry Ethernet by: pairs as they are where they are short enough, else converters."""
    if run.entry is None:
        return None
    if run.entry.family == "coax":
        return run.catalogue.methods[OVER_COAX]
    whole = run.catalogue.methods[OVER_PAIRS]
    short = not run.length_m > _reach_m(run, whole)
    one = run.catalogue.methods[OVER_ONE_PAIR]
    return whole if short or run.entry.id not in one.signal_cables else one


def _reach_m(run: _Run, method: Method | None, profile: str = "") -> float:
    """Return the reach of a method on a run by a profile, the set one by default, less what joints take [m]."""
    if method is None:
        return NAN
    profile = profile or run.survey.settings.limits.profile
    if method.id == OVER_PAIRS:
        reach_m = float(run.catalogue.rules["ethernet"]["fixed_part_m"].value)
    else:
        reach_m = method.number("reach_limit_m")
        reach_m = method.number(f"reach_{profile}_m") if np.isnan(reach_m) else reach_m
    joints = float(np.nan_to_num(run.number("joints")))
    return reach_m - joints * float(run.catalogue.rules["joints"]["reach_m"].value)


def _against(run: _Run, method: Method | None) -> Iterator[tuple[Can, str, str]]:
    """Yield what stands against a run: how much, why, and the test that would settle it."""
    yield from _material(run)
    yield from _wiring(run)
    if method is not None:
        yield from _distance(run, method)


def _material(run: _Run) -> Iterator[tuple[Can, str, str]]:
    entry, condition = run.entry, run.text("condition").lower()
    if entry is None:
        named = run.text("cable") not in ("", UNKNOWN)
        what = "its type is not in the catalogue" if named else "its type is not known"
        yield Can.VERIFY, what, FIND_TYPE
    elif entry.conductor == "ccs":
        yield Can.NO, "its centre is copper-clad steel: replace it", ""
    elif entry.conductor == "cca":
        yield Can.NO, "its conductors are copper-clad aluminium: replace it, don't extend it", ""
    if "alumin" in condition:
        yield Can.NO, "its condition speaks of an aluminium screen: replace it", ""
    elif "cca" in condition.split():
        yield Can.VERIFY, "its condition speaks of CCA, its type doesn't", FIND_TYPE


def _wiring(run: _Run) -> Iterator[tuple[Can, str, str]]:
    tees, joints = run.number("tees"), run.number("joints")
    is_coax = run.entry is None or run.entry.family == "coax"
    if run.text("status") == "dead":
        yield Can.NO, "it is dead: recover it, or prove it end to end first", ""
    elif run.text("status") == "in_use" and not run.text("camera") and is_coax:
        yield Can.NO, "a shared run is no candidate", ""
    if tees > 0:
        yield Can.AFTER, f"not until its {tees:g} tee{'s are' if tees > 1 else ' is'} out", ""
    elif np.isnan(tees) and is_coax:
        yield Can.VERIFY, "whether it has tees is not known", FIND_TEES
    if joints > 0 and not is_coax:
        yield Can.AFTER, f"not until its {joints:g} joint{'s are' if joints > 1 else ' is'} made good", ""
    if run.text("method") == "coax-powered":
        yield (
            Can.AFTER,
            "its power inserter and splitter come out: the converters pass no power over the coax",
            "",
        )


def _distance(run: _Run, method: Method) -> Iterator[tuple[Can, str, str]]:
    """Yield a length beyond what converters reach; between the two profiles, or with joints unknown, a test decides."""
    if np.isnan(run.length_m):
        yield Can.VERIFY, "its length is not known", FIND_LENGTH
        return
    set_m = _reach_m(run, method)
    most_m = max(_reach_m(run, method, profile) for profile in ("cautious", "typical"))
    less_m = 0.0
    if np.isnan(run.number("joints")):
        rules = run.catalogue.rules["joints"]
        less_m = float(rules["unknown_at_most"].value) * float(rules["reach_m"].value)
    if run.length_m > most_m:
        yield Can.NO, f"{run.length_m:.0f} m beyond the reach of {most_m:.0f} m{_joints(run)}", ""
    elif run.length_m > set_m:
        yield (
            Can.VERIFY,
            f"{run.length_m:.0f} m beyond the reach of {set_m:.0f} m, within one of {most_m:.0f} m",
            "",
        )
    elif run.length_m > set_m - less_m:
        text = (
            f"{run.length_m:.0f} m is within {set_m:.0f} m without joints only; how many it has is not known"
        )
        yield Can.VERIFY, text, FIND_JOINTS


def _joints(run: _Run) -> str:
    joints = run.number("joints")
    return f" with {joints:g} joint{'s' if joints > 1 else ''}" if joints > 0 else ""


def _mbps(run: _Run, method: Method) -> float:
    """Return what the run carries at best [Mb/s]."""
    if method.id == OVER_COAX:
        return float(run.catalogue.rules["reuse"]["coax_mbps"].value)
    limit = method.number("mbps_max")
    return run.catalogue.signals["ethernet-1g"].number("line_mbps") if np.isnan(limit) else limit


def _power(run: _Run, method: Method | None) -> str:
    """Say where the camera's power would come from: a limit of its own."""
    points, camera = run.survey.points, run.text("camera")
    row = points.row_of().get(camera)
    if method is not None and method.id == OVER_PAIRS:
        return "by Ethernet within its own limit, or where the camera stands"
    if row is None:
        return "where the camera stands; power over the same cable is a separate, shorter limit of the converters"
    if points["power"][row] in POWERED:
        return "there is power where the camera stands"
    return (
        "no unswitched power is known where the camera stands; power over the same cable is a separate, shorter "
        "limit of the converters, not calculated"
    )
