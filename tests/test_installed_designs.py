"""A designed link, written down as installed cables, audits to the same budget lines: both are one type."""

import numpy as np
import pytest

from estate import workflow
from estate.audit.audit import make_audit
from estate.placement.design import make_design
from tests.estates import write_estate
from tests.small_estates import random_estate


def installed_rows(design, link):
    """The cables of a designed link as rows, stretch by stretch, with what stands on the way."""
    network, routes = design.network, design.survey.routes["id"]
    nodes = [str(name) for name in network.node_id]
    kinds = design.catalogue.items
    way = ("repeater", "extender", "switch", "encoder", "converter", "supply", "isolator", "protector")
    standing = [e for e in link.equipment if kinds[e.item].kind in way]
    on_way = [e for e in standing if e.fed_by or kinds[e.item].kind in ("isolator", "protector")]
    rows = []
    for number, run in enumerate(link.runs):
        passed = dict.fromkeys(int(network.segment_route[s]) for s in run.segments)
        here = [f"{e.item}@{e.node}" for e in on_way if e.node in [nodes[n] for n in run.nodes]]
        rows.append({
            "id": f"{link.camera}-{number}", "from": nodes[run.nodes[0]], "to": nodes[run.nodes[-1]],
            "camera": link.camera, "status": "in_use", "cable": run.cable, "method": run.method, "joints": 0,
            "routes": ";".join(str(routes[r]) for r in passed if r >= 0),
            "length_m": repr(float(run.cable_length_m)), "equipment": ";".join(dict.fromkeys(here)) if run.role == "signal" else "",
        })  # fmt: skip
    return rows


def told(link):
    """Budget lines that govern, by quantity, state and profile; values and verdicts in the order of stretches."""
    found = {}
    for line in link.lines:
        if not line.informs:
            found.setdefault((line.quantity, line.state, line.profile), []).append(
                (line.value, line.limit, line.verdict)
            )
    return found


def pairs(folder, seed):
    """Designed links of a random estate with what an audit makes of them."""
    rows = random_estate(seed)
    rows.cables.clear()
    checked = workflow.prepare(write_estate(folder / "design", rows.toml, **rows.layers()))
    design = make_design(
        checked.survey, checked.catalogue, checked.network, checked.separation, workflow.silent
    )
    links = [
        link for link in design.links if link.kind == "camera" and link.runs and link.head == link.recorder
    ]
    rows.cables.extend(row for link in links for row in installed_rows(design, link))
    if not rows.cables:
        return []
    for route in rows.routes:
        route["status"] = "existing"
    fed = {link.camera: link.feed for link in links}
    for point in rows.points:  # what feeds a camera isn't a fact of its cables
        point["feeds"] = fed.get(point["id"], point.get("feeds", ""))
    again = workflow.prepare(write_estate(folder / "audit", rows.toml, **rows.layers()))
    audit = make_audit(again.survey, again.catalogue, again.network, again.separation, workflow.silent)
    by_camera = {each.link.camera: each for each in audit.installed}
    return [(link, by_camera[link.camera]) for link in links]


@pytest.mark.parametrize("seeds", [range(k, 40, 4) for k in range(4)])
def test_a_designed_link_audits_to_its_own_budget(tmp_path, seeds):
    compared = 0
    for seed in seeds:
        for designed, each in pairs(tmp_path / str(seed), seed):
            where = f"seed {seed}, {designed.camera}: {designed.method} {each.link.limiting}"
            assert each.found is not None, where
            assert each.link.verdict is designed.verdict, where
            assert each.link.method == designed.method, where
            before, after = told(designed), told(each.link)
            assert before.keys() == after.keys(), where
            for check, values in before.items():
                for (value, limit, verdict), (value_now, limit_now, verdict_now) in zip(
                    values, after[check], strict=True
                ):
                    assert verdict is verdict_now, (where, check)
                    assert np.isclose(value, value_now, equal_nan=True, rtol=1e-6), (where, check)
                    assert np.isclose(limit, limit_now, equal_nan=True), (where, check)
            compared += 1
    assert compared > 3
