"""Constraints (1) to (7) of the placement program: links and recorders."""

import numpy as np
from scipy import sparse

from estate.placement.channels import cameras_allowed, site_spare_percent
from estate.placement.columns import Columns
from estate.placement.loads import LIMITS, load
from estate.placement.rows import Floats, Rows, at_most, grouped, stacked, summed
from estate.placement.task import Ints, PlacementTask


def recorder_rows(task: PlacementTask, columns: Columns) -> Rows:
    """Return (1) to (7), (1) first."""
    groups = (_one_link, _one_size, _ends_at_used, _channels, _limits, _apart, _counts)
    return stacked([group(task, columns) for group in groups], columns.count)


def used(task: PlacementTask, columns: Columns, site: Ints, weight: Floats | None = None) -> sparse.csr_array:
    """Return Σ_{V(s)} weight_v y_v as rows, one for each entry of `site`; weight 1 where none is given."""
    by_site = summed(columns.count, len(task.sites), columns.size_site, columns.of("size_site"), weight)
    return by_site[site]


def _camera(task: PlacementTask, columns: Columns) -> Ints:
    return np.array([task.candidates[k].camera for k in columns.links], dtype=np.int64)


def _one_link(task: PlacementTask, columns: Columns) -> Rows:
    """(1) at most one link per camera."""
    camera = _camera(task, columns)
    return at_most(summed(columns.count, len(task.cameras), camera, columns.of("links")), 1.0)


def _one_size(task: PlacementTask, columns: Columns) -> Rows:
    """(2) at most one size per site, exactly one where it must be kept."""
    matrix = used(task, columns, np.arange(len(task.sites), dtype=np.int64))
    kept = np.flatnonzero([place.keep for place in task.sites])
    names = tuple(("keep_recorders", int(s)) for s in kept)
    return stacked([at_most(matrix, 1.0), at_most(-matrix[kept], -1.0, names)], columns.count)


def _ends_at_used(task: PlacementTask, columns: Columns) -> Rows:
    """(3) links end at used sites."""
    camera = _camera(task, columns)
    matrix, (_, site) = grouped(columns.count, columns.of("links"), camera, columns.recorder)
    return at_most(matrix - used(task, columns, site))


def _channels(task: PlacementTask, columns: Columns) -> Rows:
    """(4) no more cameras than the chosen size takes."""
    allowed = [
        cameras_allowed(channels, site_spare_percent(place, task.spare_percent))
        for place in task.sites
        for channels, _, _ in place.sizes
    ]
    sites = np.arange(len(task.sites), dtype=np.int64)
    at_site = summed(columns.count, len(sites), columns.recorder, columns.of("links"))
    names = tuple(("channels", int(s)) for s in sites)
    return at_most(at_site - used(task, columns, sites, np.array(allowed, dtype=float)), names=names)


def _limits(task: PlacementTask, columns: Columns) -> Rows:
    """(5) the other limits of each site, where given."""
    return stacked([_limit(task, columns, name) for name in LIMITS], columns.count)


def _limit(task: PlacementTask, columns: Columns, name: str) -> Rows:
    given = [getattr(place, name) for place in task.sites]
    sites = np.array([s for s, limit in enumerate(given) if limit is not None], dtype=np.int64)
    limit = np.array([1.0 if value is None else value for value in given])
    scale = np.where(limit > 0, limit, 1.0)
    loads = np.array([load(task.candidates[k], name) for k in columns.links], dtype=float)
    at_site = summed(
        columns.count, len(limit), columns.recorder, columns.of("links"), loads / scale[columns.recorder]
    )
    allowed = used(task, columns, sites, (limit / scale)[columns.size_site])
    return at_most(at_site[sites] - allowed, names=tuple((name, int(s)) for s in sites))


def _apart(task: PlacementTask, columns: Columns) -> Rows:
    """(6) cameras that must not share a recorder."""
    camera = _camera(task, columns)
    groups = []
    for n, cameras in enumerate(task.apart):
        links = np.flatnonzero(np.isin(camera, cameras))
        matrix, (site,) = grouped(columns.count, columns.of("links")[links], columns.recorder[links])
        groups.append(at_most(matrix - used(task, columns, site), names=(("apart", n),) * len(site)))
    return stacked(groups, columns.count)


def _counts(task: PlacementTask, columns: Columns) -> Rows:
    """(7) how many sites are used."""
    row = used(task, columns, np.arange(len(task.sites), dtype=np.int64)).sum(axis=0)
    matrix = sparse.csr_array(np.atleast_2d(row))
    groups = []
    if task.recorders_exactly is not None:
        exactly = np.array([task.recorders_exactly], dtype=float)
        groups.append(Rows(matrix, exactly, exactly, (("recorders_exactly", -1),)))
    if task.recorders_at_most is not None:
        groups.append(at_most(matrix, float(task.recorders_at_most), (("recorders_at_most", -1),)))
    return stacked(groups, columns.count)
