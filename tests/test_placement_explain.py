"""Why settings can't be met, and why cameras stay without a recorder."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from estate.errors import Infeasible
from estate.placement.explain import short
from estate.placement.refusal import irreducible
from estate.placement.solve import solve_placement
from tests.placement_cases import exhaustive, link, random_task, site, task


def refused(given):
    with pytest.raises(Infeasible) as raised:
        solve_placement(given)
    return list(raised.value.reasons)


def three(keep="", forbid="", **other):
    sites = [site(name, (4, 1), keep=name in keep, forbid=name in forbid) for name in "ABC"]
    return task(sites, [link(0, 0)], **other)


def test_more_recorders_than_sites():
    reasons = refused(three(recorders_exactly=5, recorders_at_most=7))
    assert reasons == ["the estate has 3 recorder sites", "recorders_exactly = 5"]


def test_forbidden_sites_count_where_they_matter():
    assert refused(three(forbid="A", recorders_exactly=3)) == [
        "the estate has 3 recorder sites",
        "forbid_recorders has A",
        "recorders_exactly = 3",
    ]


def test_kept_and_forbidden_at_once():
    assert refused(three(keep="AB", forbid="BC")) == ["keep_recorders has B", "forbid_recorders has B"]


@pytest.mark.parametrize("count", ["recorders_exactly", "recorders_at_most"])
def test_more_kept_than_allowed(count):
    assert refused(three(keep="AC", **{count: 1})) == [
        "keep_recorders has A",
        "keep_recorders has C",
        f"{count} = 1",
    ]


def test_two_counts_that_disagree():
    assert refused(three(recorders_exactly=2, recorders_at_most=1)) == [
        "recorders_exactly = 2",
        "recorders_at_most = 1",
    ]


def test_a_kept_site_without_a_size():
    given = task([site("A", keep=True), site("B", (4, 1))], [link(0, 1)])
    assert refused(given) == ["keep_recorders has A", "recorder A has no size to choose"]


def test_one_site_is_named_in_the_singular():
    assert (
        refused(task([site("A", (4, 1))], [link(0, 0)], recorders_exactly=2))[0]
        == "the estate has 1 recorder site"
    )


def test_the_reasons_alone_are_too_much_and_each_is_needed():
    """Checked by exhaustive search."""
    rng = np.random.default_rng(2)
    seen = 0
    for _ in range(200):
        given = random_task(rng, cameras=1, most_links=1)
        if exhaustive(given) is not None:
            continue
        seen += 1
        reasons = refused(given)
        assert exhaustive(only(given, reasons)) is None
        for reason in set(reasons) - {"the estate has 3 recorder sites"}:
            assert exhaustive(only(given, [r for r in reasons if r != reason])) is not None
    assert seen >= 10


def only(given, reasons):
    """The task with these settings and no others."""
    sites = tuple(
        replace(
            place,
            keep=f"keep_recorders has {place.id}" in reasons,
            forbid=f"forbid_recorders has {place.id}" in reasons,
        )
        for place in given.sites
    )
    counts = {
        name: getattr(given, name) if f"{name} = {getattr(given, name)}" in reasons else None
        for name in ("recorders_exactly", "recorders_at_most")
    }
    return replace(given, sites=sites, **counts)


@drawn(st.lists(st.frozensets(st.integers(0, 5), min_size=1), min_size=1, max_size=4))
def test_irreducible_sets_are_minimal(conflicts):
    def holds(items):
        return not any(conflict <= set(items) for conflict in conflicts)

    found = irreducible(range(6), holds)
    assert not holds(found)
    assert all(holds(part) for part in combinations(found, len(found) - 1))


def test_channels_short():
    given = task([site("A", (4, 1), (8, 2))], [link(c, 0) for c in range(11)])
    assert short(given, solve_placement(given)) == ["recorder A: channels short by 3 for C9, C10, C11"]


def test_spare_counts_in_the_shortage_of_a_new_recorder():
    # 15 cameras with 25 % are 18.75, so 19 channels; 16 are there
    given = task([site("A", (16, 1))], [link(c, 0) for c in range(15)], spare_percent=25.0)
    assert short(given, solve_placement(given)) == ["recorder A: channels short by 3 for C13, C14, C15"]


@pytest.mark.parametrize(
    ("limit", "other", "words"),
    [
        ({"channels_analogue": 1}, {"port": "analogue"}, "analogue channels short by 2"),
        ({"channels_network": 1}, {}, "network channels short by 2"),
        ({"mbps_max": 6.0}, {"mbps": 6.0}, "throughput short by 12 Mb/s"),
        ({"poe_ports": 1}, {"poe_w": 7.0}, "PoE ports short by 2"),
        ({"poe_w": 20.0}, {"poe_w": 15.4}, "PoE power short by 26.2 W"),
    ],
)
def test_other_limits_short(limit, other, words):
    given = task([site("A", (8, 1), **limit)], [link(c, 0, float(c), **other) for c in range(3)])
    lines = short(given, solve_placement(given))
    assert len(lines) == 1
    assert lines[0].startswith(f"recorder A: {words} for C")
    assert lines[0].count("C") == 2


def test_closed_recorders_are_named_with_the_setting_that_closes_them():
    links = [link(0, 0), link(1, 0), link(2, 1), link(3, 2)]
    sites = [site("A", (4, 1)), site("B", (4, 1)), site("C", (4, 1), forbid=True)]
    given = task(sites, links, recorders_at_most=1)
    assert short(given, solve_placement(given)) == [
        "recorder B: closed by recorders_at_most = 1 for C3",
        "recorder C: closed by forbid_recorders for C4",
    ]


def test_apart_is_named_with_the_cameras_in_the_way():
    given = task([site("A", (4, 1))], [link(c, 0, float(c)) for c in range(2)], apart=((0, 1),))
    assert short(given, solve_placement(given)) in (
        ["recorder A: C2 must stand apart from C1"],
        ["recorder A: C1 must stand apart from C2"],
    )


def test_an_answer_cut_short_blames_no_limit():
    given = task([site("A", (4, 1))], [link(0, 0)])
    answer = replace(solve_placement(given), choice=np.array([-1]), size=np.array([-1]), status="time_limit")
    assert short(given, answer) == ["C1: no limit stands in the way, the solver stopped before it was placed"]


def test_every_unserved_camera_is_explained():
    """A proven answer leaves no camera out whose link breaks no limit."""
    rng = np.random.default_rng(4)
    explained = 0
    for _ in range(80):
        given = replace(random_task(rng, cameras=6), recorders_exactly=None, recorders_at_most=None)
        sites = tuple(replace(place, keep=False, forbid=False) for place in given.sites)
        given = replace(given, sites=sites)
        answer = solve_placement(given)
        text = " ".join(short(given, answer))
        reachable = {k.camera for k in given.candidates}
        for camera in reachable - set(np.flatnonzero(answer.choice >= 0).tolist()):
            assert given.cameras[camera] in text
            explained += 1
        assert "solver stopped" not in text
    assert explained >= 20
