"""A circuit under one set of values as the links of designs are: scheme, stretches and what stands between them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from estate.catalogue.tables import Catalogue
from estate.installed.parts import RESTORING, Between, Part, standing
from estate.installed.readings import Possible, Reading
from estate.links.conditions import Joints
from estate.links.found import Found, Reuse, Stretch
from estate.links.schemes import ENCODED, EXTENDED, LOCAL, Scheme, Stage, Stop
from estate.links.variants import Variant, needs_power_cable

ANALOGUE_FAMILIES = ("coax", "fibre")
"""Cables in which two lengths that are patched through count as joined; a data channel has room for its plugs."""


@dataclass(frozen=True)
class Built:
    """A link without budget lines, and the parts that each of its stretches is made of."""

    found: Found
    parts: tuple[tuple[Part, ...], ...]


def built(
    possible: Possible, parts: Sequence[Part], between: Sequence[Between], reading: Reading, site: int
) -> Built:
    """Return a circuit as a link, stretch by stretch from the head on. `site` is the number of its head."""
    groups, stops = _grouped(parts, between, reading, possible.catalogue)
    source = max((k + 1 for k, stop in enumerate(stops) if stop.source), default=0)
    if reading.feed == LOCAL or not reading.feed.startswith("poe"):
        stops = [
            replace(stop, source=stop.source and _has(stop, "supply", possible.catalogue)) for stop in stops
        ]
        source = max((k + 1 for k, stop in enumerate(stops) if stop.source), default=0)
    encoders = [k for k, stop in enumerate(stops) if _has(stop, "encoder", possible.catalogue)]
    stages, stretches = [], []
    for k, group in enumerate(groups):
        feed = reading.feed if k >= source else LOCAL
        signal = ENCODED if encoders and k <= encoders[-1] else str(possible.camera.signal)
        stage, stretch = _stretch(possible, group, reading, feed, signal, k, len(groups))
        stages.append(stage)
        stretches.append(stretch)
    methods = list(dict.fromkeys(reading.methods))
    extended = any(stop.by_port for stop in stops)
    name = EXTENDED if extended else "+".join(methods)
    found = Found(
        camera=possible.number,
        site=site,
        scheme=Scheme(name, tuple(stages), tuple(stops)),
        stretches=tuple(stretches),
        lines=(),
        own_cost=0.0,
        works_cost=0.0,
        new_cable_m=0.0,
        discouraged=False,
    )
    return Built(found, tuple(map(tuple, groups)))


def _has(stop: Stop, kind: str, catalogue: Catalogue) -> bool:
    return any(catalogue.items[item].kind == kind for item in stop.items)


def _grouped(
    parts: Sequence[Part], between: Sequence[Between], reading: Reading, catalogue: Catalogue
) -> tuple[list[list[Part]], list[Stop]]:
    """Return the parts stretch by stretch, and the stops: cables alike that are patched through are one stretch."""
    groups, stops = [[parts[0]]], list[Stop]()
    for part, gap in zip(parts[1:], between, strict=True):
        before = groups[-1][-1].piece
        alike = (reading.methods[before], reading.cables[before]) == (
            reading.methods[part.piece], reading.cables[part.piece],
        )  # fmt: skip
        if not gap.items and alike:
            groups[-1].append(part)
            continue
        kinds = {catalogue.items[item].kind for item in gap.items}
        changed = _delivers(reading, before, catalogue) != _delivers(reading, part.piece, catalogue)
        stops.append(
            Stop(
                gap.items,
                restores=bool(kinds & set(RESTORING)) or changed,
                by_port="extender" in kinds,
                source=bool(kinds & {"supply", "switch"}),
            )
        )
        groups.append([part])
    return groups, stops


def _delivers(reading: Reading, piece: int, catalogue: Catalogue) -> str:
    return catalogue.methods[reading.methods[piece]].delivers


def _stretch(
    possible: Possible, group: Sequence[Part], reading: Reading, feed: str, signal: str, k: int, of: int
) -> tuple[Stage, Stretch]:
    """Return one stretch with its stage. Joints of a cable count on each of its parts: where they are isn't recorded."""
    first = group[0].piece
    name = "ethernet" if reading.methods[first] == EXTENDED else reading.methods[first]
    method, catalogue = possible.catalogue.methods[name], possible.catalogue
    powered = feed != LOCAL and needs_power_cable(method, feed) and bool(reading.power)
    variant = Variant(name, feed, reading.cables[first], reading.power[0] if powered else "")
    lengths_m = [reading.lengths_m[part.piece] * part.share for part in group]
    nodes = (*group[0].nodes, *(node for part in group[1:] for node in part.nodes[1:]))
    reused, at = [], 0
    for part, length_m in zip(group, lengths_m, strict=True):
        beyond = at + len(part.segments)
        reused.append(Reuse(possible.signal[part.piece].row.id, at, beyond, length_m))
        at = beyond
    analogue = (
        catalogue.cables[variant.signal_cable].family in ANALOGUE_FAMILIES or method.delivers == "analogue"
    )
    patched = len(group) - 1 if analogue else 0
    joints = sum(reading.joints[part.piece] for part in group) + patched
    at_head = method.at_head if k == 0 else ()
    at_camera = method.at_camera if k == of - 1 else ()
    fitted = _fitted(possible, {part.piece for part in group}, nodes)
    length_m = sum(lengths_m)
    return Stage(name, signal, feed, at_head, at_camera), Stretch(
        variant=variant,
        signal=signal,
        nodes=nodes,
        segments=tuple(s for part in group for s in part.segments),
        way_m=float(possible.ground.network.segment_length_m[[s for p in group for s in p.segments]].sum())
        if at
        else 0.0,
        cable_length_m=length_m,
        power_length_m=sum(reading.power_lengths_m) if reading.power_lengths_m else length_m,
        at_head=at_head,
        at_camera=at_camera,
        inline=tuple(item for item, kind in fitted if kind == "isolator"),
        protectors=tuple(dict.fromkeys(item for item, kind in fitted if kind == "protector")),
        reused=tuple(reused),
        joints=Joints(bad_or_unknown=joints),
    )


def _fitted(possible: Possible, pieces: Iterable[int], nodes: Sequence[int]) -> list[tuple[str, str]]:
    """Return the isolators and protectors recorded along the cables of a stretch, with their kind."""
    items, own = possible.catalogue.items, [possible.signal[k] for k in sorted(pieces)]
    here = [(item, items[item].kind) for item, node in standing(possible.ground, own) if node in nodes]
    return [(item, kind) for item, kind in here if kind in ("isolator", "protector")]
