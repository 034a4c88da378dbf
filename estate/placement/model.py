"""The placement program as matrices: recorders, cabinets, uplinks, and the link of each camera, chosen together.

Sets
    C    cameras
    S    sites of recorders; forbidden sites stay in, with their variables fixed at 0
    V(s) sizes of a site
    P    cabinets
    N(p) switches of a cabinet
    E    sections: one cable each between two places (sites and cabinets); V(e) its sizes, R(e) the routes it lies in
    H(p) sites that a cabinet can be homed to: those that sections join it to
    K    pairs (k, s) of a candidate link and the site that records it: one for a link that ends at a recorder, one
         for each site of H(p) for a link that ends at cabinet p; K(c), K(s), K(p) those of a camera, site, cabinet
    I    ways of an uplink: one, or two where uplinks are diverse
    W    proposed segments; W(k), W(e) those that a link or a section needs
    A    lists of cameras that must stand apart
    G    installed spare cables
    D    segments whose room in mm² is known

Variables, all binary
    x_ks   link k is built, and site s records it
    y_v    the site of v is used, with the size of v
    u_p    cabinet p stands
    t_n    the cabinet of n has the switch n
    h_ps   cabinet p is homed to site s
    f_pia  way i of the uplink of p runs through section e from place a' to place a"; a is (e, a', a")
    v_n    a cable of size n is laid in the section of n
    ρ_pr   route r belongs to the first way of p, not to the second (diverse uplinks only)
    z_w    proposed segment w is built

Objectives, one after the other, each held before the next (see solve.py)
    most   Σ_{K of a priority} x, priority by priority
    least  Σ x of links that rest on an unverified fact
    least  Σ x + Σ v of links and sections discouraged
    least  cost:          Σ cost_k x + Σ cost_v y + Σ cost_p u + Σ (cost_n + power_p) t + Σ cost_n v + Σ cost_w z,
                          an existing recorder or switch itself costing nothing; or
           cable_length:  Σ cable_m_k x + Σ cable_m_e v, then the cost above

Constraints of links and recorders (recorder_rows.py)
    (1)  Σ_{K(c)} x ≤ 1                                    c ∈ C          one link per camera
    (2)  Σ_{V(s)} y ≤ 1; = 1 where s must be kept          s ∈ S          one size per site
    (3)  Σ_{K(c) ∩ K(s)} x ≤ Σ_{V(s)} y                    c ∈ C, s ∈ S   recorded at used sites
    (4)  Σ_{K(s)} x ≤ Σ_{V(s)} allowed_v y                 s ∈ S          channels less spare
    (5)  Σ_{K(s)} load_k x ≤ limit_s Σ_{V(s)} y            s ∈ S, each    analogue and network channels, Mb/s; PoE
                                                           limit given    ports and power of links that end there
    (6)  Σ_{K(s), c ∈ a} x ≤ Σ_{V(s)} y                    a ∈ A, s ∈ S   apart
    (7)  Σ y = recorders_exactly;  Σ y ≤ recorders_at_most
of cabinets (cabinet_rows.py)
    (8)  Σ_{N(p)} t ≤ u_p                                  p ∈ P          one switch, in a cabinet that stands
    (9)  Σ_{K(c) ∩ K(p) ∩ K(s)} x ≤ h_ps                   c, p, s        recorded at the cabinet's home
    (10) Σ_{H(p)} h = Σ_{N(p)} t                           p ∈ P          one home
    (11) h_ps ≤ Σ_{V(s)} y                                 p, s           homes are used sites
    (12) Σ_{K(p)} x ≤ Σ_{N(p)} allowed_n t                 p ∈ P          ports less spare
    (13) Σ_{K(p)} load_k x ≤ Σ_{N(p)} limit_n t            p ∈ P, each    W allocated, W drawn, Mb/s of the uplink
                                                           limit given
of uplinks (uplink_rows.py)
    (14) Σ_{a from b} f_pia - Σ_{a to b} f_pia             p, i, place b  ways are joined from cabinet to home
         = Σ_{N(p)} t at b = p; = -h_pb at a site; else 0
    (15) Σ_{i, a in e} f_pia ≤ Σ_{V(e)} v                  p, e           through laid sections, each once
    (16) Σ_{p, i, a in e} f_pia ≤ Σ_{V(e)} allowed_n v     e ∈ E          cores less spare
    (17) Σ_{V(e)} v ≤ 1                                    e ∈ E          one cable
    (18) Σ_{a to q} f_pia ≤ u_q                            p, i, q ≠ p    a way passes cabinets that stand
    (19) Σ_a share_e f_pia ≤ 1                             p, i, each     loss and reach of a way
    (20) f_p1a ≤ ρ_pr;  f_p2a ≤ 1 - ρ_pr                   p, r ∈ R(e)    two ways share no route
of what is shared (shared_rows.py)
    (21) Σ_{K(c), w ∈ W(k)} x ≤ z_w; Σ_{V(e)} v ≤ z_w      c, w; e, w     works are paid once
    (22) Σ_{uses g} x ≤ 1                                  g ∈ G          a spare cable is used once
    (23) Σ mm²_kd x + Σ mm²_nd v ≤ room_d                  d ∈ D          cables fit

(3), (9), (15) and (21) are the strong form: link by link, uplink by uplink, not summed, so that the linear bound is
near the optimum. As a camera has one link at most, summing over its own links keeps them valid and makes them
stronger still. allowed is a whole number, the most that leaves the spare free: it cuts off fractions of a camera or
of an uplink. Rows of (5), (13) and (23) are divided by their limit, so the solver's tolerance is relative to it.
A used site may be without cameras only where it must be kept or where recorders_exactly asks for it.
An unknown throughput or draw (NaN) is not counted.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from estate.placement import ways
from estate.placement.cabinet_rows import cabinet_rows
from estate.placement.channels import size_cost, switch_cost
from estate.placement.columns import Columns, columns
from estate.placement.recorder_rows import recorder_rows
from estate.placement.rows import Floats, Name, Rows, at_most, stacked
from estate.placement.shared_rows import shared_rows
from estate.placement.task import Choices, Ints, PlacementTask
from estate.placement.uplink_rows import uplink_rows

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Program:
    """A task as arrays. The first rows are (1), camera by camera; the first columns x."""

    task: PlacementTask
    columns: Columns
    camera: Ints
    """Camera of each x."""
    column_upper: Floats
    rows: Rows

    @property
    def links(self) -> int:
        """Number of x."""
        return len(self.camera)


def build(task: PlacementTask) -> Program:
    """Turn a task into its program. ValueError where a candidate cannot be what it says."""
    _refuse_defects(task)
    layout = columns(task)
    groups = [part(task, layout) for part in (recorder_rows, cabinet_rows, uplink_rows, shared_rows)]
    return Program(
        task=task,
        columns=layout,
        camera=np.array([task.candidates[k].camera for k in layout.links], dtype=np.int64),
        column_upper=_upper(task, layout, set()),
        rows=stacked(groups, layout.count),
    )


def _refuse_defects(task: PlacementTask) -> None:
    for k, link in enumerate(task.candidates):
        for name in ("cost", "cable_m"):
            if not np.isfinite(getattr(link, name)):
                raise ValueError(f"candidate {k}: {name} is not a finite number")
        if (link.site < 0) == (link.cabinet < 0):
            raise ValueError(f"candidate {k}: ends at one of a site and a cabinet")
        if link.cabinet >= 0 and link.port != "ethernet":
            raise ValueError(f"candidate {k}: {link.port} cannot end at a switch")


def _upper(task: PlacementTask, layout: Columns, allowed: set[Name]) -> Floats:
    """Return the ceiling of every variable: 0 at forbidden places, unless the limit's name is in `allowed`."""
    open_site = np.array(
        [not place.forbid or ("forbid_recorders", s) in allowed for s, place in enumerate(task.sites)],
        dtype=bool,
    )
    upper = np.ones(layout.count)
    upper[layout.of("links")] = open_site[layout.recorder]
    upper[layout.of("size_site")] = open_site[layout.size_site]
    upper[layout.of("home_cabinet")] = open_site[layout.home_site]
    return upper


