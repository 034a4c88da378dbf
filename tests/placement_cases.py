"""Small placement tasks for the tests: short forms, a random maker, and an exhaustive search."""

from fractions import Fraction
from itertools import combinations, product

import numpy as np

from estate.placement.task import Candidate, PlacementTask, Site

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
