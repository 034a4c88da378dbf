"""Sections that trunk cables could be laid in: ways of fibre between recorders and cabinets."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from estate.links.search import LinkSearch
from estate.links.variants import usable_cables
from estate.placement.channels import CORES_PER_UPLINK
from estate.placement.room import areas
from estate.placement.task import Section, SectionSize
from estate.placement.trunk_ways import trunk_length_m, trunk_ways
from estate.placement.uplink_reach import UPLINK, shares


def sections(
    search: LinkSearch, searches: Sequence[LinkSearch], rooms: Mapping[int, float]
) -> tuple[Section, ...]:
    """Return the sections between places, on the ways that each of `searches` finds; every way once.

    Money and works are those of `search`. Places are numbered as its sites: recorders, then cabinets. One section
    has the cables that may lie on its way as sizes.
    """
    ways: dict[tuple[int, int, tuple[int, ...]], set[str]] = defaultdict(set)
    if search.recorders == len(search.sites):
        return ()
    for each in searches:
        for cable in fibres(each):
            for tail, head, segments in trunk_ways(each, cable):
                ways[tail, head, segments].add(cable)
    return tuple(_section(search, *key, sorted(cables), rooms) for key, cables in sorted(ways.items()))


def fibres(search: LinkSearch) -> list[str]:
    """Return the fibre cables that uplinks may use: single-mode, else the multimode type of the longest reach.

    One type, as they are spliced; of equal reach the cheapest. None where uplinks may not be designed.
    """
    if UPLINK not in (search.settings.design.methods or search.catalogue.methods):
        return []
    method = search.catalogue.methods[UPLINK]
    usable = usable_cables(method.signal_cables, search.catalogue, search.settings.design)
    found = [cable for cable in usable if search.catalogue.cables[cable].cores > CORES_PER_UPLINK]
    single_mode = [cable for cable in found if not _is_multimode(search, cable)]
    return single_mode or sorted(found, key=lambda cable: _reach_order(search, cable))[:1]


def _reach_order(search: LinkSearch, cable: str) -> tuple[float, float, str]:
    """Order cables by their reach, the longest first, then by price."""
    return max(shares(search, cable, KM)), search.prices.rate("cable_m", cable).value, cable


KM = 1000.0


def _is_multimode(search: LinkSearch, cable: str) -> bool:
    return "modal_mhz_km_850" in search.catalogue.cables[cable].figures


def _section(
    search: LinkSearch,
    tail: int,
    head: int,
    segments: tuple[int, ...],
    cables: Sequence[str],
    rooms: Mapping[int, float],
) -> Section:
    """Return one section with every cable that may lie there; discouraged ones only where there is no other."""
    wished = [cable for cable in cables if not search.is_discouraged(UPLINK, (cable,))]
    length_m = trunk_length_m(search, tail, head, segments)
    used = [shares(search, cable, length_m) for cable in wished or cables]
    return Section(
        tail=tail,
        head=head,
        sizes=tuple(_size(search, cable, segments, length_m, rooms) for cable in wished or cables),
        cable_m=length_m,
        segments=segments,
        works=tuple(sorted({s for s in segments if search.works[s] > 0})),
        routes=tuple(sorted({_route(search, s) for s in segments})),
        shares=tuple(max(of_limit) for of_limit in zip(*used, strict=True)),
        discouraged=not wished,
    )


def _route(search: LinkSearch, segment: int) -> str:
    """Return what two cables share that fail together: the route, or the segment itself where it is of none."""
    route = int(search.network.segment_route[segment])
    return (
        str(search.survey.routes["id"][route]) if route >= 0 else f"spur {search.network.segment_id[segment]}"
    )


def _size(
    search: LinkSearch, cable: str, segments: tuple[int, ...], length_m: float, rooms: Mapping[int, float]
) -> SectionSize:
    """Return one cable in a section with its money: cable with waste, pulling, both ends made off."""
    prices, bought = search.prices, 1 + search.settings.lengths.waste_percent / 100
    along = list(segments)
    pulled = float((search.network.segment_length_m[along] * search.pull[along]).sum()) if along else 0.0
    money = length_m * bought * prices.rate("cable_m", cable).value + pulled
    money += 2 * prices.rate("termination", "fibre").value
    fill = areas(((cable, s) for s in segments), search.catalogue, rooms)
    return SectionSize(search.catalogue.cables[cable].cores, money, fill, cable)
