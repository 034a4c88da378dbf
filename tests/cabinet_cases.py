"""Small placement tasks with cabinets for the tests: short forms, a random maker, and an exhaustive search."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, product

from estate.placement.task import Cabinet, Section, SectionSize, Switch
from tests.placement_cases import INF, _limits_kept, link, random_task

FREE = 10**6


def switch(ports, cost=0.0, poe_w=None, **other):
    """A switch without a limit of PoE power unless told."""
    return Switch(ports, poe_w, float(cost), f"s{ports}", **other)


def cabinet(name, *switches, cost=0.0, power_cost=0.0, **other):
    """A cabinet that stands and has power unless told."""
    return Cabinet(name, float(cost), float(power_cost), switches, **other)


def fibre(tail, head, *sizes, cable_m=0.0, **other):
    """A fibre section from (cores, cost) or (cores, cost, fill) sizes."""
    made = tuple(SectionSize(cores, float(cost), *fill) for cores, cost, *fill in sizes)
    return Section(tail, head, made, float(cable_m), **other)


def at_cabinet(camera, place, cost=1.0, **other):
    """A candidate link that ends at a cabinet."""
    return link(camera, -1, cost, cabinet=place, **other)


def random_cabinet_task(rng, cameras=3, sites=2, cabinets=2, sections=4, most_links=3):
    """A small task in which recorders, cabinets, cables, rooms and works all can bind."""
    base = random_task(rng, cameras, sites, most_links=2)
    candidates = [
        replace(k, fill=_fill(rng, 0.4), spares=_maybe(rng, 0.2, ("g1",), ()), cost=k.cost + 15)
        for k in base.candidates
    ]
    for c in range(cameras):
        count = int(rng.integers(0, most_links + 1))
        candidates += [_random_link(rng, c, cabinets) for _ in range(count)]
    places = [_random_cabinet(rng, p) for p in range(cabinets)]
    ways = [_random_section(rng, sites, cabinets) for _ in range(int(rng.integers(2, sections + 1)))]
    return replace(
        base,
        candidates=tuple(candidates),
        cabinets=tuple(places),
        sections=tuple(ways),
        fill_limits={n: float(rng.integers(2, 9)) for n in range(2) if rng.random() < 0.7},
        spare_ports_percent=float(rng.choice([0, 25, 50])),
        diverse_uplinks=bool(rng.random() < 0.2),
    )


def _maybe(rng, share, value, other=None):
    return value if rng.random() < share else other


def _fill(rng, share):
    """A share of one segment's room, or none."""
    return _maybe(rng, share, ((int(rng.integers(2)), float(rng.integers(1, 5))),), ())


def _some(rng, most, word=None):
    """A few numbers below 4, or as many names."""
    numbers = rng.integers(0, 4, int(rng.integers(0, most)))
    return tuple(int(n) if word is None else f"{word}{n}" for n in numbers)


def _random_link(rng, camera, cabinets):
    poe_w = float(rng.choice([0, 15, 30]))
    return at_cabinet(
        camera,
        int(rng.integers(cabinets)),
        float(rng.integers(0, 10)),
        cable_m=float(rng.integers(0, 5)),
        verify=bool(rng.random() < 0.1),
        mbps=float(rng.choice([2, 4, 8])),
        poe_w=poe_w,
        draw_w=poe_w * float(rng.choice([0.5, 1, 1.5])),
        works=_some(rng, 2),
        fill=_fill(rng, 0.3),
        spares=_maybe(rng, 0.2, ("g1",), ()),
    )


def _random_cabinet(rng, p):
    switches = (
        switch(
            int(n),
            rng.integers(0, 12),
            _maybe(rng, 0.6, float(rng.integers(15, 70))),
            existing=bool(rng.random() < 0.15),
        )
        for n in sorted(rng.choice(4, int(rng.integers(1, 3)), replace=False) + 1)
    )
    return cabinet(
        f"P{p}",
        *switches,
        cost=rng.integers(0, 8),
        power_cost=rng.integers(0, 6),
        uplink_mbps=_maybe(rng, 0.3, float(rng.integers(4, 16))),
    )


