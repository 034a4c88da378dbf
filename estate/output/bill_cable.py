"""Cable in the bill: net, its allowances on lines of their own, and pulling."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from estate.links.link import Link
from estate.output.bill_line import BillLine
from estate.placement.design import Design
from estate.settings import LengthsSection


@dataclass(frozen=True, slots=True)
class CableMetres:
    """What the design length of a new cable is made of [m]."""

    net: float
    """Way and mounting heights."""
    slack: float
    ends: float

    @property
    def whole(self) -> float:
        """The design length [m]."""
        return self.net + self.slack + self.ends


def split_length(cable_length_m: float, lengths: LengthsSection, share: float = 1.0) -> CableMetres:
    """Return what a design length is made of; `share` is a new piece's share of its stretch's allowance for ends.

    >>> split_length(27.0, LengthsSection(end_m=3, slack_percent=5))
    CableMetres(net=20.0, slack=1.0, ends=6.0)
    """
    ends = 2 * lengths.end_m * share
    net = (cable_length_m - ends) / (1 + lengths.slack_percent / 100)
    return CableMetres(net, cable_length_m - ends - net, ends)


def new_metres(link: Link, lengths: LengthsSection) -> dict[int, CableMetres]:
    """Return what each new cable of a link is made of, by its place among the link's.

    New pieces beside a spare cable share the allowance for the two ends of their stretch by their length.
    """
    whole: dict[tuple[int, str], float] = defaultdict(float)
    for run in link.runs:
        if run.is_new:
            whole[run.stretch, run.role] += run.cable_length_m
    return {
        place: split_length(
            run.cable_length_m, lengths, run.cable_length_m / (whole[run.stretch, run.role] or 1.0)
        )
        for place, run in enumerate(link.runs)
        if run.is_new
    }


def cable_lines(design: Design) -> Iterator[BillLine]:
    """Yield each cable net, then its slack, its ends and its waste."""
    net: dict[str, list[CableMetres]] = defaultdict(list)
    lengths = design.survey.settings.lengths
    for link in design.links:
        for place, metres in new_metres(link, lengths).items():
            net[link.runs[place].cable].append(metres)
    for cable, all_new in sorted(net.items()):
        rate, name = design.prices.rate("cable_m", cable), design.catalogue.cables[cable].name
        yield BillLine("cable", f"cable-{cable}", f"{name}, net", "m", sum(m.net for m in all_new), rate)
        for item, text, quantity in _allowances(all_new, lengths):
            if quantity:
                yield BillLine("cable", f"{item}-{cable}", f"{name}, {text}", "m", quantity, rate)


def _allowances(metres: Sequence[CableMetres], lengths: LengthsSection) -> list[tuple[str, str, float]]:
    waste = sum(m.whole for m in metres) * lengths.waste_percent / 100
    return [
        ("slack", f"slack along the way {lengths.slack_percent:g} %", sum(m.slack for m in metres)),
        ("ends", f"extra at each end {lengths.end_m:g} m", sum(m.ends for m in metres)),
        ("waste", f"waste in purchase {lengths.waste_percent:g} %", waste),
    ]


def pulling_lines(design: Design) -> Iterator[BillLine]:
    """Yield metres of cable pulled or fixed, by containment."""
    metres: dict[str, float] = defaultdict(float)
    network = design.network
    for link in design.links:
        for segment in (s for run in link.runs if run.is_new for s in run.segments):
            kind = network.segment_containment[segment] or "other"
            metres[kind] += float(network.segment_length_m[segment])
    for kind, length_m in sorted(metres.items()):
        where = "containment not given" if kind == "other" else kind
        yield BillLine(
            "installation", f"pull-{kind}", f"Pull or fix one cable: {where}", "m", length_m,
            design.prices.rate("pull_m", kind),
        )  # fmt: skip