def relaxed(program: Program, names: set[Name]) -> Program:
    """Return the program without some limits."""
    upper = _upper(program.task, program.columns, names)
    return replace(program, column_upper=upper, rows=program.rows.without(names))


def money(program: Program) -> Floats:
    """Return the cost of every variable [currency]."""
    task, layout = program.task, program.columns
    weight = np.zeros(layout.count)
    weight[layout.of("links")] = [task.candidates[k].cost for k in layout.links]
    sizes = zip(layout.size_site, layout.size_index, strict=True)
    weight[layout.of("size_site")] = [size_cost(task.sites[s], n) for s, n in sizes]
    weight[layout.of("cabinets")] = [task.cabinets[p].cost for p in layout.cabinets]
    switches = zip(layout.switch_cabinet, layout.switch_index, strict=True)
    weight[layout.of("switch_cabinet")] = [switch_cost(task, p, n) for p, n in switches]
    cables = zip(layout.cable_section, layout.cable_index, strict=True)
    weight[layout.of("cable_section")] = [task.sections[a].sizes[n].cost for a, n in cables]
    weight[layout.of("works")] = [task.works_cost[int(w)] for w in layout.works]
    return weight


def cable_m(program: Program) -> Floats:
    """Return the new cable of every variable [m]."""
    return _of_links_and_sections(program, "cable_m")


