"""Every value that the unknown facts of a circuit could have, set by set."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from estate.catalogue.tables import Cable, Catalogue, Method
from estate.installed.circuits import Circuit
from estate.installed.facts import unknown
from estate.installed.link import Unknown
from estate.installed.parts import ON_THE_WAY, standing
from estate.installed.rows import CableRow
from estate.installed.ways import LaidPiece, worked_out_m
from estate.links.camera import CameraFacts
from estate.links.ground import Ground
from estate.links.schemes import EXTENDED, LOCAL
from estate.links.search import LinkSearch
from estate.links.site import SiteFacts, supplies_at
from estate.links.variants import Head, feeds_of, needs_power_cable
from estate.units import FT_PER_M, M_PER_FT

MOST = 5000
"""Sets of values that are looked at; a circuit with more is to be verified as it is."""

Key = tuple[str, str, str]
"""Kind of subject, subject and fact."""

Settled = tuple[tuple[Key, object], ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """One set of values; by signal cable or power cable where there are several, from the head on."""

    methods: tuple[str, ...]
    feed: str
    cables: tuple[str, ...]
    joints: tuple[int, ...]
    lengths_m: tuple[float, ...]
    power: tuple[str, ...]
    """Types of the power cables; one that is not on record counts as one as long as the signal's."""
    power_lengths_m: tuple[float, ...]
    load_w: float
    load_night_w: float
    settled: Settled = ()
    """The values of the facts that are not known."""


@dataclass(frozen=True)
class Contradiction(Exception):
    """Records that no set of values fits, with the fact that settles it."""

    text: str
    about: Unknown


