"""Whether the new cable of a remedy can be pulled where it is to lie."""

from collections.abc import Iterator

from estate.findings import Verdict
from estate.links.link import Link
from estate.links.search import LinkSearch
from estate.placement.pull_findings import designed_pulls


def pull_words(search: LinkSearch, link: Link) -> Iterator[str]:
    """Yield what pulling a link's new cable by itself asks for: a pull above its limit, one that can't be evaluated.

    A pull point that would be built for it is in nobody's price.
    """
    network = search.network
    pulls = [each.pull for each in designed_pulls(search.survey, network, search.catalogue, [link])]
    for found in pulls:
        ends = " to ".join(str(network.node_id[node]) for node in found.section.nodes)
        if found.verdict is Verdict.OUTSIDE:
            yield (
                f"pulling {found.cable} from {ends} takes {found.kinder_n:.0f} N where {found.limit_n:.0f} N may be "
                "pulled: a pull point between comes first, not priced"
            )
        elif found.verdict is Verdict.VERIFY:
            yield f"the pull of {found.cable} from {ends} is not evaluated: bends, mass or limit not known"
