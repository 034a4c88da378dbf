"""Which conductor of a cable carries what, and where it ends."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from estate.catalogue.tables import Cable, Catalogue, Feed, Method
from estate.errors import InputError, Problem

SPARE = "spare"
DATA = "data"
VIDEO_POLES = ("video +", "video −")
DATA_POLES = ("data +", "data −")
FEED_POLES: Mapping[str, tuple[str, str]] = {
    "dc": ("power +", "power −"),
    "ac": ("power ~1", "power ~2"),
    "": ("power", "power"),
}
"""Purposes out and back by kind of feed; power whose feed isn't known has no pole."""
POE_PURPOSES = ("data; power in mode A", "data; power in mode B", "data and power")
TERMINALS: Mapping[str, str] = {
    "video +": "V+",
    "video −": "V−",
    "data +": "D+",
    "data −": "D−",
    "power +": "P+",
    "power −": "P−",
    "power ~1": "P1",
    "power ~2": "P2",
}
"""Terminals of screw ends, this program's own numbering."""
PURPOSES = (*TERMINALS, "power", DATA, *POE_PURPOSES, SPARE)
ORDERS = ("t568a", "t568b")
COAX = ("centre", "screen")


@dataclass(frozen=True, slots=True)
class ConductorUse:
    """One conductor of a cable, its pair (0: in none) and its purpose."""

    conductor: str
    pair: int
    purpose: str


@dataclass(frozen=True, slots=True)
class ColourCode:
    """The conductors of pairs 1 to 4, and of positions 1 to 8 in each order of plugs."""

    pairs: tuple[tuple[str, str], ...]
    orders: Mapping[str, tuple[str, ...]]

    def pair(self, conductor: str) -> int:
        """Return the number of a conductor's pair, 0 where it is no conductor of the code."""
        return next((n for n, pair in enumerate(self.pairs, 1) if conductor in pair), 0)

    def position(self, conductor: str, order: str) -> int:
        """Return a conductor's position in a plug, 0 where the order or the conductor isn't known."""
        held = self.orders.get(order, ())
        return held.index(conductor) + 1 if conductor in held else 0


def colour_code(catalogue: Catalogue) -> ColourCode:
    """Return the catalogue's colour code; InputError where an order doesn't hold every conductor once."""
    rules = catalogue.rules["conductors"]
    names = [tuple(map(str, rules[f"pair_{n}"].value)) for n in range(1, 5)]
    every = sorted(conductor for pair in names for conductor in pair)
    wrong = [f"pair_{n}" for n, pair in enumerate(names, 1) if len(set(pair)) != 2]
    wrong += [order for order in ORDERS if sorted(rules[order].value) != every]
    if wrong:
        expected = "two conductors in a pair, and each of the eight once in an order"
        raise InputError(
            [Problem("estate.toml", expected, field=f"[catalogue.rules.conductors] {key}") for key in wrong]
        )
    pairs = tuple((first, second) for first, second in names)
    return ColourCode(pairs, {order: tuple(rules[order].value) for order in ORDERS})


# Planned use -----------------------------------------------------------------------------------------------------


def conductor_use(
    method: Method, cable: Cable, feed: Feed | None, catalogue: Catalogue
) -> tuple[ConductorUse, ...]:
    """Return what each conductor of a cable carries, by pair; those of a power cable are numbered.

    Nothing for fibre, and for a cable whose number of conductors isn't known. `feed` None: not known.
    Power takes the pairs after the signal's: out on the white conductors, back on the others, so that it falls
    on the same poles whether a plug has order T568A or T568B. Raises InputError where the method wants more
    conductors than the cable has.
    """
    if cable.family == "coax":
        return _coax_use(method, feed)
    if cable.family == "pair" and cable.pairs:
        return _pair_use(method, cable, feed, catalogue)
    if cable.family == "power" and cable.cores:
        names = [str(n) for n in range(1, cable.cores + 1)]
        return _fed(method, cable, feed, names, tuple(ConductorUse(name, 0, SPARE) for name in names))
    return ()


def conductor_problems(catalogue: Catalogue) -> list[Problem]:
    """Return where a method wants more conductors than one of its cables has, or a colour code isn't whole."""
    problems: dict[Problem, None] = {}
    for method in catalogue.methods.values():
        for cable, feed in product((*method.signal_cables, *method.power_cables), method.feeds):
            try:
                conductor_use(method, catalogue.cables[cable], catalogue.feeds[feed], catalogue)
            except InputError as error:
                problems |= dict.fromkeys(error.problems)
    return list(problems)


def _coax_use(method: Method, feed: Feed | None) -> tuple[ConductorUse, ...]:
    carried = "video" if method.delivers == "analogue" else DATA
    if feed is not None and feed.kind == "coax":
        purposes = (f"{carried} and power +", f"{carried} return and power −")
    else:
        purposes = (carried, f"{carried} return")
    return tuple(ConductorUse(name, 0, purpose) for name, purpose in zip(COAX, purposes, strict=True))


