"""The placement program as matrices: which recorder sites, which sizes, which link for each camera.

Sets
    C    cameras
    S    sites; forbidden sites stay in, with their variables fixed at 0
    K    candidate links, each of one camera c(k) to one site s(k); K(c), K(s), K(c, s) those of a camera, a site, both
    V    pairs of a site and one of its sizes; V(s) those of a site
    W    proposed segments; W(k) those that a link needs
    A    lists of cameras that must stand apart

Variables, all binary
    x_k  link k is built
    y_v  the site of v is used, with the size of v
    z_w  proposed segment w is built

Objectives, one after the other, each held before the next (see solve.py)
    most   Σ_{k of a priority} x_k, priority by priority
    least  Σ_{k that rest on an unverified fact} x_k
    least  Σ_{k discouraged} x_k
    least  cost:          Σ_k cost_k x_k + Σ_v cost_v y_v + Σ_w cost_w z_w, an existing recorder costing nothing; or
           cable_length:  Σ_k cable_m_k x_k, then the cost above

Constraints
    (1)  Σ_{K(c)} x_k ≤ 1                                      c ∈ C          one link per camera
    (2)  Σ_{V(s)} y_v ≤ 1; = 1 where s must be kept            s ∈ S          one size per site
    (3)  Σ_{K(c,s)} x_k ≤ Σ_{V(s)} y_v                         c ∈ C, s ∈ S   links end at used sites
    (4)  Σ_{K(s)} x_k ≤ Σ_{V(s)} allowed_v y_v                 s ∈ S          channels less spare
    (5)  Σ_{K(s)} load_k x_k ≤ limit_s Σ_{V(s)} y_v            s ∈ S, each    analogue and network channels,
                                                               limit given    Mb/s, PoE ports, PoE power
    (6)  Σ_{K(s), c(k) ∈ a} x_k ≤ Σ_{V(s)} y_v                 a ∈ A, s ∈ S   apart
    (7)  Σ_{K(c), w ∈ W(k)} x_k ≤ z_w                          c ∈ C, w ∈ W   works are paid once
    (8)  Σ_V y_v = recorders_exactly;  Σ_V y_v ≤ recorders_at_most

(3) and (7) are the strong form: link by link, not summed over a site, so that the linear bound is near the optimum.
As a camera has one link at most, summing over its own links keeps them valid and makes them stronger still.
allowed_v is a whole number, the most cameras that leave the spare free: (4) cuts off fractions of a camera.
Rows of (5) are divided by their limit, so the solver's tolerance is relative to it.
A used site may be without cameras only where it must be kept or where recorders_exactly asks for it.
An unknown throughput (NaN) is not counted in (5).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from estate.placement.channels import cameras_allowed, site_spare_percent, size_cost
from estate.placement.task import PlacementTask

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Rows:
    """Constraints lower ≤ matrix · v ≤ upper; the columns are x, then y, then z."""

    matrix: sparse.csr_array
    lower: Floats
    upper: Floats


@dataclass(frozen=True)
class Program:
    """A task as arrays. The first rows are (1), camera by camera."""

    task: PlacementTask
    camera: Ints
    """Camera of each x."""
    site: Ints
    """Site of each x."""
    size_site: Ints
    """Site of each y."""
    size_index: Ints
    """Index of each y among its site's sizes."""
    works: tuple[int, ...]
    """Proposed segment of each z."""
    column_upper: Floats
    rows: Rows

    @property
    def links(self) -> int:
        """Number of x."""
        return len(self.camera)

    @property
    def columns(self) -> int:
        """Number of variables."""
        return len(self.column_upper)


def build(task: PlacementTask) -> Program:
    """Turn a task into its program. ValueError where a candidate's cost or cable is not a finite number."""
    for name in ("cost", "cable_m"):
        unknown = np.flatnonzero(~np.isfinite(_floats(task, name)))
        if len(unknown):
            raise ValueError(f"candidate {unknown[0]}: {name} is not a finite number")
    pairs = [(s, n) for s, place in enumerate(task.sites) for n in range(len(place.sizes))]
    works = tuple(sorted({w for link in task.candidates for w in link.works}))
    site, size_site = _ints(task, "site"), np.array([s for s, _ in pairs], dtype=np.int64)
    usable = np.array([float(not place.forbid) for place in task.sites])
    column_upper = np.concatenate([usable[site], usable[size_site], np.ones(len(works))])
    program = Program(
        task=task,
        camera=_ints(task, "camera"),
        site=site,
        size_site=size_site,
        size_index=np.array([n for _, n in pairs], dtype=np.int64),
        works=works,
        column_upper=column_upper,
        rows=_stacked([], len(column_upper)),
    )
    groups = (_one_link, _one_size, _ends_at_used, _channels, _limits, _apart, _works, _counts)
    return replace(program, rows=_stacked([group(program) for group in groups], program.columns))


