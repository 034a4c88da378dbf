"""Small placement tasks for the tests: short forms, a random maker, and an exhaustive search."""

from fractions import Fraction
from itertools import combinations, product

import numpy as np

from estate.placement.task import Cabinet, Candidate, PlacementTask, Section, SectionSize, Site, Switch

INF = float("inf")


def site(name, *sizes, existing=False, **limits):
    """A site from (channels, cost) pairs."""
    return Site(name, existing, tuple((c, float(m), f"r{c}") for c, m in sizes), **limits)


def link(camera, place, cost=1.0, **other):
    """A candidate link, Ethernet unless told."""
    values = {"port": "ethernet", "cable_m": cost, "verify": False, "discouraged": False, "mbps": 4.0}
    values |= {"poe_w": 0.0, "works": ()} | other
    return Candidate(camera, place, cost=cost, **values)


def task(sites, links, cameras=None, **other):
    """A task with one priority, no spare and no gap unless told."""
    count = 1 + max((k.camera for k in links), default=-1) if cameras is None else cameras
    values = {
        "priorities": (5,) * count,
        "works_cost": {},
        "objective": "cost",
        "spare_percent": 0.0,
        "recorders_exactly": None,
        "recorders_at_most": None,
        "apart": (),
        "gap_percent": 0.0,
        "time_limit_s": 60.0,
        # common practice, no source
        "spare_cores": 2,
        "spare_cores_percent": 50.0,
    } | other
    names = tuple(f"C{n + 1}" for n in range(count))
    return PlacementTask(cameras=names, sites=tuple(sites), candidates=tuple(links), **values)


def random_task(rng, cameras=4, sites=3, most_links=4):
    """A small task in which every kind of limit can bind."""

    def maybe(share, value):
        return value if rng.random() < share else None

    places = []
    for s in range(sites):
        sizes = [
            (int(c), int(rng.integers(0, 30)))
            for c in sorted(rng.choice(6, int(rng.integers(1, 3)), replace=False) + 1)
        ]
        existing = bool(rng.random() < 0.3)
        limits = {
            "channels_analogue": maybe(0.25, int(rng.integers(0, 3))),
            "channels_network": maybe(0.25, int(rng.integers(0, 4))),
            "mbps_max": maybe(0.3, float(rng.integers(4, 20))),
            "poe_ports": maybe(0.25, int(rng.integers(0, 3))),
            "poe_w": maybe(0.3, float(rng.integers(5, 50))),
        }
        choice = rng.random()
        flags = {"keep": bool(choice < 0.12), "forbid": bool(choice > 0.9)}
        places.append(
            site(f"R{s}", *(sizes[:1] if existing else sizes), existing=existing, **limits, **flags)
        )
    links = []
    for c in range(cameras):
        for _ in range(int(rng.integers(0, most_links + 1))):
            analogue = bool(rng.random() < 0.3)
            links.append(
                link(
                    c,
                    int(rng.integers(sites)),
                    float(rng.integers(0, 25)),
                    port="analogue" if analogue else "ethernet",
                    cable_m=float(rng.integers(0, 12)),
                    verify=bool(rng.random() < 0.25),
                    discouraged=bool(rng.random() < 0.25),
                    mbps=float(rng.choice([2, 4, 8])),
                    poe_w=0.0 if analogue else float(rng.choice([0, 7, 15.4, 30])),
                    works=tuple(int(w) for w in rng.integers(0, 4, int(rng.integers(0, 3)))),
                )
            )
    count = rng.random()
    return task(
        places,
        links,
        cameras,
        priorities=tuple(int(p) for p in rng.integers(1, 4, cameras)),
        works_cost={w: float(rng.integers(0, 40)) for w in range(4)},
        objective=str(rng.choice(["cost", "cable_length"])),
        spare_percent=float(rng.choice([0, 25, 50])),
        recorders_exactly=int(rng.integers(0, sites + 1)) if count < 0.25 else None,
        recorders_at_most=int(rng.integers(0, sites)) if count > 0.7 else None,
        apart=((0, 1), (1, 2, 3))[: int(rng.integers(0, 3))] if cameras > 3 else (),
    )


def value(given, choice, used):
    """The value of a choice with these sites used: a tuple to make least; None where it breaks a rule.

    Recorders cost the cheapest size that is large enough. All in exact fractions.
    """
    links = [given.candidates[k] for k in choice if k >= 0]
    money = sum(Fraction(k.cost) for k in links)
    money += sum(Fraction(given.works_cost[w]) for w in {w for k in links for w in k.works})
    for s in used:
        place, here = given.sites[s], [k for k in links if k.site == s]
        spare = 0 if place.existing else Fraction(given.spare_percent)
        fit = [cost for channels, cost, _ in place.sizes if len(here) * (100 + spare) <= 100 * channels]
        if not fit or not _limits_kept(place, here):
            return None
        if any(sum(k.camera in group for k in here) > 1 for group in given.apart):
            return None
        money += 0 if place.existing else Fraction(min(fit))
    served = {k.camera for k in links}
    levels = sorted(set(given.priorities))
    unserved = tuple(-sum(given.priorities[c] == level for c in served) for level in levels)
    length = sum(Fraction(k.cable_m) for k in links)
    least = (money,) if given.objective == "cost" else (length, money)
    return (*unserved, sum(k.verify for k in links), sum(k.discouraged for k in links), *least)


