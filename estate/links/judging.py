"""A link on a given way: its lengths, its money, and its budget lines, stretch by stretch."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from estate.findings import Verdict
from estate.links.assess import signal_lines
from estate.links.camera import CameraFacts
from estate.links.conditions import NO_JOINTS, Conditions, Joints, cable_length_m
from estate.links.earths import EarthJudgement, End, with_items
from estate.links.found import Found, Reuse, Stretch
from estate.links.ground import Ground
from estate.links.indoors import indoor_lines
from estate.links.lines import ceiling, passes, with_profile_note
from estate.links.link import BudgetLine
from estate.links.power import (
    conductor_lines,
    extended_poe_lines,
    feed_loop_ohm,
    poe_lines,
    poe_loop_ohm,
    supply_lines,
    supply_volts,
)
from estate.links.protectors import protectors
from estate.links.schemes import Scheme
from estate.links.stretch_limits import supply_rating
from estate.links.variants import Variant

TOGETHER = "several media"
"""Quantity of stretches that share one reach: the sum of the shares that each takes of its own."""


@dataclass(frozen=True, slots=True)
class Laid:
    """One stretch as laid: cables, nodes and segments from the head's side, and the spare cables it takes."""

    variant: Variant
    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    reused: tuple[Reuse, ...] = ()

    @property
    def is_spare(self) -> bool:
        """Whether one spare cable is all of its signal cable."""
        return len(self.reused) == 1 and self.reused[0].beyond - self.reused[0].first == len(self.segments)


def signalling(camera: CameraFacts, signal: str) -> CameraFacts:
    """Return a camera's facts as they are on a stretch that carries another signal."""
    return camera if signal == camera.signal else replace(camera, signal=signal)


# Ends and joints


def ends_of(
    ground: Ground, scheme: Scheme, k: int, camera: int, site: int, nodes: Sequence[int]
) -> tuple[End, End]:
    """Return what stretch k ends at towards the camera and towards the head."""
    return far_end(ground, scheme, k, camera, site, nodes[-1]), near_end(ground, scheme, k, site, nodes[0])


def far_end(ground: Ground, scheme: Scheme, k: int, camera: int, site: int, node: int) -> End:
    """Return what stretch k ends at towards the camera; what a port feeds has the earth of the head."""
    if k == len(scheme.stages) - 1:
        return ground.cameras[camera].row
    return ground.sites[site].row if scheme.stops[k].by_port else ground.earths.node_place(node)


def near_end(ground: Ground, scheme: Scheme, k: int, site: int, node: int) -> End:
    """Return what stretch k ends at towards the head."""
    if k == 0 or scheme.stops[k - 1].by_port:
        return ground.sites[site].row
    return ground.earths.node_place(node)


def joints_of(ground: Ground, laid: Laid) -> Joints:
    """Return the joints of a stretch: those that its spare cables could have, and a good one at each of their ends."""
    if not laid.reused:
        return NO_JOINTS
    known = {spare.id: spare.joints for spare in ground.spares}
    bad = sum(known[each.cable].bad_or_unknown for each in laid.reused)
    return Joints(0 if laid.is_spare else 2 * len(laid.reused), bad)


# Quoting


def quoted(ground: Ground, camera: int, site: int, scheme: Scheme, laid: Sequence[Laid]) -> Found:
    """Return a link on a way with its lengths and its money, not judged yet."""
    stretches = tuple(_stretch(ground, camera, site, scheme, k, part) for k, part in enumerate(laid))
    items = ground.catalogue.items
    stops = sum(ground.prices.item(items[i]).value for stop in scheme.stops for i in stop.items)
    for stop, stretch in zip(scheme.stops, stretches, strict=False):
        stops += float(ground.power_money[stretch.nodes[-1]]) if stop.needs_mains else 0.0
    return Found(
        camera=camera,
        site=site,
        scheme=scheme,
        stretches=stretches,
        lines=(),
        own_cost=sum(_own_cost(ground, stretch) for stretch in stretches) + stops,
        works_cost=ground.works_cost((s.variant.cables, s.segments) for s in stretches),
        new_cable_m=sum(stretch.new_m for stretch in stretches),
        discouraged=any(ground.is_discouraged(s.variant.method, s.variant.cables) for s in stretches)
        or ground.is_discouraged(scheme.name, ()),
    )