def unverified(program: Program) -> Floats:
    """Return 1 for every link that rests on an unverified fact."""
    marks = [program.task.candidates[k].verify for k in program.columns.links]
    return of_links(program, np.array(marks, dtype=float))


def discouraged(program: Program) -> Floats:
    """Return 1 for every link and section that is discouraged."""
    return _of_links_and_sections(program, "discouraged")


def _of_links_and_sections(program: Program, name: str) -> Floats:
    task, layout = program.task, program.columns
    weight = np.zeros(layout.count)
    weight[layout.of("links")] = [getattr(task.candidates[k], name) for k in layout.links]
    weight[layout.of("cable_section")] = [getattr(task.sections[a], name) for a in layout.cable_section]
    return weight


def of_links(program: Program, weight: Floats) -> Floats:
    """Return a weight of every x as a weight of every variable."""
    vector = np.zeros(program.columns.count)
    vector[: program.links] = weight
    return vector


def holding(program: Program, vector: Floats, upper: float) -> Program:
    """Return the program with one more row: vector · v ≤ upper."""
    row = at_most(sparse.csr_array(vector[None, :]), upper)
    return replace(program, rows=stacked([program.rows, row], program.columns.count))


def serving(program: Program, cameras: Bools) -> Program:
    """Return the program with (1) an equality for these cameras: every one of them is served."""
    lower = program.rows.lower.copy()
    lower[: len(cameras)][cameras] = 1.0
    return replace(program, rows=replace(program.rows, lower=lower))


def read(program: Program, values: Floats) -> Choices:
    """Read what is chosen off the variables."""
    task, layout, taken = program.task, program.columns, values > 0.5

    def chosen(block: str) -> Ints:
        return np.flatnonzero(taken[layout.of(block)])

    def by_subject(count: int, subject: Ints, index: Ints, block: str) -> Ints:
        found = np.full(count, -1, dtype=np.int64)
        columns_chosen = chosen(block)
        found[subject[columns_chosen]] = index[columns_chosen]
        return found

    home = by_subject(len(task.cabinets), layout.home_cabinet, layout.home_site, "home_cabinet")
    return Choices(
        choice=by_subject(len(task.cameras), program.camera, layout.links, "links"),
        size=by_subject(len(task.sites), layout.size_site, layout.size_index, "size_site"),
        switch=by_subject(len(task.cabinets), layout.switch_cabinet, layout.switch_index, "switch_cabinet"),
        home=home,
        cable=by_subject(len(task.sections), layout.cable_section, layout.cable_index, "cable_section"),
        ways=ways.read(task, layout, home, chosen("hop_cabinet")),
    )


def write(program: Program, choices: Choices) -> Floats:
    """Write what is chosen as variables, with the works it needs."""
    task, layout = program.task, program.columns
    values = np.zeros(layout.count)
    recorders = choices.recorders(task)
    values[layout.of("links")] = (choices.choice[program.camera] == layout.links) & (
        recorders[program.camera] == layout.recorder
    )
    values[layout.of("size_site")] = choices.size[layout.size_site] == layout.size_index
    values[layout.of("cabinets")] = np.isin(layout.cabinets, choices.standing(task))
    values[layout.of("switch_cabinet")] = choices.switch[layout.switch_cabinet] == layout.switch_index
    values[layout.of("home_cabinet")] = choices.home[layout.home_cabinet] == layout.home_site
    values[layout.of("cable_section")] = choices.cable[layout.cable_section] == layout.cable_index
    values[layout.of("hop_cabinet")] = ways.written(task, layout, choices.ways)
    values[layout.of("route_cabinet")] = ways.routes_written(task, layout, choices.ways)
    values[layout.of("works")] = np.isin(layout.works, works_needed(task, choices))
    return values


def works_needed(task: PlacementTask, choices: Choices) -> list[int]:
    """Return the proposed segments that must be built."""
    links = [task.candidates[k] for k in choices.choice if k >= 0]
    laid = [section for section, n in zip(task.sections, choices.cable, strict=True) if n >= 0]
    return sorted({w for user in (*links, *laid) for w in user.works})
