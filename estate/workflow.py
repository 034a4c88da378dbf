"""The whole job as plain functions: new, check, design, audit, draw, and the catalogue's tables."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from math import isfinite
from pathlib import Path
from typing import Any

from estate.audit.audit import Audit, audit_search, make_audit
from estate.catalogue.load import load_catalogue
from estate.catalogue.tables import Catalogue, Entry
from estate.errors import InputError, Problem, suggestion
from estate.findings import Finding, numbered
from estate.installed.links import installed_links
from estate.links.conductor_faults import spare_pair_problems
from estate.links.conductors import conductor_problems
from estate.links.reach import ReachQuestion, ReachRow, reach_question, reach_rows
from estate.links.references import broken_ids, broken_settings, superseded_rules
from estate.links.separation import SegmentSeparation, segment_separation
from estate.links.separation_question import SeparationAnswer, answered, separation_question
from estate.links.variants import blocked_feeds
from estate.network.build import build_network
from estate.network.network import Network
from estate.output.audit_build import audit_result
from estate.output.build import check_result, design_result
from estate.output.explain import camera_ids, saved_link, switched_cabinets, told_explanation
from estate.output.reach import check_plot, plot_reach
from estate.output.result import Result, read_result
from estate.output.store import check_target, replaced_folder
from estate.output.write import write_drawings, write_result, write_sheets
from estate.placement.design import Design, link_search, make_design
from estate.placement.others import Alternative, Beaten, beaten, standing
from estate.placement.phases import phase_problems
from estate.survey.estate_package import write_estate_geopackage
from estate.survey.layers_out import write_layers
from estate.survey.read import SETTINGS_FILE, input_hashes, read_survey
from estate.survey.settings_file import read_settings
from estate.survey.shared_files import PACKAGE
from estate.survey.survey import Survey
from estate.survey.template import write_template

Progress = Callable[[str], None]


def silent(_stage: str) -> None:
    """Show no progress."""


@dataclass
class Clock:
    """Seconds by stage, for run.json."""

    seconds: dict[str, float] = field(default_factory=dict)
    started: float = field(default_factory=time.perf_counter)

    def lap(self, stage: str) -> None:
        """Put down the time since the last lap under a stage."""
        now = time.perf_counter()
        self.seconds[stage] = now - self.started
        self.started = now


@dataclass(frozen=True)
class Checked:
    """An estate that was read and joined, ready to be designed."""

    survey: Survey
    catalogue: Catalogue
    network: Network
    separation: SegmentSeparation

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the drawing itself gives to do or to know."""
        return numbered(self.network.findings)


def new(folder: Path) -> list[Path]:
    """Write a commented estate.toml and an example of every layer into a new folder."""
    return write_template(folder)


def load(folder: Path, overlay: Path | None = None) -> tuple[Survey, Catalogue]:
    """Read an estate, or a variant of it, and its catalogue; InputError carries every problem of both."""
    settings, _ = read_settings(folder / SETTINGS_FILE, overlay)
    entries, problems = load_catalogue(settings.catalogue)
    problems += conductor_problems(entries)
    problems += [*spare_pair_problems(entries), *blocked_feeds(entries), *broken_ids(settings, entries)]
    known = {
        name: frozenset(getattr(entries, name)) for name in ("signals", "feeds", "cables", "methods", "items")
    }
    try:
        survey = read_survey(folder, known, overlay)
    except InputError as error:
        raise InputError([*error.problems, *problems], error.summary) from None
    problems += broken_settings(survey)
    if problems:
        raise InputError(problems)
    return survey, entries


def prepare(folder: Path, progress: Progress = silent, clock: Clock | None = None) -> Checked:
    """Read an estate, build its network and find what runs near mains."""
    clock = clock or Clock()
    progress("reading")
    survey, catalogue = load(folder)
    clock.lap("read")
    return joined(survey, catalogue, progress, clock)


def joined(
    survey: Survey, catalogue: Catalogue, progress: Progress = silent, clock: Clock | None = None
) -> Checked:
    """Build the network of an estate that was read, and find what runs near mains."""
    clock = clock or Clock()
    progress("joining routes")
    network = build_network(survey)
    clock.lap("network")
    progress("measuring distances to mains")
    separation = segment_separation(network, survey, catalogue)
    clock.lap("proximity")
    return Checked(survey, catalogue, network, separation)


def check(
    folder: Path, out: Path | None = None, *, overwrite: bool = False, progress: Progress = silent
) -> Checked:
    """Check an estate; with `out`, write what was read and found there."""
    if out is not None:
        check_target(out, overwrite=overwrite, inputs=[folder])
    clock = Clock()
    checked = prepare(folder, progress, clock)
    if out is not None:
        result = check_result(checked.survey, checked.catalogue, checked.network, checked.separation)
        save(out, result, checked.survey, clock, overwrite=overwrite, progress=progress)
    return checked