def _random_section(rng, sites, cabinets):
    tail, head = sites + int(rng.integers(cabinets)), int(rng.integers(sites + cabinets))
    if head == tail:
        head = int(rng.integers(sites))
    own = {
        "works": _some(rng, 3),
        "routes": _some(rng, 3, "r"),
        "discouraged": bool(rng.random() < 0.1),
        "shares": _maybe(rng, 0.7, tuple(int(n) / 4 for n in rng.integers(0, 4, 2)), (0.0, 0.0)),
        "cable_m": float(rng.integers(0, 12)),
    }
    cores = sorted(rng.choice([2, 4, 6], int(rng.integers(1, 3)), replace=False))
    return fibre(tail, head, *((int(n), float(rng.integers(0, 20)), _fill(rng, 0.4)) for n in cores), **own)


def simple_ways(given, p):
    """Every way from a cabinet to a site that passes no place twice, as (site, sections)."""
    start = len(given.sites) + p
    found = []

    def go(place, way, seen):
        if place < len(given.sites) and way:
            found.append((place, way))
        for a, section in enumerate(given.sections):
            if place not in (section.tail, section.head):
                continue
            end = section.head if place == section.tail else section.tail
            if end in seen:
                continue
            go(end, (*way, a), seen | {end})

    go(start, (), {start})
    return found


def in_reach(given, way):
    """Whether the sections of a way use no more than all of each limit."""
    return all(sum(used) <= 1 for used in zip(*(given.sections[a].shares for a in way), strict=True))


def uplink_choices(given, p):
    """Every (home, ways) of one cabinet."""
    ways = [(s, way) for s, way in simple_ways(given, p) if in_reach(given, way)]
    if not given.diverse_uplinks:
        return [(s, (way,)) for s, way in ways]

    def routes(way):
        return {r for a in way for r in given.sections[a].routes}

    return [
        (s, (one, other))
        for (s, one), (t, other) in combinations(ways, 2)
        if s == t and not set(one) & set(other) and not routes(one) & routes(other)
    ]


def carries(given, section, size, uplinks):
    """Whether a cable carries some uplinks with its spare: two cores each."""
    used = 2 * uplinks
    spare = max(given.spare_cores, Fraction(given.spare_cores_percent) / 100 * used)
    return used + spare <= section.sizes[size].cores


def uplink_plans(given, active):
    """Every way to home a set of cabinets, with every choice of cables: (homes, laid) pairs."""
    for chosen in product(*(uplink_choices(given, p) for p in active)):
        carried = Counter(a for _, ways in chosen for way in ways for a in way)
        fitting = [
            [n for n in range(len(given.sections[a].sizes)) if carries(given, given.sections[a], n, uplinks)]
            for a, uplinks in sorted(carried.items())
        ]
        ends = {e for a in carried for e in (given.sections[a].tail, given.sections[a].head)}
        standing = {e - len(given.sites) for e in ends if e >= len(given.sites)} | set(active)
        homes = dict(zip(active, (s for s, _ in chosen), strict=True))
        for sizes in product(*fitting):
            yield homes, standing, dict(zip(sorted(carried), sizes, strict=True))


def shared_kept(given, users, spares):
    """Whether what is laid fits in the known rooms, and every spare cable is used once."""
    filled = Counter()
    for user in users:
        for segment, mm2 in user.fill:
            filled[segment] += Fraction(mm2)
    used = Counter(spare for user in spares for spare in set(user.spares))
    return (
        all(filled[n] <= room for n, room in given.fill_limits.items()) and max(used.values(), default=0) <= 1
    )


def switch_cost(given, p, links):
    """The least cost of a switch for some cameras, power included; None where none will do."""
    place, fit = given.cabinets[p], []
    if place.uplink_mbps is not None and sum(k.mbps for k in links) > place.uplink_mbps:
        return None
    for each in place.switches:
        spare = 0 if each.existing else Fraction(given.spare_ports_percent)
        watts = INF if each.poe_w is None else each.poe_w
        if len(links) * (100 + spare) > 100 * each.ports:
            continue
        if sum(k.poe_w for k in links) > watts or sum(k.draw_w for k in links) > watts:
            continue
        fit.append(Fraction(place.power_cost) + (0 if each.existing else Fraction(each.cost)))
    return min(fit, default=None)


