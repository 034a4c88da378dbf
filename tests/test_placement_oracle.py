"""The placement program against exhaustive search and against other solvers."""

import networkx as nx
import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

from estate.errors import Infeasible
from estate.placement.solve import solve_placement
from estate.placement.verify import cable_m, money
from tests.placement_cases import answer_value, exhaustive, link, random_task, site, task


@pytest.mark.parametrize("seed", range(12))
def test_equals_exhaustive_search_on_small_tasks(seed):
    rng = np.random.default_rng(seed)
    for _ in range(30):
        given = random_task(rng)
        best = exhaustive(given)
        if best is None:
            with pytest.raises(Infeasible):
                solve_placement(given)
            continue
        answer = solve_placement(given)
        assert answer_value(given, answer) == best
        assert answer.status in ("optimal", "none")
        assert answer.gap_percent == pytest.approx(0, abs=1e-6)
        plain = money(given, answer) if given.objective == "cost" else cable_m(given, answer)
        assert answer.objective_value == pytest.approx(plain)


def test_random_tasks_reach_every_limit():
    """The tasks above mean something only where limits change the best answer."""
    rng = np.random.default_rng(0)
    bound = dict.fromkeys(
        ("works_cost", "apart", "spare_percent", "recorders_exactly", "recorders_at_most"), 0
    )
    free = {"works_cost": dict.fromkeys(range(4), 0.0), "apart": (), "spare_percent": 0.0}
    for _ in range(60):
        given = random_task(rng)
        best = exhaustive(given)
        for name in bound:
            values = {field: getattr(given, field) for field in given.__slots__} | {name: free.get(name)}
            bound[name] += exhaustive(type(given)(**values)) != best
    assert min(bound.values()) >= 3


def test_one_channel_each_is_the_assignment_problem():
    """Against SciPy's linear_sum_assignment, a shortest augmenting path method."""
    rng = np.random.default_rng(5)
    cost = rng.integers(1, 1000, (12, 15)).astype(float)
    links = [link(c, s, cost[c, s]) for c in range(12) for s in range(15)]
    answer = solve_placement(task([site(f"R{s}", (1, 0)) for s in range(15)], links))
    rows, columns = linear_sum_assignment(cost)
    assert answer.objective_value == pytest.approx(cost[rows, columns].sum())


def test_existing_recorders_are_a_flow_of_least_cost():
    """Against networkx's network simplex: channels are capacities; the most cameras first, by a large reward."""
    rng = np.random.default_rng(6)
    channels, cameras = [5, 3, 7, 4], 24
    pairs = sorted(
        {
            (int(c), int(s))
            for c, s in zip(rng.integers(cameras, size=60), rng.integers(4, size=60), strict=True)
        }
    )
    cost = {pair: int(rng.integers(1, 100)) for pair in pairs}
    graph = nx.DiGraph()
    for c, s in pairs:
        graph.add_edge("from", f"C{c}", capacity=1, weight=0)
        graph.add_edge(f"C{c}", f"R{s}", capacity=1, weight=cost[c, s])
        graph.add_edge(f"R{s}", "to", capacity=channels[s], weight=0)
    flow = nx.max_flow_min_cost(graph, "from", "to")
    sites = [site(f"R{s}", (n, 0), existing=True) for s, n in enumerate(channels)]
    answer = solve_placement(task(sites, [link(c, s, float(cost[c, s])) for c, s in pairs], cameras))
    assert (answer.choice >= 0).sum() == sum(flow["from"].values())
    assert answer.objective_value == pytest.approx(nx.cost_of_flow(graph, flow))


@pytest.mark.parametrize("seed", range(3))
def test_equals_a_plain_program_on_medium_tasks(seed):
    """Against SciPy's milp on the textbook's weak formulation: capacities only, no link by link rows.

    Formulation: capacitated facility location, Sridharan, R. (1995), European Journal of Operational Research 87,
    203-213 (from memory).
    """
    rng = np.random.default_rng(seed)
    cameras, sites = 40, 6
    camera_at, site_at = rng.uniform(0, 400, (cameras, 2)), rng.uniform(0, 400, (sites, 2))
    cost = np.linalg.norm(camera_at[:, None] - site_at, axis=2)
    opening = rng.uniform(200, 1500, sites)
    links = [link(c, s, cost[c, s], works=(c % 5,)) for c in range(cameras) for s in range(sites)]
    works = {w: float(rng.uniform(0, 50)) for w in range(5)}
    given = task(
        [site(f"R{s}", (16, opening[s])) for s in range(sites)], links, works_cost=works, spare_percent=25.0
    )
    answer = solve_placement(given)
    # every camera needs its work wherever it goes, so works are a constant here
    assert answer.objective_value - sum(works.values()) == pytest.approx(
        _plain_program(cost, opening, 12), rel=1e-6
    )


def _plain_program(cost, opening, most):
    cameras, sites = cost.shape
    assign = sparse.hstack(
        [sparse.kron(sparse.eye(cameras), np.ones((1, sites))), sparse.csr_matrix((cameras, sites))]
    )
    capacity = sparse.hstack(
        [sparse.kron(np.ones((1, cameras)), sparse.eye(sites)), -most * sparse.eye(sites)]
    )
    found = milp(
        np.concatenate([cost.ravel(), opening]),
        integrality=np.ones(cameras * sites + sites),
        bounds=Bounds(0, 1),
        constraints=[LinearConstraint(assign.tocsr(), 1, 1), LinearConstraint(capacity.tocsr(), -np.inf, 0)],
        options={"mip_rel_gap": 0},
    )
    return found.fun


def test_optimal_means_optimal_after_strong_presolve():
    """A task that HiGHS 1.16 called optimal at 74 instead of 26 when it was handed a first answer."""
    rows = [  # camera, port, cost, Mb/s, PoE W, works
        (0, "ethernet", 24, 2, 15.4, ()),
        (0, "analogue", 24, 8, 0, (0,)),
        (1, "ethernet", 5, 4, 30, ()),
        (1, "ethernet", 0, 4, 30, ()),
        (1, "analogue", 23, 2, 0, ()),
        (1, "ethernet", 10, 8, 0, ()),
        (2, "ethernet", 14, 2, 7, ()),
        (2, "ethernet", 17, 4, 30, ()),
        (2, "analogue", 5, 8, 0, (0,)),
        (2, "ethernet", 1, 2, 30, (3,)),
        (3, "ethernet", 1, 4, 30, (0,)),
        (3, "analogue", 11, 2, 0, (2,)),
    ]
    links = [
        link(c, 0, float(m), port=p, mbps=float(r), poe_w=float(w), works=z) for c, p, m, r, w, z in rows
    ]
    given = task(
        [site("R0", (2, 4), (3, 11), mbps_max=17.0, poe_ports=1)],
        links,
        priorities=(3, 3, 1, 3),
        works_cost={0: 10.0, 2: 34.0, 3: 28.0},
        spare_percent=50.0,
        recorders_exactly=1,
    )
    assert exhaustive(given)[-1] == 26
    assert solve_placement(given).objective_value == 26
