"""What a remedy is, paid once, and what a camera's link needs of them to stand."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from estate.findings import NAN, Action, Finding, Verdict

Resource = tuple[str, str]
"""What there is only so much of: (recorder, channels …), (cabinet, ports), (spare cable, its id)."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing to do, paid once however many cameras it serves."""

    id: str
    action: Action
    kind: str
    """What kind of action it is, in few words: repeater, other power cable, fibre and switch …"""
    subject_kind: str
    """link, segment, route, point or cable."""
    subject: str
    text: str
    cost: float
    """Money [currency], NaN where it is not priced."""
    invented: bool = False
    """Whether the money rests on an invented rate."""


@dataclass(frozen=True, slots=True)
class Repair:
    """One way to give a camera a link that stands: the remedies it needs, and the link that comes of them."""

    camera: str
    remedies: tuple[str, ...]
    action: Action
    """That of its own remedy, the one that the camera doesn't share."""
    kind: str
    head: str
    recorder: str
    port: str
    """What arrives at the head: analogue or ethernet."""
    method: str
    verdict: Verdict
    margin_percent: float
    text: str
    takes: tuple[Resource, ...] = ()


@dataclass(frozen=True, slots=True)
class Refused:
    """A way that would break a rule, or that a limit leaves no room for, with the number that says so."""

    camera: str
    action: Action
    kind: str
    why: str


@dataclass(frozen=True)
class Remedies:
    """What could be done for an installed estate."""

    remedies: tuple[Remedy, ...] = ()
    repairs: tuple[Repair, ...] = ()
    """By camera, the cheapest first."""
    refused: tuple[Refused, ...] = ()
    limits: Mapping[Resource, float] = field(default_factory=dict)
    """How much there is of what repairs take."""
    holds: Mapping[str, tuple[Resource, ...]] = field(default_factory=dict)
    """What each camera takes now, and sets free once it is repaired."""

    @property
    def by_id(self) -> dict[str, Remedy]:
        """The remedies by their id."""
        return {remedy.id: remedy for remedy in self.remedies}

    def cost(self, repair: Repair) -> float:
        """Return the money of a repair by itself, as if nobody shared its remedies [currency]."""
        known = self.by_id
        return sum(known[name].cost for name in repair.remedies)

    def of_camera(self, camera: str) -> list[Repair]:
        """Return the repairs of a camera, the cheapest first."""
        return [repair for repair in self.repairs if repair.camera == camera]


def with_remedies(findings: Iterable[Finding], remedies: Remedies) -> list[Finding]:
    """Return findings with the cheapest remedy of their subject, in words and money, where one was found.

    A finding of a segment takes the remedy of that segment; one of a single camera, its link or its cable takes the
    camera's cheapest repair. What is to be surveyed or joined first keeps its own words, and so does what has a cost.
    """
    cheapest: dict[str, Repair] = {}
    for repair in remedies.repairs:
        cheapest.setdefault(repair.camera, repair)
    of_segment: dict[str, Remedy] = {}
    for remedy in remedies.remedies:
        if remedy.subject_kind == "segment" and remedy.action is not Action.ENLARGE:
            known = of_segment.get(remedy.subject)
            if known is None or remedy.cost < known.cost:
                of_segment[remedy.subject] = remedy
    return [_with_remedy(finding, remedies, cheapest, of_segment) for finding in findings]


OWN_SUBJECTS = ("link", "cable", "camera", "point", "node")
"""Kinds of subject whose finding takes the remedy of its camera."""


def _with_remedy(
    finding: Finding, remedies: Remedies, cheapest: Mapping[str, Repair], of_segment: Mapping[str, Remedy]
) -> Finding:
    if finding.action in (Action.SURVEY, Action.CONNECT) or not np.isnan(finding.cost):
        return finding
    if finding.subject_kind == "segment" and finding.subject in of_segment:
        remedy = of_segment[finding.subject]
        return replace(finding, remedy=remedy.text, cost=remedy.cost)
    one = finding.cameras[0] if len(finding.cameras) == 1 else ""
    if finding.subject_kind in OWN_SUBJECTS and one in cheapest:
        repair = cheapest[one]
        return replace(finding, remedy=repair.text, cost=remedies.cost(repair))
    return finding


# Room at recorders


@dataclass(frozen=True, slots=True)
class RecorderRoom:
    """The channels of a recorder; NaN: not given, no limit that is known."""

    id: str
    channels: float = NAN
    channels_analogue: float = NAN
    channels_network: float = NAN

    def refusal(self, analogue: int, network: int) -> str:
        """Say which limit so many cameras pass, with the sum; empty where they all have a channel.

        >>> RecorderRoom("R1", 18, 16, 2).refusal(12, 4)
        'R1: 4 network cameras over 2 network channels'
        >>> RecorderRoom("R1", 18, 16).refusal(12, 4)
        ''
        """
        sums = (
            (network, "network cameras", self.channels_network, "network channels"),
            (analogue, "analogue cameras", self.channels_analogue, "analogue channels"),
            (analogue + network, "cameras", self.channels, "channels"),
        )
        over = [f"{n} {what} over {limit:g} {of}" for n, what, limit, of in sums if n > limit]
        return f"{self.id}: {', '.join(over)}" if over else ""

    def spare_percent(self, cameras: int) -> float:
        """Return the spare channels as a share of those in use [%], NaN where it is not known.

        >>> RecorderRoom("R1", 18).spare_percent(16)
        12.5
        """
        return 100 * (self.channels - cameras) / cameras if cameras else NAN

    def spare_in_words(self, cameras: int, wanted_percent: float) -> str:
        """Say how much is spare, and whether that is enough; empty where it is not known.

        >>> RecorderRoom("R1", 18).spare_in_words(16, 25)
        'R1: 2 spare on 16 in use is 12.5 %, below 25'
        """
        percent = self.spare_percent(cameras)
        if np.isnan(percent):
            return ""
        judged = f"below {wanted_percent:g}" if percent < wanted_percent else f"{wanted_percent:g} wanted"
        return (
            f"{self.id}: {self.channels - cameras:g} spare on {cameras} in use is {percent:.1f} %, {judged}"
        )


def resources_of(recorder: str, port: str) -> tuple[Resource, ...]:
    """Return what one camera takes of a recorder."""
    kind = "channels_network" if port == "ethernet" else "channels_analogue"
    return ((recorder, kind), (recorder, "channels"))


def room_limits(rooms: Sequence[RecorderRoom]) -> dict[Resource, float]:
    """Return the limits that are known, by resource."""
    kinds = ("channels", "channels_analogue", "channels_network")
    return {
        (room.id, kind): float(getattr(room, kind))
        for room in rooms
        for kind in kinds
        if not np.isnan(getattr(room, kind))
    }
