"""Constraints (8) to (13) of the placement program: cabinets, their switches and homes."""

import numpy as np
from scipy import sparse

from estate.placement.channels import cameras_allowed, switch_spare_percent
from estate.placement.columns import Columns
from estate.placement.loads import SWITCH_LIMITS, load
from estate.placement.recorder_rows import used
from estate.placement.rows import Floats, Rows, at_most, equal, grouped, stacked, summed
from estate.placement.task import Ints, PlacementTask


def cabinet_rows(task: PlacementTask, columns: Columns) -> Rows:
    """Return (8) to (13); no rows where there is no cabinet."""
    if not task.cabinets:
        return stacked([], columns.count)
    groups = (_one_switch, _recorded_at_home, _one_home, _home_used, _ports, _limits)
    return stacked([group(task, columns) for group in groups], columns.count)


def switched(
    task: PlacementTask, columns: Columns, cabinet: Ints, weight: Floats | None = None
) -> sparse.csr_array:
    """Return Σ_{N(p)} weight_n t_n as rows, one for each entry of `cabinet`; weight 1 where none is given."""
    by_cabinet = summed(
        columns.count, len(task.cabinets), columns.switch_cabinet, columns.of("switch_cabinet"), weight
    )
    return by_cabinet[cabinet]


def _everyone(task: PlacementTask) -> Ints:
    return np.arange(len(task.cabinets), dtype=np.int64)


def _one_switch(task: PlacementTask, columns: Columns) -> Rows:
    """(8) a switch stands in a cabinet, one at most."""
    everyone = _everyone(task)
    stands = summed(columns.count, len(everyone), everyone, columns.of("cabinets"))
    matrix = switched(task, columns, everyone)
    return at_most(matrix - stands)


def _at_cabinet(task: PlacementTask, columns: Columns) -> tuple[Ints, Ints, Ints]:
    """Return the columns of links that end at cabinets, their cabinets and their cameras."""
    cabinet = np.array([task.candidates[k].cabinet for k in columns.links], dtype=np.int64)
    camera = np.array([task.candidates[k].camera for k in columns.links], dtype=np.int64)
    ends = np.flatnonzero(cabinet >= 0)
    return ends, cabinet[ends], camera[ends]


def _homes(task: PlacementTask, columns: Columns) -> sparse.csr_array:
    """Return h as rows: row p·sites + s is h_{p,s}, empty where p cannot be homed to s."""
    sites = len(task.sites)
    row = columns.home_cabinet * sites + columns.home_site
    return summed(columns.count, len(task.cabinets) * sites, row, columns.of("home_cabinet"))


def _recorded_at_home(task: PlacementTask, columns: Columns) -> Rows:
    """(9) a camera at a cabinet is recorded where the cabinet's uplink ends."""
    ends, cabinet, camera = _at_cabinet(task, columns)
    recorder = columns.recorder[ends]
    matrix, (_, cabinet, site) = grouped(columns.count, ends, camera, cabinet, recorder)
    return at_most(matrix - _homes(task, columns)[cabinet * len(task.sites) + site])


def _one_home(task: PlacementTask, columns: Columns) -> Rows:
    """(10) a cabinet with a switch has one home."""
    everyone = _everyone(task)
    homes = summed(columns.count, len(everyone), columns.home_cabinet, columns.of("home_cabinet"))
    return equal(homes - switched(task, columns, everyone))


def _home_used(task: PlacementTask, columns: Columns) -> Rows:
    """(11) a home is a used site."""
    homes = columns.of("home_cabinet")
    matrix = summed(columns.count, len(homes), np.arange(len(homes), dtype=np.int64), homes)
    return at_most(matrix - used(task, columns, columns.home_site))


def _ports(task: PlacementTask, columns: Columns) -> Rows:
    """(12) no more cameras than the chosen switch takes."""
    switches = [
        task.cabinets[p].switches[n]
        for p, n in zip(columns.switch_cabinet, columns.switch_index, strict=True)
    ]
    allowed = [cameras_allowed(s.ports, switch_spare_percent(s, task.spare_ports_percent)) for s in switches]
    return _within(task, columns, "ports", np.array(allowed, dtype=float))


def _limits(task: PlacementTask, columns: Columns) -> Rows:
    """(13) power allocated and drawn at the ports, throughput of the uplink, where a limit is given."""
    groups = []
    for name, field in SWITCH_LIMITS.items():
        given = [
            task.cabinets[p].uplink_mbps if field == "uplink_mbps" else task.cabinets[p].switches[n].poe_w
            for p, n in zip(columns.switch_cabinet, columns.switch_index, strict=True)
        ]
        limits = np.array([np.inf if limit is None else limit for limit in given], dtype=float)
        groups.append(_within(task, columns, name, limits))
    return stacked(groups, columns.count)


def _within(task: PlacementTask, columns: Columns, name: str, limits: Floats) -> Rows:
    """Return that the links of each cabinet stay within the limit of the chosen switch, where all have one.

    A switch without a limit takes all that could come. Rows are divided by their largest limit, so that the
    solver's tolerance is relative to it.
    """
    ends, cabinet, _ = _at_cabinet(task, columns)
    loads = np.array([load(task.candidates[k], name) for k in columns.links[ends]], dtype=float)
    once = np.zeros(len(task.cabinets))
    np.add.at(once, cabinet, loads)
    ceiling = np.minimum(limits, once[columns.switch_cabinet])
    scale = np.ones(len(task.cabinets))
    np.maximum.at(scale, columns.switch_cabinet, ceiling)
    if name == "ports":
        scale[:] = 1.0
    cabinets = np.flatnonzero(
        np.bincount(columns.switch_cabinet, np.isfinite(limits).astype(float), minlength=len(task.cabinets))
    )
    taken = summed(columns.count, len(task.cabinets), cabinet, ends, loads / scale[cabinet])
    matrix = taken[cabinets] - switched(task, columns, cabinets, ceiling / scale[columns.switch_cabinet])
    return at_most(matrix, names=tuple((name, int(p)) for p in cabinets))
