"""The PoE power of a switch that stands and doesn't say what it has: its links are to be verified, never taken as fed."""

import numpy as np

from estate.findings import NAN
from estate.links.found import Found
from estate.links.lines import unknown
from estate.links.link import BudgetLine
from estate.links.search import LinkSearch
from estate.links.site import SiteFacts


def power_unknown(search: LinkSearch, site: SiteFacts) -> bool:
    """Whether a switch stands at a cabinet of which nobody says what power its ports share."""
    points = search.survey.points
    stands = site.is_cabinet and site.existing and not np.isnan(float(points["ports"][site.row]))
    return bool(stands and np.isnan(float(points["poe_w"][site.row])))


def power_lines(search: LinkSearch, found: Found) -> tuple[BudgetLine, ...]:
    """Return the line of a link that such a switch feeds; none for any other."""
    site = search.sites[found.site]
    fed = not np.isnan(search.catalogue.feeds[found.scheme.stages[0].feed].number("pse_w"))
    if not fed or not power_unknown(search, site):
        return ()
    return (unknown("switch power", "", NAN, "W", f"what the switch at {site.id} has for PoE is not known"),)
