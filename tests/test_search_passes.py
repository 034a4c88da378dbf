"""Passes of the search that start from what another pass found: the same as a search of its own."""

import pytest

from estate.links.search import LinkSearch
from tests.small_estates import random_estate
from tests.test_search_oracle import prepared, silent

SEEDS = range(40)


def best(search, found):
    """The least cost by camera, site and kind."""
    costs: dict = {}
    for link in found:
        key = (link.camera, link.site, *search.kind(link))
        costs[key] = min(costs.get(key, float("inf")), search.made_least(link))
    return costs


def links(search, **more):
    everyone = range(len(search.cameras))
    return search.candidates(everyone, with_verify=False, progress=silent, **more)


def with_rules(search, like):
    """A search that knows nothing of another, under the same rules."""
    estate = (search.network, search.survey, search.catalogue, search.prices, search.separation)
    rules = {"paid": like.paid, "taken": like.taken, "closed": like.closed}
    return LinkSearch(*estate, search.cameras, search.sites, **rules)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_pass_behind_an_easier_one_finds_the_same(tmp_path, seed):
    rows = random_estate(seed)
    search = prepared(tmp_path / "one", rows)
    easiest = search.with_works_paid()
    loose = links(easiest)
    own = links(search, easier=loose)
    some = [s for s, works in enumerate(search.works) if works > 0][:1]
    passes = [
        (search, own),
        (search.with_works_paid(some), None),
        (search.without_spares(), None),
        (search.with_closed([0]), None),
    ]
    for later, found in passes:
        alone = with_rules(prepared(tmp_path / "other", rows), later)
        given = found if found is not None else links(later, easier=loose, others=own)
        assert best(later, given) == pytest.approx(best(alone, links(alone)), rel=1e-9, abs=1e-8)
