"""Results held against each other: saved ones, or designs of one estate for several settings."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from estate import __version__
from estate.errors import Infeasible, InputError, Problem
from estate.output.build import design_result
from estate.output.compare import Compared, Comparison, comparison, write_comparison
from estate.output.result import read_result
from estate.output.store import check_target, replaced_folder
from estate.output.write import write_run
from estate.survey.read import SETTINGS_FILE
from estate.workflow import Checked, Clock, Progress, designed, joined, load, prepare, saved_result, silent

VARIANTS = "variants"
"""Folder of an estate with overlays of its settings."""


def compare(
    folders: Sequence[Path],
    recorders: str | None = None,
    out: Path | None = None,
    *,
    overwrite: bool = False,
    progress: Progress = silent,
) -> tuple[Comparison, Path]:
    """Hold results against each other and write the comparison to `out`.

    Several folders: their saved results; the comparison goes beside the first. One folder: designs of the estate
    for each number of `recorders` ("1-4"), else of its variants; the comparison goes to FOLDER/out/compare. The
    estate and its saved results stay as they are.
    """
    clock = Clock()
    counts = recorder_counts(folders, recorders)
    saved = result_folders(folders) if len(folders) > 1 else []
    target = out or (saved[0].absolute().parent / "compare" if saved else folders[0] / "out" / "compare")
    inputs = [*folders, *saved, *(folder / VARIANTS for folder in folders)]
    check_target(target, overwrite=overwrite, inputs=inputs)
    if saved:
        compared = saved_results(folders, saved)
    elif counts:
        compared = designed_counts(folders[0], counts, progress)
    else:
        compared = designed_variants(folders[0], progress)
    clock.lap("design")
    shown = comparison(compared)
    with replaced_folder(target, overwrite=overwrite, inputs=inputs) as draft:
        write_comparison(draft, shown)
        write_run(draft, "compare", __version__, clock.seconds)
    return shown, target


def recorder_counts(folders: Sequence[Path], recorders: str | None) -> list[int]:
    """Return the numbers of recorders that are asked for as "2" or "1-4"."""
    if recorders is None:
        return []
    least, dash, most = recorders.partition("-")
    most = most if dash else least
    expected = "a number of recorders of 1 or more, or a range such as 1-4"
    if len(folders) > 1:
        expected = "one FOLDER beside it: results that are saved have their number"
    elif least.isdecimal() and most.isdecimal() and 1 <= int(least) <= int(most):
        return list(range(int(least), int(most) + 1))
    raise InputError([Problem("command line", expected, field="--recorders", value=recorders)])


def result_folders(folders: Sequence[Path]) -> list[Path]:
    """Return the result folder of each: itself, or the saved result of an estate."""
    return [
        saved_result(folder)
        if (folder / SETTINGS_FILE).is_file() and not (folder / "result.json").is_file()
        else folder.parent
        if folder.is_file()
        else folder
        for folder in folders
    ]


def saved_results(names: Sequence[Path], folders: Sequence[Path]) -> list[Compared]:
    """Read saved results; InputError names every one that can't be read."""
    compared, problems = [], []
    for name, folder in zip(names, folders, strict=True):
        try:
            compared.append(Compared(str(name), read_result(folder)))
        except InputError as error:
            problems += [replace(problem, file=str(folder / "result.json")) for problem in error.problems]
    if problems:
        raise InputError(problems)
    return compared


def designed_counts(folder: Path, counts: Sequence[int], progress: Progress) -> list[Compared]:
    """Design an estate for each number of recorders."""
    checked = prepare(folder, progress)
    settings = checked.survey.settings
    compared = []
    for count in counts:
        asked = replace(settings.design, recorders_exactly=count, recorders_at_most=None)
        given = settings.given | {"design.recorders_exactly"}
        survey = replace(checked.survey, settings=replace(settings, design=asked, given=given))
        name = f"{count} recorder{'' if count == 1 else 's'}"
        compared.append(_designed_or_why(name, replace(checked, survey=survey), progress, count))
    return compared


def designed_variants(folder: Path, progress: Progress) -> list[Compared]:
    """Design an estate as it is, and with each overlay of its `variants`; InputError has the problems of all."""
    if (folder / "result.json").is_file() and not (folder / SETTINGS_FILE).is_file():
        expected = "an estate, or a second result beside this one"
        raise InputError([Problem(str(folder), expected, fix="name two or more results")])
    base = prepare(folder, progress)
    overlays = sorted(path for path in (folder / VARIANTS).glob("*.toml") if path.is_file())
    if not overlays:
        fix = f"write {VARIANTS}/NAME.toml, give --recorders 1-4, or name two or more results"
        expected = "at least one NAME.toml with the keys of estate.toml that differ"
        raise InputError([Problem(VARIANTS, expected, value="missing", fix=fix)])
    read, problems = [], []
    for overlay in overlays:
        try:
            read.append((overlay.stem, load(folder, overlay)))
        except InputError as error:
            problems += [_of_variant(problem, overlay) for problem in error.problems]
    if problems:
        raise InputError(problems)
    checked = [(SETTINGS_FILE, base), *((name, joined(*each, progress)) for name, each in read)]
    return [_designed_or_why(name, each, progress) for name, each in checked]


def _of_variant(problem: Problem, overlay: Path) -> Problem:
    """Return a problem of an estate that stands without the overlay, under the overlay's name."""
    name = f"{VARIANTS}/{overlay.name}"
    if problem.file == name:
        return problem
    return replace(problem, file=name if problem.file == SETTINGS_FILE else f"{name}: {problem.file}")


def _designed_or_why(
    name: str, checked: Checked, progress: Progress, recorders: int | None = None
) -> Compared:
    """Return the design of an estate, or why there is none."""

    def named(stage: str) -> None:
        progress(f"{name}: {stage}")

    try:
        return Compared(name, design_result(designed(checked, named)), recorders=recorders)
    except Infeasible as error:
        return Compared(name, status="infeasible", why="; ".join(error.reasons), recorders=recorders)
    except InputError as error:
        return Compared(name, status="refused", why="; ".join(map(str, error.problems)), recorders=recorders)
