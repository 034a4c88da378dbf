"""The tests to be made of installed links, as a table with room for what is measured."""

from collections.abc import Sequence

from estate.links.camera import camera_facts
from estate.output.result import Table, table
from estate.placement.acceptance import Acceptance, acceptance_tests
from estate.placement.design import Design

TESTS = (
    "test", "link", "number", "cable", "kind", "at", "state", "expected", "relation", "limit", "unit", "text", "source",
    "record", "measured", "tested_on",
)  # fmt: skip
"""`record` is the column of the layer `cables` that takes the measured value."""


def tests_due(design: Design) -> list[Acceptance]:
    """Return the tests of a design's links."""
    cameras = {camera.id: camera for camera in camera_facts(design.survey.points)}
    return acceptance_tests(design.links, cameras, design.catalogue)


def tests_table(design: Design, due: Sequence[Acceptance], runs: Table) -> Table:
    """One row per test, numbered; `measured` and `tested_on` are left to be filled in. Cables have their numbers of the `runs`."""
    numbers = iter(runs.column("number"))
    told = {link.id: [(run.cable, next(numbers)) for run in link.runs] for link in design.links}
    rows = []
    for place, each in enumerate(due, 1):
        cable, number = told[each.link][each.run] if each.run >= 0 else ("", "")
        rows.append(
            (
                f"A{place}", each.link, number, cable, each.kind, each.at, each.state, each.expected, each.relation,
                each.limit, each.unit, each.text, each.source, each.record, None, "",
            )
        )  # fmt: skip
    return table(TESTS, rows)
