"""The schedule of equipment: what is put up where, by place."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from estate.links.link import Equipment
from estate.output.result import Table, table
from estate.placement.design import Design

EQUIPMENT_PLACES = (
    "place", "name", "building", "level", "item", "description", "quantity", "fed_by", "links", "lacks",
)  # fmt: skip


def equipment_places_table(design: Design) -> Table:
    """One row per place and item, of links first by place, then recorders and cabinets that are new."""
    links: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for link in design.links:
        for each in link.equipment:
            links[_key(each)].append(link.id)
    rows = [
        (
            place,
            *_where(design, place),
            item,
            design.catalogue.items[item].name,
            len(used),
            fed_by,
            _once(used),
            "",
        )
        for (place, item, fed_by), used in sorted(links.items())
    ]
    return table(EQUIPMENT_PLACES, [*rows, *_heads(design)])


def _key(each: Equipment) -> tuple[str, str, str]:
    return each.node, each.item, each.fed_by


def _once(links: list[str]) -> list[str]:
    return list(dict.fromkeys(links))


def _where(design: Design, place: str) -> tuple[Any, Any, Any]:
    """Return name, building and level of a place: of its point, else of its node."""
    points, network = design.survey.points, design.network
    row = points.row_of().get(place)
    if row is not None:
        return points["name"][row], points["building"][row], points["level"][row]
    nodes = [n for n, name in enumerate(network.node_id) if name == place]
    if not nodes:
        return "", "", None
    building = int(network.node_building[nodes[0]])
    name = str(design.survey.buildings["id"][building]) if building >= 0 else ""
    return "", name, float(network.node_level[nodes[0]])


def _heads(design: Design) -> Iterator[tuple[Any, ...]]:
    """Yield new recorders, new cabinets and new switches."""
    for recorder in design.recorders:
        if not recorder.site.existing:
            text = f"Recorder, {recorder.channels} channels"
            where = _where(design, recorder.site.id)
            yield recorder.site.id, *where, recorder.model, text, 1, "mains", "", ""
    items = design.catalogue.items
    for cabinet in design.cabinets:
        place = cabinet.patch.id
        if not cabinet.patch.existing:
            yield place, *_where(design, place), "cabinet", items["cabinet"].name, 1, "", "", ""
        if cabinet.switch is not None and not cabinet.switch.existing:
            model = cabinet.switch.model
            yield place, *_where(design, place), model, items[model].name, 1, "mains", cabinet.uplinks, ""