def _limits_kept(place, links):
    taken = {
        "channels_analogue": sum(k.port == "analogue" for k in links),
        "channels_network": sum(k.port == "ethernet" for k in links),
        "mbps_max": sum(k.mbps for k in links),
        "poe_ports": sum(k.poe_w > 0 for k in links),
        "poe_w": sum(round(Fraction(k.poe_w), 1) for k in links),
    }
    return all(getattr(place, name) is None or taken[name] <= getattr(place, name) for name in taken)


def exhaustive(given):
    """The least value over every choice of link for every camera and every set of used sites; None if there is none."""
    own = [
        [-1, *(k for k, c in enumerate(given.candidates) if c.camera == n)] for n in range(len(given.cameras))
    ]
    keep = {s for s, place in enumerate(given.sites) if place.keep}
    allowed = {s for s, place in enumerate(given.sites) if not place.forbid}
    best = None
    for choice in product(*own):
        needed = keep | {given.candidates[k].site for k in choice if k >= 0}
        if not needed <= allowed:
            continue
        extra = 0 if given.recorders_exactly is None else given.recorders_exactly - len(needed)
        most = INF if given.recorders_at_most is None else given.recorders_at_most
        if extra < 0 or len(needed) + extra > most:
            continue
        for more in combinations(sorted(allowed - needed), extra):
            found = value(given, choice, needed | set(more))
            if found is not None and (best is None or found < best):
                best = found
    return best


def at(answer, given, camera):
    """The site a camera is linked to, by id; empty where it isn't."""
    k = answer.choice[camera]
    return given.sites[given.candidates[k].site].id if k >= 0 else ""


def used(answer, given):
    """The ids of the sites used."""
    return [place.id for place, n in zip(given.sites, answer.size, strict=True) if n >= 0]


def answer_value(given, answer):
    """The value of an answer, from its choice and used sites alone."""
    return value(given, answer.choice.tolist(), set(np.flatnonzero(answer.size >= 0).tolist()))


def campus(rng, cameras, sites, cabinets=0, *, side_m=None, near=10):
    """A campus drawn at random: cameras reach the nearest recorders, and cabinets joined to one another by fibre.

    Recorders cost by size and for their room; cables cost by metre, half of the cabinets' trenches must be dug, once
    for all that share them. All figures are invented.
    """
    side_m = side_m or 60.0 * cameras**0.5
    at = rng.uniform(0, side_m, (cameras, 2))
    site_at, cabinet_at = rng.uniform(0, side_m, (sites, 2)), rng.uniform(0, side_m, (cabinets, 2))
    away = np.abs(at[:, None] - site_at).sum(axis=2)
    room = rng.integers(10, 60, sites) * 100.0
    recorders = [
        site(f"R{s}", (16, room[s] + 900), (32, room[s] + 1600), (64, room[s] + 2800), mbps_max=320.0)
        for s in range(sites)
    ]
    mbps = rng.choice([4.0, 6.0, 8.0, 12.0], cameras)
    watts = rng.choice([7.0, 15.4, 30.0], cameras)
    cells = max(1, int(side_m // 120))

    def works(a, b):
        """The cells of a grid that an L-shaped way passes; every third has a route already."""
        (x0, y0), (x1, y1) = (np.minimum(p // 120, cells).astype(int) for p in (a, b))
        passed = [(x, y0) for x in range(min(x0, x1), max(x0, x1) + 1)]
        passed += [(x1, y) for y in range(min(y0, y1), max(y0, y1) + 1)]
        return tuple(sorted({int(x * (cells + 1) + y) for x, y in passed if (x + 2 * y) % 3}))

    def made(c, end, metres, to, **other):
        own = {"mbps": mbps[c], "works": works(to, at[c]), "cable_m": metres} | other
        return link(c, end, 6.0 * metres + 60, **own)

    links = [
        made(c, int(s), away[c, s], site_at[s]) for c in range(cameras) for s in np.argsort(away[c])[:near]
    ]
    around = np.abs(at[:, None] - cabinet_at).sum(axis=2)
    links += [
        made(c, -1, around[c, p], cabinet_at[p], cabinet=int(p), poe_w=watts[c], draw_w=0.8 * watts[c])
        for c in range(cameras)
        for p in np.argsort(around[c])[:2]
        if around[c, p] < 100
    ]
    return task(
        recorders,
        links,
        cameras,
        works_cost=dict.fromkeys(range((cells + 1) ** 2 + 1), 2500.0),
        cabinets=tuple(_campus_cabinet(p) for p in range(cabinets)),
        sections=tuple(_campus_sections(site_at, cabinet_at, works)),
        spare_percent=25.0,
        gap_percent=0.1,
        time_limit_s=300.0,
    )


def _campus_cabinet(p):
    switches = (
        Switch(8, 130.0, 300.0, "s8"),
        Switch(16, 250.0, 520.0, "s16"),
        Switch(24, 370.0, 800.0, "s24"),
    )
    return Cabinet(f"P{p}", 400.0, 600.0, switches, uplink_mbps=1000.0)


def _campus_sections(site_at, cabinet_at, works):
    """Fibre from each cabinet to its two nearest sites and its two nearest cabinets."""
    sites = len(site_at)
    places = np.vstack([site_at, cabinet_at])
    for p, here in enumerate(cabinet_at):
        away = np.abs(places - here).sum(axis=1)
        away[sites + p] = np.inf
        near = [*np.argsort(away[:sites])[:2], *(sites + np.argsort(away[sites:])[:2])]
        for end in (int(n) for n in near if np.isfinite(away[n])):
            sizes = tuple(SectionSize(n, away[end] * (2 + n / 8) + 150) for n in (4, 12, 24))
            way = works(places[end], here)
            yield Section(sites + p, end, sizes, float(away[end]), works=way, routes=tuple(map(str, way)))
