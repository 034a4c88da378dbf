"""The schedule of power: what each place has to feed, and from what."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from estate.links.camera import CameraFacts
from estate.links.link import Link
from estate.links.supplies import supply_key
from estate.output.lacking import lacking
from estate.output.result import Table, table
from estate.placement.design import Design

POWER = (
    "place", "purpose", "feed", "volts", "load_w", "load_night_w", "allocated_w", "rating_w", "outputs", "used", "ups",
    "supply", "cameras", "lacks",
)  # fmt: skip
"""Loads are those of the cameras, losses on the way apart; `allocated_w` is what ports set aside for them."""

MAINS, POE = "mains", "power by Ethernet"


def power_table(design: Design) -> Table:
    """One row per source of a feed, per camera fed where it stands, and per place of equipment that needs mains."""
    return table(POWER, [*_sources(design), *_local(design), *_heads(design), *_on_the_way(design)])


def _cameras(design: Design, links: Sequence[Link]) -> list[CameraFacts]:
    known = {camera.id: camera for camera in design.cameras}
    return [known[link.camera] for link in links]


def _sources(design: Design) -> Iterator[tuple[Any, ...]]:
    """Yield the feeds that go over cable, by where they begin and what gives them."""
    fed: dict[tuple[str, str, float], list[Link]] = defaultdict(list)
    for link in design.links:
        if link.camera and link.fed_at:
            (camera,) = _cameras(design, [link])
            fed[supply_key(link, camera, design.catalogue) or (link.fed_at, POE, np.nan)].append(link)
    for (place, kind, volts), links in sorted(fed.items(), key=lambda each: each[0][:2]):
        cameras = _cameras(design, links)
        day, night = (sum(getattr(c, column) for c in cameras) for column in ("load_w", "load_night_w"))
        given = _ports(design, place, links) if kind == POE else _supply(design, place, kind, volts, links)
        rating, outputs, ups, supply = given
        facts = {"load_w": day, "load_night_w": night, "rating_w": rating}
        allocated = sum(link.poe_w for link in links) or np.nan
        feeds = list(dict.fromkeys(link.feed for link in links))
        yield (
            place, "feeds cameras over cable", feeds, volts, day, night, allocated, rating, outputs, len(links), ups,
            supply, [camera.id for camera in cameras], lacking(facts),
        )  # fmt: skip


def _supply(
    design: Design, place: str, kind: str, volts: float, links: Sequence[Link]
) -> tuple[float, float, Any, Any]:
    """Return rating [W], outputs, UPS and name of the supplies at a place; NaN and blank where not known."""
    supplies = design.survey.supplies
    fits = (supplies["at"] == place) & (supplies["kind"] == kind) & (supplies["volts"] == volts)
    rows = np.flatnonzero(fits).tolist()
    if rows:
        ups = [supplies["ups"][r] for r in rows]
        return (
            float(supplies["watts"][rows].sum()), float(supplies["outputs"][rows].sum()),
            None if None in ups else "yes" if all(ups) else "no", [supplies["id"][r] for r in rows],
        )  # fmt: skip
    items = [
        each.item for link in links for each in link.equipment
        if each.node == place and design.catalogue.items[each.item].kind == "supply"
    ]  # fmt: skip
    if not items:
        return np.nan, np.nan, None, ""
    ratings = [design.catalogue.items[item] for item in items]
    watts, outputs = (sum(item.number(name) for item in ratings) for name in ("watts", "outputs"))
    return watts, outputs, None, [f"{items.count(item)}×{item}" for item in dict.fromkeys(items)]


def _ports(design: Design, place: str, links: Sequence[Link]) -> tuple[float, float, Any, Any]:
    """Return power and ports of the switch or recorder that feeds by Ethernet."""
    for cabinet in design.cabinets:
        if cabinet.patch.id == place and cabinet.switch is not None:
            switch = cabinet.switch
            return np.nan if switch.poe_w is None else switch.poe_w, switch.ports, None, switch.model
    points = design.survey.points
    row = points.row_of().get(place)
    if row is not None and points["kind"][row] == "recorder":
        return float(points["poe_w"][row]), float(points["poe_ports"][row]), None, "recorder's own ports"
    switches = [
        each.item for link in links for each in link.equipment
        if each.node == place and design.catalogue.items[each.item].kind == "switch"
    ]  # fmt: skip
    found = [design.catalogue.items[item] for item in switches]
    if not found:
        return np.nan, np.nan, None, ""
    return sum(i.number("poe_w") for i in found), sum(i.number("ports") for i in found), None, switches


def _local(design: Design) -> Iterator[tuple[Any, ...]]:
    """Yield the cameras fed where they stand."""
    for link in design.links:
        if link.camera and link.method and not link.fed_at:
            (camera,) = _cameras(design, [link])
            ups = {"ups": "yes", "unswitched": "no"}.get(str(camera.power))
            facts = {"load_w": camera.load_w, "load_night_w": camera.load_night_w}
            yield (
                camera.id, "camera fed where it stands", MAINS, np.nan, camera.load_w, camera.load_night_w, None, None,
                None, 1, ups, "", camera.id, lacking(facts),
            )  # fmt: skip


def _heads(design: Design) -> Iterator[tuple[Any, ...]]:
    """Yield the mains that recorders and switches need."""
    points = design.survey.points
    sites = [("recorder", use.site) for use in design.recorders]
    sites += [("switch", use.patch) for use in design.cabinets if use.switch is not None]
    for what, site in sites:
        power = points["power"][site.row]
        ups = {"ups": "yes", "unswitched": "no"}.get(str(power))
        yield site.id, what, MAINS, None, None, None, None, None, None, None, ups, power, "", ""


def _on_the_way(design: Design) -> Iterator[tuple[Any, ...]]:
    """Yield the mains that equipment on the way needs, by place."""
    items = design.catalogue.items
    found: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for link in design.links:
        for each in link.equipment:
            if each.fed_by == MAINS and items[each.item].kind != "supply":
                found[each.node].append((each.item, link.camera))
    for place, here in sorted(found.items()):
        load_w = sum(items[item].number("own_w") for item, _ in here)
        names = [items[item].name for item, _ in here]
        yield (
            place, "equipment on the way: " + ", ".join(dict.fromkeys(names)), MAINS, None, load_w, load_w, None, None,
            None, len(here), None, "", [camera for _, camera in here], lacking({"load_w": load_w}),
        )  # fmt: skip