def _ints(task: PlacementTask, name: str) -> Ints:
    return np.array([getattr(link, name) for link in task.candidates], dtype=np.int64)


def _floats(task: PlacementTask, name: str) -> Floats:
    return np.array([getattr(link, name) for link in task.candidates], dtype=np.float64)


def _stacked(groups: list[Rows], columns: int) -> Rows:
    empty = sparse.csr_array((0, columns))
    return Rows(
        sparse.vstack([empty, *(group.matrix for group in groups)], format="csr"),
        np.concatenate([np.empty(0), *(group.lower for group in groups)]),
        np.concatenate([np.empty(0), *(group.upper for group in groups)]),
    )


def _matrix(
    program: Program, rows: int, row: Ints, column: Ints, value: Floats | None = None
) -> sparse.csr_array:
    entries = np.ones(len(row)) if value is None else value
    return sparse.csr_array((entries, (row, column)), shape=(rows, program.columns))


def _at_most(matrix: sparse.csr_array, upper: float = 0.0) -> Rows:
    rows = matrix.shape[0]
    return Rows(matrix, np.full(rows, -np.inf), np.full(rows, upper))


def _used(program: Program, site: Ints, weight: Floats | None = None) -> sparse.csr_array:
    """Return Σ_{V(s)} weight_v y_v as rows, one for each entry of `site`; weight 1 where none is given."""
    sizes = len(program.size_site)
    column = program.links + np.arange(sizes, dtype=np.int64)
    by_site = _matrix(program, len(program.task.sites), program.size_site, column, weight)
    return by_site[site]


def _grouped(program: Program, links: Ints, *keys: Ints) -> tuple[sparse.csr_array, Ints]:
    """Sum x over groups of links with the same keys: the rows, and the keys of each."""
    found, row = np.unique(np.stack(keys), axis=1, return_inverse=True)
    return _matrix(program, found.shape[1], row.ravel(), links), found


def _one_link(program: Program) -> Rows:
    """(1) at most one link per camera."""
    links = np.arange(program.links, dtype=np.int64)
    return _at_most(_matrix(program, len(program.task.cameras), program.camera, links), 1.0)


def _one_size(program: Program) -> Rows:
    """(2) at most one size per site, exactly one where it must be kept."""
    sites = np.arange(len(program.task.sites), dtype=np.int64)
    kept = np.array([place.keep for place in program.task.sites], dtype=bool)
    return Rows(_used(program, sites), np.where(kept, 1.0, -np.inf), np.ones(len(sites)))


def _ends_at_used(program: Program) -> Rows:
    """(3) links end at used sites."""
    links = np.arange(program.links, dtype=np.int64)
    matrix, (_, site) = _grouped(program, links, program.camera, program.site)
    return _at_most(matrix - _used(program, site))


def _channels(program: Program) -> Rows:
    """(4) no more cameras than the chosen size takes."""
    task = program.task
    allowed = [
        cameras_allowed(channels, site_spare_percent(place, task.spare_percent))
        for place in task.sites
        for channels, _, _ in place.sizes
    ]
    sites = np.arange(len(task.sites), dtype=np.int64)
    links = np.arange(program.links, dtype=np.int64)
    at_site = _matrix(program, len(sites), program.site, links)
    return _at_most(at_site - _used(program, sites, np.array(allowed, dtype=float)))


def _limits(program: Program) -> Rows:
    """(5) the other limits of each site, where given."""
    task = program.task
    port = np.array([link.port for link in task.candidates], dtype=np.str_)
    poe_w = _floats(task, "poe_w")
    loads = {
        "channels_analogue": (port == "analogue").astype(float),
        "channels_network": (port == "ethernet").astype(float),
        "mbps_max": np.nan_to_num(_floats(task, "mbps")),
        "poe_ports": (poe_w > 0).astype(float),
        "poe_w": poe_w,
    }
    return _stacked([_limit(program, name, load) for name, load in loads.items()], program.columns)


