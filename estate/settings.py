"""estate.toml: every setting with its default, its range and what it means."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from estate.number_pattern import pattern_complaint


def setting(
    default: Any,
    doc: str,
    *,
    choices: tuple[str, ...] = (),
    least: float | None = None,
    most: float | None = None,
    check: Callable[[Any], str] | None = None,
) -> Any:
    """Declare one key of estate.toml: default, meaning, and what values are allowed.

    `check` returns what was expected of a value of the right type that is no good, empty where it is.
    """
    meta = {"doc": doc, "choices": choices, "least": least, "most": most, "check": check}
    if isinstance(default, dict):
        return field(default_factory=lambda: dict(default), metadata=meta)
    return field(default=default, metadata=meta)


@dataclass(frozen=True, kw_only=True)
class EstateSection:
    """[estate]: what the estate is called and how its coordinates are to be read."""

    title: str = setting("Untitled estate", "title on every output")
    client: str = setting("", "client")
    number: str = setting("", "project or drawing number")
    revision: str = setting("", "revision of this design")
    date: str = setting("", "date of this revision, as it is to be printed")
    status: str = setting("", "status of the documents, for example tender")
    currency: str = setting("", "currency of the prices, as it is to be printed")
    crs: str = setting("", "coordinate system of CSV coordinates: a code such as EPSG:32630, or local")
    units: str = setting("m", "unit of local plain coordinates", choices=("m", "ft"))


@dataclass(frozen=True, kw_only=True)
class DesignSection:
    """[design]: what a design may use and what it is to be best at."""

    objective: str = setting("cost", "what is made least", choices=("cost", "cable_length"))
    methods: tuple[str, ...] = setting((), "methods a design may use; empty: all that are not legacy")
    recorders_exactly: int | None = setting(None, "number of recorder sites used, exactly", least=0)
    recorders_at_most: int | None = setting(None, "number of recorder sites used, at most", least=0)
    spare_percent: float = setting(25.0, "spare channels, in percent of channels in use", least=0, most=400)
    gap_percent: float = setting(0.1, "how far from the bound the solver may stop", least=0, most=100)
    time_limit_s: float = setting(300.0, "seconds the solver may take", least=0)
    keep: bool = setting(
        False, "keep installed links within limits at no cost, and take over installed cables"
    )
    keep_recorders: tuple[str, ...] = setting((), "recorders that must be used")
    forbid_recorders: tuple[str, ...] = setting((), "recorders that must not be used")
    apart: tuple[tuple[str, ...], ...] = setting((), "lists of cameras that must not share a recorder")
    cables: tuple[str, ...] = setting((), "cables a design may use; empty: all that are not legacy")
    discouraged: tuple[str, ...] = setting((), "methods and cables to use only where nothing else serves")
    proximity: str = setting("ban", "segments too near mains: barred or made dearer", choices=("ban", "cost"))
    diverse_uplinks: bool = setting(False, "two uplinks over diverse routes for every cabinet")


@dataclass(frozen=True, kw_only=True)
class LimitsSection:
    """[limits]: which limits govern, and when a pass is marginal."""

    profile: str = setting("cautious", "which reach of the trade governs", choices=("cautious", "typical"))
    ambient_c: float = setting(
        20.0, "ambient temperature [°C]; 40 in roof voids and aerial", least=-20, most=60
    )
    margin_percent: Mapping[str, float] = setting(
        {"volts": 10.0, "loss": 10.0, "length": 5.0, "poe": 0.0, "fibre": 10.0},
        "a pass with less margin than this is marginal [%]",
        least=0,
        most=100,
    )
    separation: str = setting(
        "en50174",
        "rule set for mains separation; pairs-2000 in audits only",
        choices=("en50174", "pairs-2000"),
    )
    circuit_rounding: str = setting("up", "how parts of 20 A are counted", choices=("up", "nearest"))
    separation_safety: str = setting(
        "50mm", "safety distance beside the interference rule", choices=("50mm", "none")
    )
    supply_percent: float = setting(
        80.0, "load allowed on a supply, in percent of its rating", least=1, most=100
    )
    friction: float = setting(0.5, "friction of cable in duct", least=0, most=2)
    verify_in_design: str = setting(
        "last", "links that rest on an unverified fact of the site", choices=("last", "never")
    )


@dataclass(frozen=True, kw_only=True)
class NetworkSection:
    """[network]: how drawn lines become a graph."""

    snap_m: float = setting(0.5, "ends nearer than this join [m]", least=0, most=20)
    spur_max_m: float = setting(30.0, "longest spur from a route to a camera [m]", least=0)
    join_crossings: bool = setting(False, "lines that merely cross join")
    survey_accuracy_m: float = setting(1.0, "accuracy of drawn lines where the layer gives none [m]", least=0)


@dataclass(frozen=True, kw_only=True)
class LengthsSection:
    """[lengths]: what is added to a measured way to get a cable."""

    end_m: float = setting(3.0, "extra at each end of a cable [m]", least=0)
    slack_percent: float = setting(5.0, "slack along the way [%]", least=0)
    waste_percent: float = setting(10.0, "waste in purchase [%]", least=0)
    cords_m: float = setting(10.0, "cords at both ends of an Ethernet channel [m]", least=0)


Price = float
PriceTable = Mapping[str, float]

BILL_ITEMS = (
    "pit-new", "pit-entered", "entry-new", "entry-used", "test-labels", "test-fixed-part", "test-loop", "test-volts",
    "test-volts-max", "test-video", "test-video-detail", "test-screen", "test-fibre-loss", "test-trace", "test-channel-loss", "records",
)  # fmt: skip
"""Items of the bill that don't weigh in the choice of links: they have a rate where the user gives one."""


