"""What is wrong with conductors in use, and the cure in words.

A use is a plain description: a conductor's name and its purpose, one of PURPOSES.
"""

from collections.abc import Mapping, Sequence

from estate.catalogue.tables import Catalogue, Feed, Signal
from estate.errors import InputError, Problem, suggestion
from estate.findings import Action, Effect, Finding, Severity
from estate.links.conductors import ORDERS, PURPOSES, VIDEO_POLES, ColourCode, colour_code


def split_pair(use: Mapping[str, str], catalogue: Catalogue) -> str:
    """Say that video is taken from conductors of more than one pair, which is always wrong; else nothing.

    `use` is the purpose by conductor. Raises InputError for a conductor or purpose that isn't known.
    """
    pairs = sorted({pair for pair, _, _ in _video_conductors(use, catalogue)})
    if len(pairs) < 2:
        return ""
    taken = ", ".join(
        f"{name} (pair {pair}) {purpose}" for pair, name, purpose in _video_conductors(use, catalogue)
    )
    return f"split pair: video taken from pairs {_listed(pairs)}: {taken}"


def pair_on_one_pole(use: Mapping[str, str], catalogue: Catalogue) -> str:
    """Say that both conductors of a pair carry the same pole of the video, else nothing.

    The same on power is right: conductors in parallel halve the resistance. `use` and errors as for split_pair.
    """
    found = _video_conductors(use, catalogue)
    poles: dict[int, list[str]] = {}
    for pair, _, purpose in found:
        poles.setdefault(pair, []).append(purpose)
    told = [
        f"pair {pair} {both[0]}"
        for pair, both in sorted(poles.items())
        if len(both) == 2 and both[0] == both[1]
    ]
    if not told:
        return ""
    return f"both conductors of a pair on one pole of the video: {', '.join(told)}; right for power, wrong for video"


def conductor_findings(
    use: Mapping[str, str], link: str, camera: str, catalogue: Catalogue
) -> tuple[Finding, ...]:
    """Return a finding for each of the two matters that a link's conductors show, with its cure."""
    remedies = (
        (split_pair(use, catalogue), "take both video conductors from one pair, the same at both ends"),
        (
            pair_on_one_pole(use, catalogue),
            "let one pair carry video + on one conductor and video − on the other",
        ),
    )
    return tuple(
        Finding(
            severity=Severity.FAULT,
            effect=Effect.PICTURE,
            action=Action.CONNECT,
            subject_kind="link",
            subject=link,
            text=text,
            source="practice of balanced pairs; common practice, no source",
            remedy=f"with the power off: {cure} ({_one_pair(use, catalogue)})",
            cameras=(camera,),
        )
        for text, cure in remedies
        if text
    )


def spare_pair_power(signal: Signal, feed_at_port: Feed | None) -> str:
    """Say why power may not be put on the pairs that a signal leaves free, else nothing.

    `feed_at_port` is what the port at the head gives; None where it gives no power.
    """
    if feed_at_port is not None and feed_at_port.kind == "poe":
        return f"no power on spare pairs at a port that gives {feed_at_port.name}: it would meet the port's own supply"
    if "pairs" not in signal.figures:
        return f"not known how many pairs {signal.name} takes: no power beside it until that is known"
    taken = int(signal.number("pairs"))
    return "" if taken < 4 else f"no spare pairs: {signal.name} takes all {taken}"


def spare_pair_problems(catalogue: Catalogue) -> list[Problem]:
    """Return a problem for every method that would feed over pairs its data signal doesn't leave free."""
    found: dict[Problem, None] = {}
    for method in catalogue.methods.values():
        if not method.power_out or method.power_cables:
            continue
        for name in method.signals:
            signal = catalogue.signals[name]
            if signal.kind == "ethernet" and (text := spare_pair_power(signal, None)):
                place = f"[catalogue.methods] {method.id}"
                found[
                    Problem(
                        "estate.toml", "pairs that the signal leaves free", field=place, value=name, fix=text
                    )
                ] = None
    return list(found)


def plug_fault(held: Sequence[str], order: str, catalogue: Catalogue) -> str:
    """Say what is wrong with a plug and its cure, else nothing.

    `held` are the conductors in positions 1 to 8, empty where there is none; `order` is t568a or t568b.
    """
    code = colour_code(catalogue)
    wanted = code.orders[order]
    if tuple(held) == wanted:
        return ""
    cure = "; ".join(f"{n} {name}" for n, name in enumerate(wanted, 1))
    return f"{_plug_words(held, order, code)}; cut it off and put on a plug in order {order.upper()}: {cure}"


def _plug_words(held: Sequence[str], order: str, code: ColourCode) -> str:
    other = next((name for name in ORDERS if tuple(held) == code.orders[name]), "")
    if other:
        return f"the plug is {other.upper()}, not {order.upper()}: both ends of a cable take the same order"
    if tuple(reversed(held)) == code.orders[order]:
        return "the plug is the wrong way round: position 8 stands first"
    split = [places for places in _positions_by_pair(order, code) if _is_split(held, places, code)]
    if split:
        places = ", ".join(f"{first} and {second}" for first, second in split)
        return f"split pair: positions {places} hold conductors of two pairs"
    wrong = [n for n, name in enumerate(code.orders[order], 1) if n > len(held) or held[n - 1] != name]
    return (
        f"wrong in position{'s' if len(wrong) > 1 else ''} {_listed(wrong)}"
        if wrong
        else "more than 8 positions"
    )


def _positions_by_pair(order: str, code: ColourCode) -> list[tuple[int, int]]:
    places = [sorted(code.position(name, order) for name in pair) for pair in code.pairs]
    return sorted((first, second) for first, second in places)


def _is_split(held: Sequence[str], places: tuple[int, int], code: ColourCode) -> bool:
    if len(held) < max(places):
        return False
    first, second = (code.pair(held[place - 1]) for place in places)
    return bool(first and second and first != second)


def _video_conductors(use: Mapping[str, str], catalogue: Catalogue) -> list[tuple[int, str, str]]:
    """Return pair, conductor and purpose of every conductor that carries video, by pair."""
    code = colour_code(catalogue)
    every = [conductor for pair in code.pairs for conductor in pair]
    problems = [
        Problem("conductors", "a conductor of pairs 1 to 4", id=name, fix=suggestion(name, every))
        for name in sorted(set(use) - set(every))
    ]
    problems += [
        Problem(
            "conductors", f"one of {', '.join(PURPOSES)}", id=name, value=what, fix=suggestion(what, PURPOSES)
        )
        for name, what in sorted(use.items())
        if what not in PURPOSES
    ]
    if problems:
        raise InputError(problems)
    return [(code.pair(name), name, use[name]) for name in every if use.get(name) in VIDEO_POLES]


def _one_pair(use: Mapping[str, str], catalogue: Catalogue) -> str:
    """Name the poles on the first pair that carries video now."""
    pair = _video_conductors(use, catalogue)[0][0]
    first, second = colour_code(catalogue).pairs[pair - 1]
    return f"pair {pair}: {first} video +, {second} video −"


def _listed(numbers: Sequence[int]) -> str:
    """Return numbers in words.

    >>> _listed([1, 2, 4])
    '1, 2 and 4'
    """
    words = [str(number) for number in numbers]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