def _pair_use(
    method: Method, cable: Cable, feed: Feed | None, catalogue: Catalogue
) -> tuple[ConductorUse, ...]:
    pairs = _pairs_of(cable, catalogue)
    data = _data_pairs(method, catalogue)
    wanted = method.video_pairs + _count_of_data_pairs(method)
    if max(method.video_pairs, *data, 0) > len(pairs) or method.video_pairs + len(data) < wanted:
        raise InputError([_too_few(method, cable, "video_pairs or data_pairs", f"{len(pairs)} pairs")])
    uses = []
    for number, pair in enumerate(pairs, 1):
        if number <= method.video_pairs:
            purposes = VIDEO_POLES
        elif number in data:
            purposes = _data_purposes(number, len(data), feed, catalogue)
        else:
            purposes = (SPARE, SPARE)
        uses += [ConductorUse(name, number, purpose) for name, purpose in zip(pair, purposes, strict=True)]
    if method.power_cables:
        return tuple(uses)
    free = [use for use in uses if use.purpose == SPARE]
    whites_first = [use.conductor for use in free[::2] + free[1::2]]
    return _fed(method, cable, feed, whites_first, tuple(uses))


def _pairs_of(cable: Cable, catalogue: Catalogue) -> list[tuple[str, str]]:
    """Return the conductors by pair; pairs beyond the code's four have numbers for names."""
    known = colour_code(catalogue).pairs
    beyond = [(f"{n}a", f"{n}b") for n in range(len(known) + 1, cable.pairs + 1)]
    return [*known, *beyond][: cable.pairs]


def _data_pairs(method: Method, catalogue: Catalogue) -> list[int]:
    """Return the pairs that carry data: one alone is the next; two are those of positions 1, 2, 3 and 6."""
    count, rules = _count_of_data_pairs(method), catalogue.rules["conductors"]
    in_order = [*rules["poe_mode_a_pairs"].value, *rules["poe_mode_b_pairs"].value]
    left = [number for number in in_order if number > method.video_pairs]
    return (sorted(left) if count == 1 else left)[:count]


def _count_of_data_pairs(method: Method) -> int:
    return int(method.number("data_pairs")) if "data_pairs" in method.figures else 0


def _data_purposes(number: int, data_pairs: int, feed: Feed | None, catalogue: Catalogue) -> tuple[str, str]:
    """Return what a data pair carries; a two-pair PoE port chooses between modes A and B by itself."""
    if data_pairs == 1:
        return DATA_POLES
    if feed is None or feed.kind != "poe":
        return DATA, DATA
    if feed.number("pair_sets") > 1:
        return POE_PURPOSES[2], POE_PURPOSES[2]
    mode_a = number in catalogue.rules["conductors"]["poe_mode_a_pairs"].value
    purpose = POE_PURPOSES[0] if mode_a else POE_PURPOSES[1]
    return purpose, purpose


def _fed(
    method: Method, cable: Cable, feed: Feed | None, free: Sequence[str], uses: tuple[ConductorUse, ...]
) -> tuple[ConductorUse, ...]:
    """Put the feed on free conductors: out from the first on, back from the middle on, none twice."""
    kind = "" if feed is None else feed.kind
    if kind not in FEED_POLES or not method.power_out:
        return uses
    if method.power_out + method.power_back > len(free):
        raise InputError(
            [_too_few(method, cable, "power_out and power_back", f"{len(free)} free conductors")]
        )
    out, back = FEED_POLES[kind]
    outward = free[: method.power_out]
    middle = (len(free) + 1) // 2
    left = [name for name in (*free[middle:], *free[:middle]) if name not in outward]
    carried = dict.fromkeys(outward, out) | dict.fromkeys(left[: method.power_back], back)
    return tuple(
        ConductorUse(use.conductor, use.pair, carried.get(use.conductor, use.purpose)) for use in uses
    )


def _too_few(method: Method, cable: Cable, field: str, there: str) -> Problem:
    return Problem("methods.toml", f"at most the {there} of {cable.id}", id=method.id, field=field)


# Ends ------------------------------------------------------------------------------------------------------------


def end_termination(items: Sequence[str], catalogue: Catalogue) -> str:
    """Return how pairs end on the equipment of an end: screw, plug, or empty where that isn't known."""
    figures = (catalogue.items[item].figures.get("termination") for item in items)
    return next((str(figure.value) for figure in figures if figure is not None), "")


def plug_order(method: Method) -> str:
    """Return the order of a method's plugs, t568a or t568b; empty where it isn't known."""
    figure = method.figures.get("plug_order")
    return "" if figure is None else str(figure.value)


def terminal(use: ConductorUse, termination: str, order: str, code: ColourCode) -> str:
    """Return where a conductor ends: a screw terminal, a plug's position, the coaxial connector's part, or nothing."""
    if use.conductor in COAX:
        return use.conductor
    if termination == "plug":
        return str(code.position(use.conductor, order) or "")
    return TERMINALS.get(use.purpose, "") if termination == "screw" else ""
