"""Small estates with installed links, as the audit would hand them on: judged by the search on their own way."""

from dataclasses import replace

import numpy as np

from estate import workflow
from estate.findings import Verdict
from estate.installed.link import InstalledLink
from estate.links.chosen import chosen_link
from estate.links.variants import Variant
from estate.network.paths import matrix, tree, way
from estate.placement.design import link_search
from tests.estates import EXACT, LOCAL, write_estate

ONE = "[prices]\nunlisted = 1\n"
"""Every metre of cable, every metre pulled, every end and every item costs 1."""


def checked(folder, toml, routes, points, cords=None, **layers):
    lengths = EXACT if cords is None else f"{EXACT}cords_m = {cords}\n"
    return workflow.prepare(
        write_estate(folder, LOCAL + lengths + toml, routes=routes, points=points, **layers)
    )


def search_of(folder, toml, routes, points, cords=None, **layers):
    each = checked(folder, toml, routes, points, cords, **layers)
    return link_search(each.survey, each.catalogue, each.network, each.separation)


def cable(identity, camera, kind, head="R", **more):
    """A row of the cables layer, in use and without joints."""
    return {
        "id": identity, "from": camera, "to": head, "camera": camera, "status": "in_use", "cable": kind, "joints": 0,
        **more,
    }  # fmt: skip


def installed(search, camera, method, feed="local", head="R", along=()):
    """The installed link of a camera: its cables of the survey on the shortest way, judged as a designed one.

    `along` are the segments that it may lie in; every one without them.
    """
    rows = search.survey.cables
    own = [k for k in range(len(rows)) if rows["camera"][k] == camera]
    own.sort(key=lambda k: search.catalogue.cables[rows["cable"][k]].family == "power")
    number = next(k for k, c in enumerate(search.cameras) if c.id == camera)
    site = next(k for k, s in enumerate(search.sites) if s.id == head)
    network = search.network
    inside = np.isin(network.segment_id.astype(str), along) | (not along)
    graph = matrix(network, np.where(inside, network.segment_length_m, np.inf))
    start, end = search.sites[site].node, int(search.network.point_node[search.cameras[number].row])
    nodes, segments = way(graph, tree(graph, start), end)
    variant = Variant(method, feed, *(rows["cable"][k] for k in own))
    found = search.on_way(site, number, variant, nodes, segments)
    link = chosen_link(search, found, search.sites[site])
    ids = tuple(str(rows["id"][k]) for k in own)
    return InstalledLink(link, ids, found, best=link.verdict)


def measured_bad(each, quantity="picture"):
    """The same link, found dark."""
    line = replace(
        each.link.lines[0], quantity=quantity, verdict=Verdict.OUTSIDE, basis="measured", informs=False
    )
    return replace(each, link=replace(each.link, lines=(*each.link.lines, line), verdict=Verdict.OUTSIDE))