def design(
    folder: Path,
    out: Path | None = None,
    *,
    overwrite: bool = False,
    alternatives: int = 0,
    gap_percent: float | None = None,
    time_limit_s: float | None = None,
    progress: Progress = silent,
) -> tuple[Design, Result, Path]:
    """Design an estate and write the result to `out`, else to FOLDER/out/design.

    `alternatives` is how many links beside the chosen one are put down for each camera; `gap_percent` and
    `time_limit_s` go before the settings of the same names.
    """
    target = out or folder / "out" / "design"
    check_target(target, overwrite=overwrite, inputs=[folder])
    asked = asked_settings(gap_percent, time_limit_s)
    clock = Clock()
    checked = as_asked(prepare(folder, progress, clock), asked)
    made = designed(checked, progress, alternatives)
    clock.lap("design")
    result = design_result(made)
    save(target, result, checked.survey, clock, overwrite=overwrite, progress=progress)
    return made, result, target


def audit(
    folder: Path,
    out: Path | None = None,
    *,
    overwrite: bool = False,
    budget: float | None = None,
    progress: Progress = silent,
) -> tuple[Audit, Result, Path]:
    """Audit what is installed on an estate and write the result to `out`, else to FOLDER/out/audit.

    `budget` is money for the programme of remedies [currency].
    """
    target = out or folder / "out" / "audit"
    check_target(target, overwrite=overwrite, inputs=[folder])
    clock = Clock()
    checked = prepare(folder, progress, clock)
    if not len(checked.survey.cables):
        fix = "enter the installed cables, one a row; `estate new FOLDER` shows the columns"
        raise InputError(
            [Problem("cables", "a layer of installed cables, to be audited", value="none", fix=fix)]
        )
    where = (checked.survey, checked.catalogue, checked.network, checked.separation)
    made = make_audit(*where, progress, budget)
    clock.lap("audit")
    result = audit_result(made)
    save(target, result, checked.survey, clock, overwrite=overwrite, progress=progress)
    return made, result, target


def asked_settings(gap_percent: float | None, time_limit_s: float | None) -> dict[str, float]:
    """Return the keys of [design] that a run itself gives; InputError where they are no finite numbers from 0 up."""
    values = {"--gap": ("gap_percent", gap_percent), "--time-limit": ("time_limit_s", time_limit_s)}
    given = {option: (key, value) for option, (key, value) in values.items() if value is not None}
    problems = [
        Problem("command line", "a finite number of 0 or more", field=option, value=value)
        for option, (_, value) in given.items()
        if not (isfinite(value) and value >= 0)
    ]
    if problems:
        raise InputError(problems)
    return dict(given.values())


def as_asked(checked: Checked, asked: Mapping[str, Any]) -> Checked:
    """Return an estate with the keys of [design] that this run gives."""
    settings = checked.survey.settings
    given = settings.given | {f"design.{key}" for key in asked}
    changed = replace(settings, design=replace(settings.design, **asked), given=given)
    return replace(checked, survey=replace(checked.survey, settings=changed))


def designed(checked: Checked, progress: Progress = silent, alternatives: int = 0) -> Design:
    """Design an estate that was read and joined; InputError where its rules or its phases rule the design out."""
    if problems := superseded_rules(checked.survey.settings.limits):
        raise InputError(problems)
    where = (checked.survey, checked.catalogue, checked.network, checked.separation)
    stands = installed_links(audit_search(*where)).links if checked.survey.settings.design.keep else ()
    made = make_design(*where, progress, alternatives, stands)
    if problems := phase_problems(made.survey, made.network, made.links, made.trunks):
        raise InputError(problems)
    return made


def save(
    target: Path, result: Result, survey: Survey, clock: Clock, *, overwrite: bool, progress: Progress
) -> None:
    """Write a result and the layers it rests on, moved into place as a whole."""
    with replaced_folder(target, overwrite=overwrite, inputs=[survey.folder]) as draft:
        (draft / "layers").mkdir()
        write_layers(survey, draft / "layers")
        write_estate_geopackage(survey, draft / PACKAGE)
        write_result(draft, result, clock.seconds, progress)


