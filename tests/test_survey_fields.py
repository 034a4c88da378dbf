"""The schema of the layers: cells that come back as they were, examples, blanks, the reference page."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate.survey.fields import LAYERS, Column, reference_page
from estate.survey.table import objects
from estate.survey.template import spelt
from estate.survey.values import Unfit, blank, convert

CELLS = st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=8).filter(str.strip)


@given(value=st.floats(0, 1e12))
def test_numbers_survive_their_cell(value):
    column = Column(name="n", kind="number", doc="", least=0)
    assert convert(spelt(value), column, {}) == value


@given(words=st.lists(CELLS.filter(lambda w: not set(w) & {";", "|"}), min_size=1, max_size=4))
def test_lists_survive_their_cell(words):
    column = Column(name="l", kind="list", doc="")
    expected = tuple(word.strip() for word in words)
    assert convert(spelt(expected), column, {}) == expected


def test_examples_and_defaults_fit_their_columns():
    for schema in LAYERS.values():
        assert len(schema.by_name) == len(schema.columns)
        for column in schema.columns:
            for value in (column.example, column.default):
                if value is not None:
                    shown = convert(list(value) if isinstance(value, tuple) else value, column, {})
                    assert shown == value
            with pytest.raises(Unfit):
                convert({"a": 1}, column, {})


def test_blanks_are_what_a_layer_promises():
    kinds = {kind: blank(Column(name="c", kind=kind, doc="")) for kind in ("text", "flag", "choice", "list")}
    assert kinds == {"text": None, "flag": None, "choice": None, "list": ()}


def test_the_reference_page_names_every_layer_and_column():
    page = reference_page()
    for schema in LAYERS.values():
        section = page.split(f"## {schema.name}\n")[1].split("\n## ")[0]
        assert all(f"| `{column.name}`" in section for column in schema.columns)


def test_object_columns_hold_sequences_whole():
    assert objects([(1, 2), (3, 4)]).shape == (2,)