@dataclass(frozen=True)
class Possible:
    """One circuit and what its facts could be."""

    search: LinkSearch
    circuit: Circuit
    number: int
    """Of its camera among those of the ground."""
    site: SiteFacts
    signal: tuple[LaidPiece, ...]
    power: tuple[LaidPiece, ...]

    @property
    def camera(self) -> CameraFacts:
        """Its camera."""
        return self.search.cameras[self.number]

    @property
    def ground(self) -> Ground:
        """What its links are judged on."""
        return self.search

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue."""
        return self.ground.catalogue

    # Methods

    def methods(self) -> list[tuple[str, ...]]:
        """Return the methods its signal cables could carry, cable by cable."""
        given = [piece.row.method for piece in self.signal]
        named = list(dict.fromkeys(m for row in self.circuit.rows if (m := row.method)))
        if None not in given:
            options = [tuple(str(m) for m in given)]
        elif named:
            options = list(product(*([m] if m else named for m in given)))
        else:
            options = [(m,) * len(given) for m in self.catalogue.methods if self._could_be(m)]
        return [each for each in options if self._carries(each)]

    def _could_be(self, name: str) -> bool:
        """Whether a method that nobody named is possible: without equipment on the way that isn't on record."""
        method = self.catalogue.methods[name]
        accepted = {method.delivers, str(self.camera.signal)}
        powered = bool(self.power) == bool(method.power_cables)
        return (
            bool(method.signal_cables)
            and "extenders_max" not in method.figures
            and (not self.site.head.accepts or bool(accepted & self.site.head.accepts))
            and self.camera.signal in method.signals
            and powered
            and bool(self._feeds(method))
        )

    def _carries(self, methods: Sequence[str]) -> bool:
        pieces = zip(methods, self.signal, strict=True)
        return all(
            piece.row.cable is None or piece.row.cable in self.catalogue.methods[m].signal_cables
            for m, piece in pieces
        )

    # Feeds

    def feeds(self, method: Method) -> list[str]:
        """Return the feeds a method could have here, narrowed by the supplies at its beginning and by the camera's volts."""
        found = self._feeds(method)
        begins = {self.circuit.fed_at or self.circuit.head, *(node for _, node in self._supplies_on_way())}
        offered = {feed for at in begins for feed in supplies_at(self.ground.survey, at, self.catalogue)}
        offered |= {feed for item, _ in self._supplies_on_way() for feed in self._given_by(item)}
        entries = self.catalogue.feeds
        rated = {
            f for f in found
            if entries[f].kind not in ("dc", "ac") or entries[f].number("source_volts") == self.camera.volts
        }  # fmt: skip
        for narrower in (offered, rated):
            found = [f for f in found if f in narrower] or found
        return found

    def _feeds(self, method: Method) -> list[str]:
        switched = any(
            self.catalogue.items[i].kind == "switch" for row in self.circuit.rows for i, _ in row.equipment
        )
        head = Head(frozenset(), float("nan") if switched else self.site.head.poe_ports)
        camera = replace(self.camera, power="unswitched") if self.camera.power is None else self.camera
        found = feeds_of(method, camera, head)
        return [f for f in found if needs_power_cable(method, f)] if self.power else found

    def _given_by(self, item: str) -> list[str]:
        """Return the feeds that a supply on record along a cable gives; one over coax takes any DC."""
        feeds = self.catalogue.feeds.values()
        own = [f for f in feeds if "supply" in f.figures and str(f.figures["supply"].value) == item]
        over_coax = [f.id for f in feeds if f.kind == "coax" and any(each.kind == "dc" for each in own)]
        return [*(f.id for f in own), *over_coax]

    def _supplies_on_way(self) -> list[tuple[str, str]]:
        return [
            (item, node)
            for row in self.circuit.rows
            for item, node in row.equipment
            if self.catalogue.items[item].kind == "supply"
        ]

    # Cables, joints, lengths, loads

    def cables(self, row: CableRow, could_be: Sequence[str]) -> list[str]:
        """Return the types that a cable could have of those that could be."""
        if row.cable is not None:
            return [row.cable]
        cores = float(self.ground.survey.cables["cores"][row.row])
        entries = [self.catalogue.cables[c] for c in could_be]
        fitting = [each.id for each in entries if _cores(each) == cores]
        return fitting or list(could_be)

    def joints(self, row: CableRow) -> list[int]:
        """Return none and the most where the count is not known: lines get worse with every joint."""
        most = int(self.catalogue.rules["joints"]["unknown_at_most"].value)
        return [0, most] if np.isnan(row.joints) else [int(row.joints)]

    def lengths(self, piece: LaidPiece) -> list[float]:
        """Return its length; where the measured one looks like feet, or feet like metres, the drawn one too [m]."""
        if not in_another_unit(piece.ratio, self.catalogue):
            return [piece.length_m]
        return [piece.length_m, worked_out_m(self.ground, piece)]

    def loads(self, feed: str) -> tuple[list[float], list[float]]:
        """Return the loads by day and at night: the least and the greatest that a camera of its kind could take [W].

        Of a blank day load nothing is known but that it isn't below nothing; a night load isn't below the day's.
        """
        day_w, night_w = self.camera.load_w, self.camera.load_night_w
        if feed == LOCAL:
            return [day_w], [night_w]
        kind = self.catalogue.signals[str(self.camera.signal)].kind
        most_w = float(self.catalogue.rules["camera"][f"night_w_max_{kind}"].value)
        days = [0.0, most_w if np.isnan(night_w) else night_w] if np.isnan(day_w) else [day_w]
        nights = [days[0], max(most_w, days[-1])] if np.isnan(night_w) else [night_w]
        return list(dict.fromkeys(days)), list(dict.fromkeys(nights))

    # All together

    def readings(self) -> tuple[list[Reading], list[Unknown]]:
        """Return every set of values, and the facts that are not known. Raises Contradiction where none fits."""
        found: list[Reading] = []
        for each in self._every():
            found.append(each)
            if len(found) > MOST:
                break
        if not found:
            raise self._contradiction()
        return found, unknown_facts(found)

    def _every(self) -> Iterator[Reading]:
        joints = list(product(*(self.joints(piece.row) for piece in self.signal)))
        lengths = list(product(*(self.lengths(piece) for piece in self.signal)))
        for methods in self.methods():
            last = self.catalogue.methods[methods[-1]]
            kinds = product(
                *(
                    self.cables(piece.row, self.catalogue.methods[m].signal_cables)
                    for piece, m in zip(self.signal, methods, strict=True)
                )
            )
            for cables, feed in product(kinds, self.feeds(last)):
                loads = product(*self.loads(feed))
                for (power, power_m), count, length_m, (day_w, night_w) in product(
                    self._power(last, feed), joints, lengths, loads
                ):
                    reading = Reading(methods, feed, cables, count, length_m, power, power_m, day_w, night_w)
                    yield replace(reading, settled=tuple(self._settled(reading)))

    def _power(self, method: Method, feed: str) -> list[tuple[tuple[str, ...], tuple[float, ...]]]:
        """Return the types and lengths of its power cables."""
        if not needs_power_cable(method, feed):
            return [((), ())]
        if not self.power:
            return [((kind,), ()) for kind in method.power_cables]
        kinds = product(*(self.cables(piece.row, method.power_cables) for piece in self.power))
        lengths = list(product(*(self.lengths(piece) for piece in self.power)))
        return [(k, m) for k in kinds for m in lengths]

    def _settled(self, reading: Reading) -> Iterator[tuple[Key, object]]:
        """Yield the values that a reading gives to facts that are not known."""
        for k, piece in enumerate(self.signal):
            name = piece.row.id
            if piece.row.method is None:
                yield ("cable", name, "method"), reading.methods[k]
            if piece.row.cable is None:
                yield ("cable", name, "cable"), reading.cables[k]
            if np.isnan(piece.row.joints):
                yield ("cable", name, "joints"), reading.joints[k]
            if in_another_unit(piece.ratio, self.catalogue):
                yield ("cable", name, "length_m"), reading.lengths_m[k]
        for k, piece in enumerate(self.power):
            if piece.row.cable is None:
                yield ("cable", piece.row.id, "cable"), reading.power[k]
            if in_another_unit(piece.ratio, self.catalogue):
                yield ("cable", piece.row.id, "length_m"), reading.power_lengths_m[k]
        if reading.power and not self.power:
            yield ("cable", self.signal[-1].row.id, "power cable"), reading.power[0]
        yield ("camera", self.camera.id, "feeds"), reading.feed
        if reading.feed != LOCAL and np.isnan(self.camera.load_w):
            yield ("camera", self.camera.id, "load_w"), reading.load_w
        if reading.feed != LOCAL and np.isnan(self.camera.load_night_w):
            yield ("camera", self.camera.id, "load_night_w"), reading.load_night_w

    def _contradiction(self) -> Contradiction:
        """Say which fact no set of values fits."""
        camera, names = self.camera, ", ".join(piece.row.id for piece in self.signal)
        given = [m for row in self.circuit.rows if (m := row.method)]
        kinds = ", ".join(dict.fromkeys(str(p.row.cable or "unknown") for p in self.signal))
        if not self.methods():
            what = f"method {', '.join(dict.fromkeys(given))}" if given else "no method of the catalogue"
            text = f"{what} does not join {camera.id} ({camera.signal}) over {names} ({kinds})"
            return Contradiction(text, unknown("cable", self.signal[0].row.id, "method"))
        taken = ", ".join(camera.feeds) or "any feed"
        text = (
            f"{', '.join(dict.fromkeys(given)) or 'its method'} gives no feed that {camera.id} takes ({taken}; "
            f"power at the camera: {camera.power or 'not known'})"
        )
        return Contradiction(text, unknown("camera", camera.id, "feeds"))


