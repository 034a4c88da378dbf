"""Whether methods have what links are reckoned with: conductors for their feeds, applications for their fibres."""

from collections.abc import Iterator

from estate.catalogue.tables import Catalogue, Method

Missing = tuple[str, str, object, str]


def missing_of_methods(catalogue: Catalogue) -> Iterator[Missing]:
    """Give the method's id, key, value, and what was expected there."""
    for method in catalogue.methods.values():
        yield from _conductors(method, catalogue)
        for cable in method.signal_cables:
            entry = catalogue.cables.get(cable)
            if entry is not None and entry.family == "fibre" and cable not in method.applications:
                yield method.id, "applications", None, f"the fibre application that it uses on {cable}"


def _conductors(method: Method, catalogue: Catalogue) -> Iterator[Missing]:
    """Give the number of conductors each way where a feed needs conductors of its own."""
    fed = [f for f in method.feeds if f in catalogue.feeds and catalogue.feeds[f].kind in ("dc", "ac")]
    for key, count in (("power_out", method.power_out), ("power_back", method.power_back)):
        if fed and count < 1:
            yield method.id, key, count, f"1 or more conductors in parallel for feed {fed[0]}"