def draw(
    folder: Path,
    source: Path | None = None,
    out: Path | None = None,
    *,
    sheet: str | None = None,
    scale: int | None = None,
    priced: bool = False,
    overwrite: bool = False,
    progress: Progress = silent,
) -> tuple[Result, Path]:
    """Draw a saved result again: `source`, else out/design, else out/audit; written to out/drawings.

    `sheet` and `scale` go before the settings of the same names, for the sheets of plan.pdf; `priced` puts the user's
    rates into the bill, which has none else.
    """
    if not folder.is_dir():
        raise InputError([Problem(str(folder), "the folder of an estate", value="missing")])
    target, place = out or folder / "out" / "drawings", source or saved_result(folder)
    check_target(target, overwrite=overwrite, inputs=[folder, place])
    result = read_result(place)
    if "runs" not in result.tables:
        fix = "run `estate design FOLDER` again"
        raise InputError([Problem(str(place), "a result with the cables of its links", fix=fix)])
    with replaced_folder(target, overwrite=overwrite, inputs=[folder, place]) as draft:
        write_sheets(draft, result, progress, sheet=sheet, scale=scale)
        write_drawings(draft, result, {}, progress, priced=priced)
    return result, target


def saved_result(folder: Path) -> Path:
    """Return the folder of the last design, else of the last audit."""
    design_out, audit_out = folder / "out" / "design", folder / "out" / "audit"
    return audit_out if audit_out.is_dir() and not design_out.is_dir() else design_out


def explain(folder: Path, camera: str, source: Path | None = None) -> list[str]:
    """Say why a camera's link of a saved result is as it is, and what it beat; or why there is none.

    `source` is the result, else out/design, else out/audit. Nothing is placed again: what the link beat is searched
    for on the layers that were saved with it.
    """
    place = source or saved_result(folder)
    result = read_result(place)
    missing = {"link_facts", "budget_notes", "runs", "equipment", "misses", "would_stand"} - set(
        result.tables
    )
    if missing or result.command == "check":
        fix = "run `estate design FOLDER` first"
        raise InputError([Problem(str(place), "a result with links that can be explained", fix=fix)])
    cameras = camera_ids(result)
    if camera not in cameras:
        fix = suggestion(camera, cameras) or f"cameras of this result: {', '.join(cameras) or 'none'}"
        raise InputError([Problem("CAMERA", "the id of a camera of this result", value=camera, fix=fix)])
    layers = (place if place.is_dir() else place.parent) / "layers"
    rivals = _rivals(layers, result, camera) if (layers / SETTINGS_FILE).is_file() else (None, [])
    return [*told_explanation(result, camera, *rivals), *_changed_since(folder, result)]


STANDING = 3
"""Links told of a camera for which some stand, but there is no room."""


def _rivals(layers: Path, result: Result, camera: str) -> tuple[Beaten | None, list[Alternative]]:
    """Return what a camera's link beat, or which stand for a camera without one."""
    cabinets = switched_cabinets(result)
    try:
        checked = prepare(layers)
    except InputError as error:
        problems = [replace(problem, file=str(layers / problem.file)) for problem in error.problems]
        raise InputError(problems, ["these are layers saved with the result, not the estate's own"]) from None
    search = link_search(checked.survey, checked.catalogue, checked.network, checked.separation)
    saved = None if result.command == "audit" else saved_link(result, camera)
    if saved is None:
        return None, standing(search, camera, cabinets, STANDING)
    return beaten(search, camera, saved, cabinets), []


def _changed_since(folder: Path, result: Result) -> list[str]:
    """Say which files of the estate are not those that a result rests on."""
    try:
        now = input_hashes(folder)
    except OSError:
        return []
    then = result.summary["input_hashes"]
    changed = sorted(name for name in {*now, *then} if now.get(name) != then.get(name))
    if not changed:
        return []
    return [
        f"changed since this result: {', '.join(changed)}; run `estate {result.command}` again to have it count"
    ]


def catalogue() -> Catalogue:
    """Return the packaged catalogue."""
    return load_catalogue()[0]


def reach(
    names: Mapping[str, tuple[str, ...]],
    values: Mapping[str, str | None],
    plot: Path | None = None,
    *,
    brief: bool,
) -> tuple[ReachQuestion, list[ReachRow]]:
    """Say how far every method asked about goes; with `plot`, draw loss and volts against length there.

    `names` and `values` as in `estate.links.reach.reach_question`.
    """
    question = reach_question(names, values, catalogue())
    if plot is not None:
        check_plot(plot)
    rows = reach_rows(question, brief=brief)
    if plot is not None:
        plot_reach(plot, question, rows)
    return question, rows


def separation(
    words: Mapping[str, str | None],
    lists: Mapping[str, tuple[str, ...]],
    *,
    safety: bool = True,
    screened: bool | None = None,
) -> SeparationAnswer:
    """Say what separation from mains is required; words as in `separation_question`."""
    return answered(separation_question(words, lists, catalogue(), safety=safety, screened=screened))


def entry(table: str, name: str) -> Entry:
    """Return one entry of the catalogue; InputError names the nearest known id."""
    entries: Mapping[str, Entry] = getattr(catalogue(), table)
    if name not in entries:
        fix = suggestion(name, entries) or f"`estate {table}` lists them"
        raise InputError([Problem("catalogue", f"an id of table {table}", value=name, fix=fix)])
    return entries[name]