def _limit(program: Program, name: str, load: Floats) -> Rows:
    given = [getattr(place, name) for place in program.task.sites]
    sites = np.array([s for s, limit in enumerate(given) if limit is not None], dtype=np.int64)
    limit = np.array([1.0 if value is None else value for value in given])
    scale = np.where(limit > 0, limit, 1.0)
    links = np.arange(program.links, dtype=np.int64)
    at_site = _matrix(program, len(limit), program.site, links, load / scale[program.site])
    return _at_most(at_site[sites] - _used(program, sites, (limit / scale)[program.size_site]))


def _apart(program: Program) -> Rows:
    """(6) cameras that must not share a recorder."""
    groups = []
    for cameras in program.task.apart:
        links = np.flatnonzero(np.isin(program.camera, cameras))
        matrix, (site,) = _grouped(program, links, program.site[links])
        groups.append(_at_most(matrix - _used(program, site)))
    return _stacked(groups, program.columns)


def _works(program: Program) -> Rows:
    """(7) a link needs its works; a segment that a link passes twice counts once."""
    place = {w: n for n, w in enumerate(program.works)}
    uses = [(k, place[w]) for k, link in enumerate(program.task.candidates) for w in sorted(set(link.works))]
    links, works = np.array(uses, dtype=np.int64).reshape(-1, 2).T
    matrix, (_, work) = _grouped(program, links, program.camera[links], works)
    first = program.columns - len(program.works)
    rows = np.arange(len(work), dtype=np.int64)
    return _at_most(matrix - _matrix(program, len(rows), rows, first + work))


def _counts(program: Program) -> Rows:
    """(8) how many sites are used."""
    task = program.task
    row = _used(program, np.arange(len(task.sites), dtype=np.int64)).sum(axis=0)
    matrix = sparse.csr_array(np.atleast_2d(row))
    groups = []
    if task.recorders_exactly is not None:
        exactly = np.array([task.recorders_exactly], dtype=float)
        groups.append(Rows(matrix, exactly, exactly))
    if task.recorders_at_most is not None:
        groups.append(_at_most(matrix, task.recorders_at_most))
    return _stacked(groups, program.columns)


def money(program: Program) -> Floats:
    """Return the cost of every variable [currency]."""
    task = program.task
    sizes = [size_cost(task.sites[s], n) for s, n in zip(program.size_site, program.size_index, strict=True)]
    works = [task.works_cost[w] for w in program.works]
    return np.concatenate([_floats(task, "cost"), sizes, works])


def cable_m(program: Program) -> Floats:
    """Return the new cable of every variable [m]."""
    return of_links(program, _floats(program.task, "cable_m"))


def of_links(program: Program, weight: Floats) -> Floats:
    """Return a weight of every link as a weight of every variable."""
    vector = np.zeros(program.columns)
    vector[: program.links] = weight
    return vector


def marked(program: Program, name: str) -> Floats:
    """Return 1 for every link with a mark: `verify` or `discouraged`."""
    return of_links(program, _floats(program.task, name))


def holding(program: Program, vector: Floats, upper: float) -> Program:
    """Return the program with one more row: vector · v ≤ upper."""
    row = _at_most(sparse.csr_array(vector[None, :]), upper)
    return replace(program, rows=_stacked([program.rows, row], program.columns))


def serving(program: Program, cameras: Bools) -> Program:
    """Return the program with (1) an equality for these cameras: every one of them is served."""
    lower = program.rows.lower.copy()
    lower[: len(cameras)][cameras] = 1.0
    return replace(program, rows=replace(program.rows, lower=lower))


def read(program: Program, values: Floats) -> tuple[Ints, Ints]:
    """Read choice and size off the variables."""
    taken = values > 0.5
    links = np.flatnonzero(taken[: program.links])
    choice = np.full(len(program.task.cameras), -1, dtype=np.int64)
    choice[program.camera[links]] = links
    sizes = np.flatnonzero(taken[program.links : program.links + len(program.size_site)])
    size = np.full(len(program.task.sites), -1, dtype=np.int64)
    size[program.size_site[sizes]] = program.size_index[sizes]
    return choice, size


def write(program: Program, choice: Ints, size: Ints) -> Floats:
    """Write choice and size as variables, with the works they need."""
    links = choice[choice >= 0]
    works = {w for k in links for w in program.task.candidates[k].works}
    return np.concatenate(
        [
            np.isin(np.arange(program.links), links),
            size[program.size_site] == program.size_index,
            np.isin(program.works, sorted(works)),
        ]
    ).astype(float)
