"""What a programme is chosen from: cameras to be cured, their repairs, the money of each remedy, what limits them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from estate.audit.remedy import Remedies, Repair, Resource

CENTS = 100


@dataclass(frozen=True)
class ProgrammeTask:
    """What is to be cured, with what, and what limits it. Money in whole cents."""

    cameras: tuple[str, ...]
    priorities: tuple[int, ...]
    """1 is the most urgent."""
    cents: Mapping[str, int]
    """By remedy."""
    repairs: tuple[Repair, ...]
    limits: Mapping[Resource, float] = field(default_factory=dict)
    used: Mapping[Resource, int] = field(default_factory=dict)
    """What the installed links take of each resource now."""
    holds: Mapping[str, tuple[Resource, ...]] = field(default_factory=dict)
    """What each camera takes now, and sets free once it is repaired."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A set of repairs, one for each camera it cures."""

    repairs: tuple[Repair, ...]
    cents: int

    @property
    def cameras(self) -> tuple[str, ...]:
        """The cameras it cures."""
        return tuple(sorted(repair.camera for repair in self.repairs))

    @property
    def remedies(self) -> frozenset[str]:
        """What is to be paid for it."""
        return frozenset(name for repair in self.repairs for name in repair.remedies)


def programme_task(remedies: Remedies, priorities: Mapping[str, int]) -> ProgrammeTask:
    """Return the task for the cameras in `priorities`, those that need a cure.

    A repair with a remedy that is not priced can't be held against others, and is left out.
    """
    priced = {r.id: round(r.cost * CENTS) for r in remedies.remedies if not np.isnan(r.cost)}
    used: dict[Resource, int] = defaultdict(int)
    for resource in (each for held in remedies.holds.values() for each in held):
        used[resource] += 1
    cameras = sorted(priorities)
    return ProgrammeTask(
        cameras=tuple(cameras),
        priorities=tuple(priorities[camera] for camera in cameras),
        cents=priced,
        repairs=tuple(
            r
            for r in dict.fromkeys(remedies.repairs)
            if r.camera in priorities and all(n in priced for n in r.remedies)
        ),
        limits=dict(remedies.limits),
        used=dict(used),
        holds=dict(remedies.holds),
    )


def plan_of(task: ProgrammeTask, repairs: Iterable[Repair]) -> Plan:
    """Return repairs with their money, each remedy paid once."""
    listed = tuple(sorted(repairs, key=lambda repair: repair.camera))
    return Plan(listed, sum(task.cents[n] for n in {n for r in listed for n in r.remedies}))