def in_another_unit(ratio: float, catalogue: Catalogue) -> bool:
    """Whether a measured length over the drawn one looks like feet taken for metres, or metres for feet."""
    low, high = length_ratios(catalogue)
    return any(low <= ratio / unit <= high for unit in (FT_PER_M, M_PER_FT))


def length_ratios(catalogue: Catalogue) -> tuple[float, float]:
    """Return the least and the greatest measured length over the drawn one that fits the drawing."""
    rules = catalogue.rules["measured"]
    return float(rules["length_ratio_min"].value), float(rules["length_ratio_max"].value)


def unknown_facts(readings: Sequence[Reading]) -> list[Unknown]:
    """Return the facts that differ between readings, or that only some of them have, with their values in words."""
    values: dict[Key, dict[str, None]] = {}
    for reading in readings:
        for key, value in reading.settled:
            values.setdefault(key, {})[_told(value)] = None
    return [
        unknown(*key, values=tuple(words))
        for key, words in values.items()
        if len(words) > 1 or key[2] != "feeds"
    ]


def _told(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _cores(cable: Cable) -> float:
    return float(cable.pairs or cable.cores)


def extenders_missing(ground: Ground, methods: Sequence[str], laid: Sequence[LaidPiece]) -> bool:
    """Whether a method with an extender is named and none is on record along its cables."""
    kinds = {ground.catalogue.items[item].kind for item, _ in standing(ground, laid)}
    return EXTENDED in methods and "extender" not in kinds & set(ON_THE_WAY)
