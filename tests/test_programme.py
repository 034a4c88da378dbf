"""The programme of remedies against looking at every set of repairs, and small cases worked by hand."""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estate.audit.programme import make_programme
from estate.audit.programme_task import CENTS, Plan, plan_of, programme_task
from estate.audit.remedy import RecorderRoom, Remedies, Remedy, Repair, resources_of, room_limits
from estate.findings import NAN, Action, Verdict


def remedy(name, cost, **more):
    return Remedy(name, Action.CONVERT, "new cable", "link", name, f"do {name}", cost, **more)


def repair(camera, *remedies, takes=(), port="analogue", recorder="R1"):
    return Repair(
        camera, remedies, Action.CONVERT, "new cable", recorder, recorder, port, "m", Verdict.WITHIN, 10.0, "", takes
    )  # fmt: skip


def task_of(costs, repairs, priorities, limits=None, holds=None):
    listed = tuple(remedy(n, c) for n, c in costs.items())
    return programme_task(Remedies(listed, tuple(repairs), (), limits or {}, holds or {}), priorities)


# Looking at everything


def every_plan(task):
    """Every choice of one repair or none for each camera that keeps the limits."""
    own = [[None, *(r for r in task.repairs if r.camera == camera)] for camera in task.cameras]
    for combination in product(*own):
        chosen = [r for r in combination if r is not None]
        fits = True
        for resource, limit in task.limits.items():
            before = task.used.get(resource, 0)
            after = before
            for each in chosen:
                after += each.takes.count(resource)
                after -= task.holds.get(each.camera, ()).count(resource)
            fits &= after <= max(limit, before)
        if fits:
            paid = {name for each in chosen for name in each.remedies}
            yield chosen, sum(task.cents[name] for name in paid)


names = st.sampled_from(["a", "b", "c", "d", "e", "f"])


@st.composite
def tasks(draw):
    costs = {name: draw(st.integers(0, 40)) for name in "abcdef"}
    cameras = [f"C{k}" for k in range(draw(st.integers(1, 4)))]
    repairs, holds = [], {}
    for camera in cameras:
        holds[camera] = resources_of("R1", draw(st.sampled_from(["analogue", "ethernet"])))
        for _ in range(draw(st.integers(0, 3))):
            needs = draw(st.lists(names, min_size=1, max_size=3, unique=True))
            port = draw(st.sampled_from(["analogue", "ethernet"]))
            site = draw(st.sampled_from(["R1", "R2"]))
            repairs.append(repair(camera, *sorted(needs), takes=resources_of(site, port), port=port))
    rooms = [
        RecorderRoom("R1", draw(st.integers(2, 5)), draw(st.integers(0, 4)), draw(st.integers(0, 4))),
        RecorderRoom("R2", draw(st.integers(0, 3))),
    ]
    priorities = {camera: draw(st.integers(1, 2)) for camera in cameras}
    return task_of(costs, repairs, priorities, room_limits(rooms), holds), draw(st.integers(0, 120))


@settings(max_examples=60, deadline=None)
@given(tasks())
def test_the_programme_is_the_best_of_all(case):
    task, budget = case
    made = make_programme(task, budget)
    plans = list(every_plan(task))
    least = {}
    for chosen, cents in plans:
        least[len(chosen)] = min(cents, least.get(len(chosen), cents))
    most = max(least)
    at_least = {k: min(least[n] for n in least if n >= k) for k in range(1, most + 1)}
    assert [plan.cents for plan in made.curve] == [at_least[k] for k in range(1, most + 1)]
    urgency = dict(zip(task.cameras, task.priorities, strict=True))

    def merit(chosen, cents):
        urgent = sum(urgency[r.camera] == 1 for r in chosen)
        return len(chosen), urgent, -cents

    best = max(merit(chosen, cents) for chosen, cents in plans if cents <= budget * CENTS)
    assert merit(made.chosen.repairs, made.chosen.cents) == best