def _stretch(ground: Ground, camera: int, site: int, scheme: Scheme, k: int, laid: Laid) -> Stretch:
    """Return one stretch with its lengths and its items."""
    stage, lengths = scheme.stages[k], ground.settings.lengths
    heights_m = (ground.sites[site].height_m if k == 0 else 0.0) + (
        ground.cameras[camera].height_m if k == len(scheme.stages) - 1 else 0.0
    )
    way_m = float(ground.network.segment_length_m[list(laid.segments)].sum()) if laid.segments else 0.0
    whole_m = cable_length_m(way_m, heights_m, lengths)
    spared = [s for each in laid.reused for s in laid.segments[each.first : each.beyond]]
    spare_way_m = float(ground.network.segment_length_m[spared].sum()) if spared else 0.0
    spare_m = sum(each.length_m for each in laid.reused)
    new_m = 0.0 if laid.is_spare else whole_m - spare_way_m * (1 + lengths.slack_percent / 100)
    far, near = ends_of(ground, scheme, k, camera, site, laid.nodes)
    leaves = ground.leaves_building(laid.segments)
    return Stretch(
        variant=laid.variant,
        signal=stage.signal,
        nodes=laid.nodes,
        segments=laid.segments,
        way_m=way_m,
        cable_length_m=new_m + spare_m,
        power_length_m=whole_m,
        at_head=stage.at_head,
        at_camera=stage.at_camera,
        inline=ground.earths.settled(laid.variant.cables, stage.feed, far, near, stage.signal)[1],
        protectors=protectors(laid.variant, stage.signal, ground.catalogue)[0] if leaves else (),
        reused=laid.reused,
        joints=joints_of(ground, laid),
    )


def _own_cost(ground: Ground, stretch: Stretch) -> float:
    """Money of a stretch's own cable, pulling, terminations and items [currency]."""
    prices, items = ground.prices, ground.catalogue.items
    bought = 1 + ground.settings.lengths.waste_percent / 100
    spared = {k for each in stretch.reused for k in range(each.first, each.beyond)}
    money = 0.0
    for number, cable in enumerate(stretch.variant.cables):
        family = ground.catalogue.cables[cable].family
        reused_m = sum(each.length_m for each in stretch.reused)
        length_m = stretch.power_length_m if number else max(stretch.cable_length_m - reused_m, 0.0)
        pulled = [s for k, s in enumerate(stretch.segments) if number or k not in spared]
        ends = 2 * (1 if number else len(stretch.pieces))
        money += length_m * bought * prices.rate("cable_m", cable).value
        money += (
            float((ground.network.segment_length_m[pulled] * ground.pull[pulled]).sum()) if pulled else 0.0
        )
        money += ends * prices.rate("termination", family).value
    every = (*stretch.at_head, *stretch.at_camera, *stretch.items)
    return money + sum(prices.item(items[i]).value for i in every)


# Judging


def judged(ground: Ground, found: Found) -> Found:
    """Return a quoted link with its budget lines."""
    return replace(found, lines=lines_with(ground, found, _feed_lines(ground, found)))


def lines_with(ground: Ground, found: Found, feed: Sequence[BudgetLine]) -> tuple[BudgetLine, ...]:
    """Return the budget lines of a link whose lines on its feed are worked out."""
    return (
        *(line for k in range(len(found.stretches)) for line in _signal_lines(ground, found, k)),
        *_shared_reach(ground, found),
        *(line for k in range(len(found.stretches)) for line in _indoor_lines(ground, found, k)),
        *feed,
        *(line for k in range(len(found.stretches)) for line in _separation_lines(ground, found, k)),
        *(line for k in range(len(found.stretches)) for line in _earth_lines(ground, found, k)),
    )


def _numbered(found: Found, k: int, lines: Sequence[BudgetLine]) -> list[BudgetLine]:
    """Return the lines of stretch k, marked so where there are several."""
    return [replace(line, stretch=k + 1) for line in lines] if len(found.stretches) > 1 else list(lines)


def _conditions(ground: Ground, found: Found, k: int) -> Conditions:
    """Return what stretch k is judged by; supplies are those of the head."""
    return ground.conditions(ground.sites[found.site], hot=ground.is_hot(found.stretches[k].segments))


def _signal_lines(ground: Ground, found: Found, k: int) -> list[BudgetLine]:
    """Return the lines on how far the signal goes on stretch k."""
    stretch = found.stretches[k]
    facts = signalling(ground.cameras[found.camera], stretch.signal)
    conditions = _conditions(ground, found, k)
    lines = signal_lines(stretch.variant, facts, stretch.cable_length_m, conditions, stretch.joints)
    noted = with_profile_note(lines)
    return _numbered(found, k, with_items(noted, stretch.items, ground.catalogue, ground.settings.limits))


def _indoor_lines(ground: Ground, found: Found, k: int) -> list[BudgetLine]:
    """Return how far the cables of stretch k run through buildings that their sheaths aren't for."""
    stretch = found.stretches[k]
    lines = indoor_lines(ground.network, ground.catalogue, stretch.variant.cables, stretch.segments)
    return _numbered(found, k, lines)


def _shared_reach(ground: Ground, found: Found) -> Iterator[BudgetLine]:
    """Yield one line for each run of stretches between which the signal doesn't start afresh."""
    run = [0]
    for k in range(1, len(found.stretches) + 1):
        if k < len(found.stretches) and not found.scheme.stops[k - 1].restores:
            run.append(k)
            continue
        if len(run) > 1:
            share = sum(_share(ground, found, each) for each in run)
            margin = ground.settings.limits.margin_percent["length"]
            yield ceiling(
                TOGETHER, 100 * share, 100.0, "%", margin, source="common practice, no source",
                text="of reach, each stretch by its own",
            )  # fmt: skip
        run = [k]


