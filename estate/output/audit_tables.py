"""The tables of an audit: those of designs as far as they tell of installed links, and its own."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from estate.audit.audit import Audit
from estate.findings import Action
from estate.installed.link import InstalledLink
from estate.installed.rows import UNKNOWN
from estate.links.link import Link
from estate.output.cabinets import CABINETS
from estate.output.containment_table import containment_table
from estate.output.facts_tables import cable_facts_table, profiles_table, segment_facts_table
from estate.output.lacking import draft_table
from estate.output.numbering import numbered_runs
from estate.output.records_table import completeness_table, records_table
from estate.output.remedy_tables import cured_tables
from estate.output.result import Table, table
from estate.output.schedule_cables import cables_table
from estate.output.schedule_cameras import cameras_table
from estate.output.schedule_ways import ways_table
from estate.output.tables import (
    COLUMNS,
    budget_table,
    cuts_table,
    findings_table,
    links_table,
    proximity_table,
    recorders_table,
    segment_classes,
    segments_table,
)
from estate.output.terminations import terminations_table
from estate.output.way_tables import (
    budget_notes_table,
    equipment_table,
    link_facts_table,
    runs_table,
    told_lines,
)
from estate.placement.profiles import link_profiles
from estate.placement.recorders import NOT_GIVEN

LINKS_MORE = ("assumed", "installed", "inferred", "calculated", "best", "values", "unknown", "deciding")
"""Columns of links.csv that only audits have: columns the user assumed, ids of its cables, those whose way is only
inferred, the verdict without measurements, the best of all values and their number, facts not known and deciding."""
SURVEY_MORE = ("with_others", "values", "links")
"""Columns of survey.csv behind those of designs: verdicts it settles together with others, what it could be, the links."""
ASSETS = (
    "asset_kind", "asset", "type", "building", "year", "status", "condition", "priority", "findings", "cameras",
)  # fmt: skip


def audit_tables(audit: Audit) -> dict[str, Table]:
    """Return every table of an audit by name; those that an audit does not fill have their columns only."""
    survey, network, links = audit.survey, audit.network, audit.links
    told = [told_link(each) for each in audit.installed]
    sure = [link for link in told if UNKNOWN not in (link.method, link.feed, *link.cables)]
    classes = segment_classes(survey, audit.catalogue, network, links)
    told_links = links_table(told, network)
    runs = numbered_runs(
        runs_table(told, network),
        told_links,
        survey.settings.drawing.numbering,
        survey.settings.estate.number,
    )
    filled = {
        "links": _with(told_links, LINKS_MORE, [_more(each) for each in audit.installed]),
        "budget": _with(budget_table(links), ("assumed",), _assumed_by_line(audit.installed)),
        "recorders": _recorders(audit),
        "cabinets": cabinets_table(audit),
        "segments": _with_repeaters(audit, segments_table(audit.containment, links, {}, audit.findings)),
        "containment": containment_table(audit.containment, (), {}, ()),
        "records": records_table(audit.records),
        "completeness": completeness_table(audit.completeness),
        "proximity": proximity_table(survey, network, audit.separation, classes),
        "findings": findings_table(audit.findings),
        "cuts": cuts_table(audit.cuts),
        "budget_notes": budget_notes_table(links),
        "link_facts": link_facts_table(told, {}),
        "runs": runs,
        "equipment": equipment_table(told, audit.catalogue),
        "segment_facts": segment_facts_table(audit.containment, told, {}),
        "cable_facts": cable_facts_table(audit.catalogue, told),
        "profiles": profiles_table(link_profiles(audit.search, sure, audit.search.designed)),
        "terminations": terminations_table(
            sure, audit.catalogue, network.node_id.tolist(), _numbers_of(sure, runs)
        ),
        "survey": survey_table(audit),
        "assets": assets_table(audit),
        "schedule_cameras": cameras_table(survey, network, told),
        "schedule_cables": cables_table(survey, audit.catalogue, network, told, runs, ()),
    }
    filled["schedule_ways"] = ways_table(audit.containment, told, {}, (), filled["proximity"])
    filled["draft"] = draft_table(filled)
    named = {
        name: filled.get(name, Table(columns)) for name, columns in {**COLUMNS, "assets": ASSETS}.items()
    }
    return {**named, **cured_tables(audit.cured)}


def _numbers_of(links: Sequence[Link], runs: Table) -> list[str]:
    """Return the numbers of the cables of some links, in the order of the runs."""
    wanted = {link.id for link in links}
    pairs = zip(runs.column("link"), runs.column("number"), strict=True)
    return [number for link, number in pairs if link in wanted]


def _recorders(audit: Audit) -> Table:
    """Return the recorders; what channels are there and spare is blank where nobody gave them."""
    made = recorders_table(audit.recorders)
    unknown = {use.site.id for use in audit.recorders if use.model == NOT_GIVEN}
    rows = [
        row | {"channels": None, "spare": None} if row["recorder"] in unknown else row
        for row in made.records()
    ]
    return Table(made.columns, tuple(tuple(row.values()) for row in rows), made.geometry)


def _with_repeaters(audit: Audit, segments: Table) -> Table:
    """Return the segments with a repeater flagged where links pass the limits of their signal."""
    place = segments.columns.index("actions")
    rows = []
    for segment, row in enumerate(segments.rows):
        flags = set(filter(None, row[place].split(";")))
        if segment in audit.to_repeat:
            flags.add(Action.REPEATER.value)
        rows.append((*row[:place], ";".join(sorted(flags)), *row[place + 1 :]))
    return Table(segments.columns, tuple(rows), segments.geometry)


def told_link(each: InstalledLink) -> Link:
    """Return a link as tables tell it: what is not known of it is called unknown, whatever it was judged with."""
    facts = {(fact.subject, fact.fact) for fact in each.unknowns}
    names = {fact for _, fact in facts}
    link = each.link
    method = UNKNOWN if "method" in names else link.method
    feed = UNKNOWN if "feeds" in names else link.feed
    runs = []
    for run in link.runs:
        untyped = (run.installed, "cable") in facts
        missing = run.role == "power" and not run.installed and "power cable" in names
        cable = UNKNOWN if untyped or missing else run.cable
        run_feed = feed if run.feed == link.feed else run.feed
        runs.append(
            replace(run, cable=cable, feed=run_feed, method=method if method == UNKNOWN else run.method)
        )
    equipment = () if method == UNKNOWN else link.equipment
    return replace(link, method=method, feed=feed, runs=tuple(runs), equipment=equipment)


def _with(found: Table, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> Table:
    """Return a table with more columns."""
    more = table(columns, rows)
    joined = tuple((*own, *added) for own, added in zip(found.rows, more.rows, strict=True))
    return Table((*found.columns, *more.columns), joined, found.geometry)


def _more(each: InstalledLink) -> tuple[Any, ...]:
    return (
        each.assumed, each.cables, each.inferred, str(each.calculated), str(each.best), each.values,
        [f"{fact.fact} of {fact.subject}" for fact in each.unknowns],
        [f"{fact.fact} of {fact.subject}" for fact in each.deciding],
    )  # fmt: skip


def _assumed_by_line(installed: Sequence[InstalledLink]) -> list[tuple[Any, ...]]:
    """Return for each budget line whether its link rests on the user's assumptions, and which."""
    return [(each.assumed,) for each in installed for _ in told_lines(each.link)]


