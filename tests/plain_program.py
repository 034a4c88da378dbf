"""The textbook's weak formulation of placement with cabinets, for another solver: CBC through PuLP.

Big-M rows summed over users in place of the strong ones, and the recorder of a camera as a variable of its own: it
shares neither code nor rows with the program. Every camera must be served; the objective is cost.
"""

import pulp


def plain_value(given):
    """The least cost that CBC proves, or None where it finds the rows contradictory."""
    cameras, sites = range(len(given.cameras)), range(len(given.sites))
    cabinets, sections = range(len(given.cabinets)), range(len(given.sections))
    program = pulp.LpProblem("placement", pulp.LpMinimize)

    def binary(name, keys):
        return {key: pulp.LpVariable(f"{name}_{'_'.join(map(str, key))}", cat="Binary") for key in keys}

    x = binary("x", [(k,) for k in range(len(given.candidates))])
    r = binary("r", [(c, s) for c in cameras for s in sites])
    y = binary("y", [(s, n) for s in sites for n in range(len(given.sites[s].sizes))])
    u = binary("u", [(p,) for p in cabinets])
    t = binary("t", [(p, n) for p in cabinets for n in range(len(given.cabinets[p].switches))])
    h = binary("h", [(p, s) for p in cabinets for s in sites])
    f = binary("f", [(p, a, d) for p in cabinets for a in sections for d in (0, 1)])
    v = binary("v", [(a, n) for a in sections for n in range(len(given.sections[a].sizes))])
    z = binary("z", [(w,) for w in given.works_cost])
    links = list(enumerate(given.candidates))
    places = given.cabinets

    program += (
        pulp.lpSum(x[k,] * link.cost for k, link in links)
        + pulp.lpSum(var * given.sites[s].sizes[n][1] for (s, n), var in y.items())
        + pulp.lpSum(u[p,] * places[p].cost for p in cabinets)
        + pulp.lpSum(var * (places[p].switches[n].cost + places[p].power_cost) for (p, n), var in t.items())
        + pulp.lpSum(var * given.sections[a].sizes[n].cost for (a, n), var in v.items())
        + pulp.lpSum(var * given.works_cost[w] for (w,), var in z.items())
    )
    for c in cameras:
        program += pulp.lpSum(x[k,] for k, link in links if link.camera == c) == 1
        program += pulp.lpSum(r[c, s] for s in sites) == 1
    for k, link in links:
        if link.cabinet < 0:
            program += r[link.camera, link.site] >= x[k,]
        else:
            for s in sites:
                program += r[link.camera, s] >= x[k,] + h[link.cabinet, s] - 1
    mbps = {link.camera: link.mbps for link in given.candidates}
    for s in sites:
        sizes = range(len(given.sites[s].sizes))
        channels = pulp.lpSum(y[s, n] * given.sites[s].sizes[n][0] for n in sizes)
        program += pulp.lpSum(y[s, n] for n in sizes) <= 1
        program += pulp.lpSum(r[c, s] for c in cameras) * (1 + given.spare_percent / 100) <= channels
        program += pulp.lpSum(r[c, s] * mbps[c] for c in cameras) <= given.sites[s].mbps_max
        program += pulp.lpSum(h[p, s] for p in cabinets) <= len(cabinets) * pulp.lpSum(y[s, n] for n in sizes)
    for p in cabinets:
        own = [(k, link) for k, link in links if link.cabinet == p]
        switches = range(len(places[p].switches))
        watts = pulp.lpSum(t[p, n] * places[p].switches[n].poe_w for n in switches)
        ports = pulp.lpSum(t[p, n] * places[p].switches[n].ports for n in switches)
        one = pulp.lpSum(t[p, n] for n in switches)
        program += one <= u[p,]
        program += pulp.lpSum(h[p, s] for s in sites) == one
        program += pulp.lpSum(x[k,] for k, _ in own) * (1 + given.spare_ports_percent / 100) <= ports
        program += pulp.lpSum(x[k,] * link.poe_w for k, link in own) <= watts
        program += pulp.lpSum(x[k,] * link.draw_w for k, link in own) <= watts
        program += pulp.lpSum(x[k,] * link.mbps for k, link in own) <= places[p].uplink_mbps
        for place in range(len(given.sites) + len(given.cabinets)):
            out = [f[p, a, d] for a in sections for d in (0, 1) if end(given, a, d) == place]
            back = [f[p, a, d] for a in sections for d in (0, 1) if end(given, a, 1 - d) == place]
            net = one if place == len(given.sites) + p else -h[p, place] if place in sites else 0
            program += pulp.lpSum(out) - pulp.lpSum(back) == net
            if place not in sites:
                program += pulp.lpSum(back) <= len(given.sections) * u[place - len(given.sites),]
    for a in sections:
        sizes = range(len(given.sections[a].sizes))
        carried = pulp.lpSum(f[p, a, d] for p in cabinets for d in (0, 1))
        cores = pulp.lpSum(v[a, n] * given.sections[a].sizes[n].cores for n in sizes)
        laid = pulp.lpSum(v[a, n] for n in sizes)
        program += laid <= 1
        program += 2 * carried + given.spare_cores * laid <= cores
        program += 2 * carried * (1 + given.spare_cores_percent / 100) <= cores
    for w in given.works_cost:
        users = [x[k,] for k, link in links if w in link.works]
        users += [var for (a, _), var in v.items() if w in given.sections[a].works]
        if users:
            program += pulp.lpSum(users) <= len(users) * z[w,]
    program.solve(pulp.PULP_CBC_CMD(msg=0, gapRel=0.0, threads=1))
    return pulp.value(program.objective) if program.status == pulp.LpStatusOptimal else None


def end(given, section, direction):
    """The place where a section starts in one direction."""
    return given.sections[section].head if direction else given.sections[section].tail
