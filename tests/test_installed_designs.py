"""A designed link, written down as installed cables, audits to the same budget lines: both are one type."""

from copy import deepcopy

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


def designed(folder, rows):
    """The links that a design of an estate without cables has, from recorders alone; its routes are built by then."""
    rows.cables.clear()
    checked = workflow.prepare(write_estate(folder, rows.toml, **rows.layers()))
    design = make_design(
        checked.survey, checked.catalogue, checked.network, checked.separation, workflow.silent
    )
    for route in rows.routes:
        route["status"] = "existing"
    links = [x for x in design.links if x.kind == "camera" and x.runs and x.head == x.recorder]
    fed = {link.camera: link.feed for link in links}
    for point in rows.points:  # what feeds a camera isn't a fact of its cables
        point["feeds"] = fed.get(point["id"], point.get("feeds", ""))
    return links, design


def pairs(folder, seed):
    """Designed links of a random estate with what an audit makes of them."""
    rows = random_estate(seed)
    links, design = designed(folder / "design", rows)
    rows.cables.extend(row for link in links for row in installed_rows(design, link))
    if not rows.cables:
        return []
    by_camera = audited(folder / "audit", rows)
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


BLANKS = ("cable", "joints", "method")
CAMERA_BLANKS = ("load_w", "load_night_w", "signal", "insulated")
CLASSES = {"within": "passes", "marginal": "passes", "outside": "outside"}


def audited(folder, rows):
    checked = workflow.prepare(write_estate(folder, rows.toml, **rows.layers()))
    made = make_audit(checked.survey, checked.catalogue, checked.network, checked.separation, workflow.silent)
    return {each.link.camera: each for each in made.installed}


def with_blanks(rows, rng):
    """The same estate with some facts of its cables, cameras and buildings left blank."""
    blank = deepcopy(rows)
    for row in blank.cables:
        row.update({name: "" for name in BLANKS if rng.random() < 0.3})
    for point in blank.points:
        if point["kind"] == "camera":
            point.update({name: "" for name in CAMERA_BLANKS if name in point and rng.random() < 0.15})
    for building in blank.buildings:
        if rng.random() < 0.3:
            building["earthing"] = ""
    return blank


@pytest.mark.parametrize("seeds", [range(k, 32, 4) for k in range(4)])
def test_what_is_settled_with_facts_missing_is_what_the_facts_say(tmp_path, seeds):
    """Whatever is blank: a link that is settled has the answer that it has with every fact; another tells what decides."""
    settled = 0
    for seed in seeds:
        rng, rows = np.random.default_rng(seed), random_estate(seed)
        links, design = designed(tmp_path / f"{seed}d", rows)
        rows.cables.extend(row for link in links for row in installed_rows(design, link))
        if not rows.cables:
            continue
        for row in rows.cables:
            row["length_m"] = float(row["length_m"]) * float(rng.choice([0.4, 1, 3]))
            row["joints"] = int(rng.integers(0, 4)) if rng.random() < 0.3 else 0
        whole = audited(tmp_path / f"{seed}w", rows)
        for camera, each in audited(tmp_path / f"{seed}b", with_blanks(rows, rng)).items():
            where = f"seed {seed}, {camera}: {each.link.limiting}"
            if each.link.verdict in CLASSES:
                assert CLASSES.get(whole[camera].link.verdict) == CLASSES[each.link.verdict], where
                settled += 1
            elif each.link.verdict == "verify":
                assert each.deciding, where
                assert all(fact.test for fact in each.deciding), where
    assert settled