def recorder_cost(given, s, links):
    """The least cost of a recorder for some cameras; None where none will do."""
    place = given.sites[s]
    direct = [k if k.cabinet < 0 else replace(k, poe_w=0.0) for k in links]
    spare = 0 if place.existing else Fraction(given.spare_percent)
    fit = [cost for channels, cost, _ in place.sizes if len(links) * (100 + spare) <= 100 * channels]
    if not fit or not _limits_kept(place, direct):
        return None
    if any(sum(k.camera in group for k in links) > 1 for group in given.apart):
        return None
    return 0 if place.existing else Fraction(min(fit))


def plan_value(given, links, plan, used):
    """The value of links, uplinks and used sites together: a tuple to make least; None where it breaks a rule."""
    homes, standing, laid = plan
    recorders = [k.site if k.cabinet < 0 else homes[k.cabinet] for k in links]
    cables = [(given.sections[a], n) for a, n in laid.items()]
    sections = [section for section, _ in cables]
    if not shared_kept(given, [*links, *(s.sizes[n] for s, n in cables)], links):
        return None
    costs = [
        recorder_cost(given, s, [k for k, r in zip(links, recorders, strict=True) if r == s]) for s in used
    ]
    costs += [switch_cost(given, p, [k for k in links if k.cabinet == p]) for p in homes]
    if any(cost is None for cost in costs):
        return None
    money = sum(costs) + sum(Fraction(k.cost) for k in links)
    money += sum(Fraction(given.cabinets[p].cost) for p in standing)
    money += sum(Fraction(s.sizes[n].cost) for s, n in cables)
    money += sum(Fraction(given.works_cost[w]) for w in {w for u in (*links, *sections) for w in u.works})
    served = {k.camera for k in links}
    levels = sorted(set(given.priorities))
    unserved = tuple(-sum(given.priorities[c] == level for c in served) for level in levels)
    both = (*links, *sections)
    length = sum(Fraction(u.cable_m) for u in both)
    least = (money,) if given.objective == "cost" else (length, money)
    return (*unserved, sum(k.verify for k in links), sum(u.discouraged for u in both), *least)


def exhaustive_cabinets(given):
    """The least value over every choice of links, homes, ways, cables and used sites; None if there is none."""
    own = [
        [-1, *(k for k, c in enumerate(given.candidates) if c.camera == n)] for n in range(len(given.cameras))
    ]
    keep = {s for s, place in enumerate(given.sites) if place.keep}
    allowed = {s for s, place in enumerate(given.sites) if not place.forbid}
    plans, best = {}, None
    for choice in product(*own):
        links = [given.candidates[k] for k in choice if k >= 0]
        active = tuple(sorted({k.cabinet for k in links if k.cabinet >= 0}))
        if active not in plans:
            plans[active] = list(uplink_plans(given, active))
        for plan in plans[active]:
            needed = keep | {k.site for k in links if k.cabinet < 0} | set(plan[0].values())
            for used in used_sites(given, needed, allowed):
                found = plan_value(given, links, plan, used)
                if found is not None and (best is None or found < best):
                    best = found
    return best


def used_sites(given, needed, allowed):
    """Every set of used sites that counts right: those needed, and more only where a number is asked for."""
    if not needed <= allowed:
        return
    extra = 0 if given.recorders_exactly is None else given.recorders_exactly - len(needed)
    most = INF if given.recorders_at_most is None else given.recorders_at_most
    if extra < 0 or len(needed) + extra > most:
        return
    for more in combinations(sorted(allowed - needed), extra):
        yield needed | set(more)


def cabinet_answer_value(given, answer):
    """The value of an answer, from its links, homes, cables and used sites alone."""
    links = [given.candidates[k] for k in answer.choice if k >= 0]
    homes = {p: int(s) for p, s in enumerate(answer.home) if s >= 0}
    laid = {a: int(n) for a, n in enumerate(answer.cable) if n >= 0}
    plan = homes, set(answer.standing(given)), laid
    return plan_value(given, links, plan, {s for s, n in enumerate(answer.size) if n >= 0})