@settings(max_examples=60, deadline=None)
@given(tasks())
def test_the_steps_pay_each_remedy_once_and_add_up(case):
    task, budget = case
    made = make_programme(task, budget)
    listed = [step.remedy for step in made.steps]
    assert len(listed) == len(set(listed))
    assert made.chosen.remedies == {step.remedy for step in made.steps if step.in_budget}
    total = cured = 0
    for step in made.steps:
        total, cured = total + step.cents, cured + len(step.cameras)
        assert (step.cents_total, step.cameras_total) == (total, cured)
    inside = [step for step in made.steps if step.in_budget]
    assert (inside[-1].cents_total if inside else 0) == made.chosen.cents
    assert sorted(c for step in inside for c in step.cameras) == list(made.chosen.cameras)
    assert [step.in_budget for step in made.steps] == sorted((s.in_budget for s in made.steps), reverse=True)


# By hand


def test_a_shared_remedy_is_paid_once():
    """Three cameras, each 60 by itself, or a fibre of 100 with 5 for each: 115 for all three, 60 for one."""
    costs = {"fibre": 100, "p1": 5, "p2": 5, "p3": 5, "q1": 60, "q2": 60, "q3": 60}
    repairs = [r for k in "123" for r in (repair(f"C{k}", "fibre", f"p{k}"), repair(f"C{k}", f"q{k}"))]
    task = task_of(costs, repairs, {"C1": 5, "C2": 5, "C3": 5})
    made = make_programme(task)
    assert [plan.cents / CENTS for plan in made.curve] == [60, 110, 115]
    assert [(s.remedy, s.cents_total / CENTS, s.cameras_total) for s in made.steps] == [
        ("fibre", 100, 0), ("p1", 105, 0), ("p2", 110, 0), ("p3", 115, 3),
    ]  # fmt: skip
    assert make_programme(task, 114).chosen.cents == 110 * CENTS
    assert make_programme(task, 59).chosen == Plan((), 0)


def test_the_rest_is_completed_at_what_is_not_paid_yet():
    costs = {"a": 10, "b": 30, "c": 50}
    task = task_of(
        costs, [repair("C1", "a"), repair("C2", "b"), repair("C3", "c")], {"C1": 5, "C2": 5, "C3": 5}
    )
    made = make_programme(task, 45)
    told = [(s.remedy, s.in_budget, s.cents_total / CENTS, s.cameras_total) for s in made.steps]
    assert told == [("a", True, 10, 1), ("b", True, 40, 2), ("c", False, 90, 3)]


def test_what_is_not_priced_is_left_out():
    known = Remedies((remedy("a", NAN), remedy("b", 7)), (repair("C1", "a"), repair("C1", "b")))
    task = programme_task(known, {"C1": 5})
    assert [r.remedies for r in task.repairs] == [("b",)]


@pytest.mark.parametrize(("network", "cured"), [(2, 2), (NAN, 4)])
def test_conversions_need_a_network_channel(network, cured):
    """18 channels, 16 analogue cameras, 4 of them to become network cameras: 4 over 2; without that limit all 4."""
    room = RecorderRoom("R1", 18, 16, network)
    holds = {f"C{k}": resources_of("R1", "analogue") for k in range(16)}
    costs = {f"m{k}": 100 for k in range(4)}
    repairs = [
        repair(f"C{k}", f"m{k}", takes=resources_of("R1", "ethernet"), port="ethernet") for k in range(4)
    ]
    task = task_of(costs, repairs, dict.fromkeys([f"C{k}" for k in range(4)], 5), room_limits([room]), holds)
    assert len(make_programme(task).chosen.repairs) == cured
    assert (room.refusal(12, 4) == "R1: 4 network cameras over 2 network channels") is (network == 2)
    assert room.spare_in_words(16, 25) == "R1: 2 spare on 16 in use is 12.5 %, below 25"


def test_without_anything_to_cure_there_is_no_step():
    made = make_programme(task_of({}, [], {}), 100)
    assert (made.curve, made.steps, made.chosen) == ((), (), Plan((), 0))
    assert plan_of(made.task, []) == Plan((), 0)