def _share(ground: Ground, found: Found, k: int) -> float:
    """Return what stretch k takes of its own reach; joints cost reach too."""
    stretch = found.stretches[k]
    facts = signalling(ground.cameras[found.camera], stretch.signal)
    conditions = _conditions(ground, found, k)
    free_m, jointed_m = (
        ground.limits.length_m(stretch.variant, facts, conditions, stretch.items, joints, powered=False)
        for joints in (NO_JOINTS, stretch.joints)
    )
    return (stretch.cable_length_m + free_m - jointed_m) / free_m


def _feed_lines(ground: Ground, found: Found) -> list[BudgetLine]:
    """Return the lines on what reaches the camera as power."""
    scheme, camera = found.scheme, ground.cameras[found.camera]
    feed = ground.catalogue.feeds[scheme.feed]
    carrying = range(scheme.source, len(found.stretches))
    last = len(found.stretches) - 1
    if feed.kind == "local":
        return []
    if feed.kind == "poe":
        conditions = _conditions(ground, found, last)
        if scheme.extended:
            own_w = sum(ground.catalogue.items[i].number("own_w") for i in scheme.stops[0].items)
            legs_ohm = [_poe_loop_ohm(ground, found, k) for k in carrying]
            return extended_poe_lines(found.variant, camera, legs_ohm, own_w, conditions)
        return poe_lines(found.variant, camera, found.stretches[last].cable_length_m, conditions)
    loop_ohm = sum(_loop_ohm(ground, found, k) for k in carrying)
    site = ground.sites[found.site] if scheme.source == 0 else None
    conditions = ground.conditions(site, hot=ground.is_hot(found.stretches[last].segments))
    supply = supply_volts(found.variant, camera, conditions)
    lines = conductor_lines(found.variant, camera, loop_ohm, supply, conditions)
    if scheme.source == 0:
        return lines
    rating = supply_rating(scheme, conditions)
    return [*lines, *supply_lines(found.variant, camera, loop_ohm, supply, rating, conditions)]


def _poe_loop_ohm(ground: Ground, found: Found, k: int) -> float:
    """Return the loop of power by Ethernet over stretch k, cords included [Ω]."""
    stretch = found.stretches[k]
    return poe_loop_ohm(stretch.variant, stretch.cable_length_m, _conditions(ground, found, k))


def _loop_ohm(ground: Ground, found: Found, k: int) -> float:
    """Return the loop of the feed over stretch k [Ω]."""
    stretch = found.stretches[k]
    length_m = stretch.power_length_m if stretch.variant.power_cable else stretch.cable_length_m
    return feed_loop_ohm(stretch.variant, length_m, _conditions(ground, found, k))


def _separation_lines(ground: Ground, found: Found, k: int) -> list[BudgetLine]:
    """Return the separation line of the cable that asks for most on stretch k."""
    stretch = found.stretches[k]
    classes = [ground.catalogue.cables[cable].separation_class for cable in stretch.variant.cables]
    informs = ground.settings.design.proximity == "cost"
    lines = [ground.separation.line(stretch.segments, c, informs) for c in dict.fromkeys(classes)]
    worst_first = [Verdict.OUTSIDE, Verdict.VERIFY, Verdict.MARGINAL, Verdict.WITHIN]
    known = sorted((x for x in lines if x is not None), key=lambda x: worst_first.index(x.verdict))
    return _numbered(found, k, known[:1])


def _earth_lines(ground: Ground, found: Found, k: int) -> list[BudgetLine]:
    """Return what stretch k does between the earths of its ends."""
    stretch = found.stretches[k]
    far, near = ends_of(ground, found.scheme, k, found.camera, found.site, stretch.nodes)
    line = ground.earths.line(
        stretch.variant.cables,
        stretch.variant.feed,
        far,
        near,
        stretch.segments,
        isolated=bool(stretch.inline),
    )
    return _numbered(found, k, [line] if line is not None else [])


def stretch_earths(ground: Ground, found: Found, k: int) -> EarthJudgement:
    """Return what stretch k of a link does between the earths of its ends."""
    stretch = found.stretches[k]
    far, near = ends_of(ground, found.scheme, k, found.camera, found.site, stretch.nodes)
    return ground.earths.judge(
        stretch.variant.cables,
        stretch.variant.feed,
        far,
        near,
        stretch.segments,
        isolated=bool(stretch.inline),
    )


def stands(found: Found, *, with_verify: bool) -> bool:
    """Whether a judged link may be designed: nothing outside; to be verified only what is a fact of the site."""
    return all(
        line.informs
        or passes(line)
        or (with_verify and line.quantity == "separation" and line.verdict is Verdict.VERIFY)
        for line in found.lines
    )