def bill_item_complaint(rates: Mapping[str, float]) -> str:
    """Return what was expected where a rate is for no item of the bill, empty where each is for one."""
    return "" if set(rates) <= set(BILL_ITEMS) else f"rates of {', '.join(BILL_ITEMS)}"


@dataclass(frozen=True, kw_only=True)
class PricesSection:
    """[prices]: the user's own rates. What is not listed is invented, ranks only and reaches no bill."""

    cable_m: PriceTable = setting({}, "cable, by catalogue id [per m]", least=0)
    pull_m: PriceTable = setting({}, "pulling or fixing, by containment [per m]", least=0)
    trench_m: PriceTable = setting({}, "trench, by surface [per m]", least=0)
    containment_m: PriceTable = setting({}, "new containment, by containment [per m]", least=0)
    equipment: PriceTable = setting({}, "equipment, by catalogue id [each]", least=0)
    termination: PriceTable = setting({}, "termination, by cable family [each end]", least=0)
    recorder: PriceTable = setting({}, "recorder, by number of channels [each]", least=0)
    switch: PriceTable = setting({}, "switch, by number of ports [each]", least=0)
    power_point: float | None = setting(None, "a new power point [each]", least=0)
    items: PriceTable = setting(
        {},
        "pits, building entries, tests and records, by item of the bill [each]",
        least=0,
        check=bill_item_complaint,
    )
    unlisted: str | float = setting(
        "catalogue", "rate of everything not listed: a number, or the invented ones of the catalogue",
        choices=("catalogue",), least=0,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class PhasesSection:
    """[phases]: the order of works."""

    names: tuple[str, ...] = setting((), "names of the phases, in order")


REVISION_FIELDS = ("revision", "date", "text", "drawn", "checked", "approved")


def revision_complaint(rows: tuple[Mapping[str, Any], ...]) -> str:
    """Return what was expected of rows of the revision table that can't be used, empty where they can."""
    known = set(REVISION_FIELDS)
    if all(set(row) <= known and all(isinstance(v, str) for v in row.values()) for row in rows):
        return ""
    return f"tables of texts in quotation marks, with the keys {', '.join(REVISION_FIELDS)}"


@dataclass(frozen=True, kw_only=True)
class DrawingSection:
    """[drawing]: title block and sheet."""

    owner: str = setting("", "legal owner of the drawing")
    creator: str = setting("", "who drew it")
    approved_by: str = setting("", "who approved it")
    document_type: str = setting("Cabling plan", "type of document")
    sheet: str = setting("A3", "sheet size", choices=("A0", "A1", "A2", "A3", "A4"))
    scale: int | None = setting(
        None,
        "scale of the plan 1 : this, over several sheets if need be; blank: the largest for one sheet",
        least=1,
    )
    numbering: str = setting(
        "",
        "pattern of cable numbers, such as {number}-{kind}{n:03}; blank: link and stretch",
        check=pattern_complaint,
    )
    backdrop: str = setting("", "GeoJSON, GeoPackage, shapefile or DXF that is drawn lightly under the plans")
    revisions: tuple[Mapping[str, str], ...] = setting(
        (),
        "rows of the revision table: revision, date, text, drawn, checked, approved",
        check=revision_complaint,
    )
    cad_layers: Mapping[str, Any] = setting(
        {}, 'which CAD layer of a DXF is which of ours: "NAME" = { layer = "routes", containment = "duct" }'
    )


@dataclass(frozen=True, kw_only=True)
class Settings:
    """All of estate.toml. `catalogue` holds extra or replacing entries, `assume` values for blanks."""

    estate: EstateSection = field(default_factory=EstateSection)
    design: DesignSection = field(default_factory=DesignSection)
    limits: LimitsSection = field(default_factory=LimitsSection)
    network: NetworkSection = field(default_factory=NetworkSection)
    lengths: LengthsSection = field(default_factory=LengthsSection)
    prices: PricesSection = field(default_factory=PricesSection)
    phases: PhasesSection = field(default_factory=PhasesSection)
    drawing: DrawingSection = field(default_factory=DrawingSection)
    catalogue: Mapping[str, Any] = field(default_factory=dict)
    assume: Mapping[str, Any] = field(default_factory=dict)
    given: frozenset[str] = frozenset()
    """Keys the file gives, as "section.key"; the others are defaults taken."""
