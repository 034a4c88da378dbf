"""What `estate explain` tells of an installed link's cures."""

from estate.output.explain_audit import told_cures
from estate.output.remedy_tables import REFUSED, REPAIRS
from estate.output.result import Result, table


def a_result(repairs, refused):
    tables = {"repairs": table(REPAIRS, repairs), "refused": table(REFUSED, refused)}
    return Result("audit", "0", {"currency": "GBP"}, {}, "", "", {}, tables, {}, ())


def a_repair(camera, cost, text):
    return (camera, 1, "convert", "new cable", "R1", "R1", "ethernet", [], cost, "within", 20.0, text)


def test_the_cures_of_a_camera_are_told_with_money_and_what_they_give():
    result = a_result([a_repair("C1", 1212.5, "a new cable"), a_repair("C2", 5.0, "of another camera")], [])
    assert list(told_cures(result, "C1")) == [
        "",
        "would cure it: a new cable (convert, 1,212.50 GBP; then within)",
    ]


def test_what_a_rule_refuses_is_told_with_its_reason():
    result = a_result([], [("C1", "convert", "new cable", "R1: 4 network cameras over 2 network channels")])
    assert list(told_cures(result, "C1"))[1] == (
        "refused: convert (new cable): R1: 4 network cameras over 2 network channels"
    )


def test_nothing_is_told_of_a_camera_without_cures():
    assert list(told_cures(a_result([a_repair("C2", 5.0, "of another camera")], []), "C1")) == []