def survey_table(audit: Audit) -> Table:
    """One row per unknown fact that decides links, in the order of a walk, building by building."""
    rows = [
        (
            q.rank, q.subject_kind, q.subject, q.fact, q.test, q.verdicts, q.cameras, q.building, q.with_others, q.values,
            q.links,
        )
        for q in audit.questions
    ]  # fmt: skip
    return table((*COLUMNS["survey"], *SURVEY_MORE), rows)


def assets_table(audit: Audit) -> Table:
    """One row per cable on record, recorder, cabinet, and segment that findings name."""
    rows = [
        (
            a.kind, a.id, a.type, a.building, a.year, a.status, str(a.condition), str(a.priority), a.findings, a.cameras,
        )
        for a in audit.assets
    ]  # fmt: skip
    return table(ASSETS, rows)


def cabinets_table(audit: Audit) -> Table:
    """One row per cabinet that cameras end at: what is on record of its switch, and what is in use."""
    points, rows = audit.survey.points, audit.survey.points.row_of()
    heads = {link.head for link in audit.links if link.camera and link.head and link.head != link.recorder}
    heads |= {link.id.partition("-")[2] for link in audit.links if link.kind == "uplink"}
    found = []
    for head in sorted(heads & rows.keys()):
        own = [link for link in audit.links if link.head == head and link.camera]
        ports, poe_w = (float(points[name][rows[head]]) for name in ("ports", "poe_w"))
        uplinks = [link.id for link in audit.links if link.id == f"U-{head}"]
        found.append(
            (
                head,
                "existing",
                ports,
                len(own),
                ports - len(own),
                poe_w,
                sum(link.poe_w for link in own),
                uplinks,
                0.0,
            )
        )
    return table(CABINETS, found)
