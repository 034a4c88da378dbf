"""The uplinks of a design: cabinets with their switches, trunks, and each uplink as a link judged like any other."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from estate.findings import NAN
from estate.links.lines import governing, in_words, verdict_of
from estate.links.link import CableRun, Equipment, Link
from estate.links.search import LinkSearch
from estate.placement.cabinets import CabinetUse, Trunk
from estate.placement.candidates import cabinet_money
from estate.placement.phases import link_phases
from estate.placement.task import PlacementAnswer, PlacementTask, Section
from estate.placement.trunk_ways import way_m
from estate.placement.uplink_reach import UPLINK, uplink_lines


def uplink_id(patch: str, way: int) -> str:
    """Return what an uplink is called: the working one by its cabinet, a second one numbered."""
    return f"U-{patch}" if way == 0 else f"U{way + 1}-{patch}"


def trunks_laid(search: LinkSearch, task: PlacementTask, answer: PlacementAnswer) -> dict[int, Trunk]:
    """Return the trunks laid, by section, numbered in the order of their sections."""
    carried: dict[int, list[str]] = defaultdict(list)
    for place, ways in zip(task.cabinets, answer.ways, strict=True):
        for way, along in enumerate(ways):
            for k in along:
                carried[k].append(uplink_id(place.id, way))
    laid = [k for k, n in enumerate(answer.cable) if n >= 0]
    found = {}
    for number, k in enumerate(laid, 1):
        section, size = task.sections[k], task.sections[k].sizes[int(answer.cable[k])]
        found[k] = Trunk(
            id=f"T{number}",
            cable=size.model,
            cores=size.cores,
            start=search.sites[section.tail].id,
            end=search.sites[section.head].id,
            nodes=_nodes(search, section),
            segments=section.segments,
            length_m=way_m(search, section.segments),
            cable_length_m=section.cable_m,
            uplinks=tuple(sorted(carried[k])),
        )
    return found


def _nodes(search: LinkSearch, section: Section) -> tuple[int, ...]:
    """Return the nodes of a section from its tail."""
    nodes = [search.sites[section.tail].node]
    for segment in section.segments:
        ends = int(search.network.segment_from[segment]), int(search.network.segment_to[segment])
        nodes.append(ends[1] if nodes[-1] == ends[0] else ends[0])
    return tuple(nodes)


def uplink_links(
    search: LinkSearch,
    task: PlacementTask,
    answer: PlacementAnswer,
    trunks: dict[int, Trunk],
    own: Sequence[Link] = (),
) -> tuple[Link, ...]:
    """Return every uplink as a link.

    A trunk is counted in the uplink of the earliest phase that runs in it, of those in the first; `own` are the links
    of the cameras, which say when that is.
    """
    names = [
        uplink_id(place.id, way)
        for place, ways in zip(task.cabinets, answer.ways, strict=True)
        for way in range(len(ways))
    ]
    owners = {trunk.id: min(trunk.uplinks, key=names.index) for trunk in trunks.values()}
    links = _uplinks(search, task, answer, trunks, owners)
    if not search.survey.settings.phases.names:
        return links
    phase = link_phases(search.survey, search.network, (*own, *links))
    order = {link.id: (phase.get(len(own) + k, 0), k) for k, link in enumerate(links)}
    owners = {trunk.id: min(trunk.uplinks, key=order.__getitem__) for trunk in trunks.values()}
    return _uplinks(search, task, answer, trunks, owners)


def _uplinks(
    search: LinkSearch,
    task: PlacementTask,
    answer: PlacementAnswer,
    trunks: dict[int, Trunk],
    owners: Mapping[str, str],
) -> tuple[Link, ...]:
    """Return the uplinks when each trunk is counted in its owner."""
    return tuple(
        _uplink(search, task, answer, p, way, trunks, owners)
        for p, ways in enumerate(answer.ways)
        for way in range(len(ways))
    )


def _uplink(
    search: LinkSearch,
    task: PlacementTask,
    answer: PlacementAnswer,
    p: int,
    way: int,
    trunks: dict[int, Trunk],
    owners: Mapping[str, str],
) -> Link:
    """Return one uplink, from the recorder to its cabinet; `owners` are the uplinks that trunks are counted in."""
    place, home = task.cabinets[p], search.sites[int(answer.home[p])]
    runs: list[CableRun] = []
    nodes: list[int] = [home.node]
    money = 0.0
    at = int(answer.home[p])
    for number, k in enumerate(reversed(answer.ways[p][way]), 1):
        trunk, section = trunks[k], task.sections[k]
        forth = section.tail == at
        at = section.head if forth else section.tail
        run_nodes = trunk.nodes if forth else trunk.nodes[::-1]
        shared = owners[trunk.id] != uplink_id(place.id, way)
        money += 0.0 if shared else section.sizes[int(answer.cable[k])].cost
        nodes += run_nodes[1:]
        runs.append(_run(search, trunk, number, run_nodes, shared=shared, forth=forth))
    cable_length_m = sum(run.cable_length_m for run in runs)
    lines = tuple(uplink_lines(search, (run.cable for run in runs), cable_length_m, len(runs) - 1))
    least = min(governing(lines), key=lambda line: line.margin_percent, default=None)
    modules = [Equipment("fibre-module", node) for node in (home.id, place.id)]
    items = search.catalogue.items
    money += sum(search.prices.item(items[each.item]).value for each in modules)
    cameras = [link for link in answer.choice if link >= 0 and task.candidates[int(link)].cabinet == p]
    return Link(
        id=uplink_id(place.id, way),
        kind="uplink" if way == 0 else "standby",
        camera="",
        head=home.id,
        recorder=home.id,
        method=UPLINK,
        feed="local",
        port="ethernet",
        runs=tuple(runs),
        nodes=tuple(nodes),
        segments=tuple(segment for run in runs for segment in run.segments),
        length_m=sum(run.length_m for run in runs),
        cable_length_m=cable_length_m,
        equipment=tuple(modules),
        lines=lines,
        verdict=verdict_of(lines),
        limiting=in_words(least) if least is not None else "",
        margin_percent=least.margin_percent if least is not None else NAN,
        mbps=sum(task.candidates[int(k)].mbps for k in cameras) if way == 0 else NAN,
        own_cost=money,
        patch=place.id,
    )


def _run(
    search: LinkSearch, trunk: Trunk, number: int, nodes: tuple[int, ...], *, shared: bool, forth: bool
) -> CableRun:
    bought = 1 + search.settings.lengths.waste_percent / 100
    return CableRun(
        role="signal",
        cable=trunk.cable,
        length_m=trunk.length_m,
        cable_length_m=trunk.cable_length_m,
        purchase_m=0.0 if shared else trunk.cable_length_m * bought,
        method=UPLINK,
        feed="local",
        nodes=nodes,
        segments=trunk.segments if forth else trunk.segments[::-1],
        at_head=("fibre-module",),
        at_camera=("fibre-module",),
        stretch=number,
        trunk=trunk.id,
        shared=shared,
    )


def cabinets_used(search: LinkSearch, task: PlacementTask, answer: PlacementAnswer) -> tuple[CabinetUse, ...]:
    """Return the cabinets that stand, in the order of their points."""
    uses = []
    for p in answer.standing(task):
        place, site = task.cabinets[p], search.sites[search.recorders + p]
        n = int(answer.switch[p])
        links = [
            task.candidates[int(k)] for k in answer.choice if k >= 0 and task.candidates[int(k)].cabinet == p
        ]
        switch = place.switches[n] if n >= 0 else None
        new = switch is not None and not switch.existing
        uses.append(
            CabinetUse(
                patch=site,
                switch=switch,
                home=search.sites[int(answer.home[p])].id if n >= 0 else "",
                uplinks=tuple(uplink_id(place.id, way) for way in range(len(answer.ways[p]))),
                used=len(links),
                poe_w=sum(link.poe_w for link in links),
                cabinet_cost=cabinet_money(search, site)[0],
                power_cost=place.power_cost if switch is not None else 0.0,
                switch_cost=switch.cost if switch is not None and new else 0.0,
            )
        )
    return tuple(uses)
