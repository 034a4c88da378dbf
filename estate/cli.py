"""The command line: click commands, each a few lines over workflow.

Shared options, each with one meaning everywhere:
  --out DIR     where the result goes
  --overwrite   replace a folder that this program did not write
  --strict      exit with 1 where a finding is danger or fault
  -v, -q        more, or nothing but errors

Exit status: 0 done, 1 with --strict and a danger or fault, 2 bad input or usage.
"""

import sys
from collections.abc import Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import Any, TypeVar

import click

from estate import __version__
from estate.errors import EstateError, InputError

EXIT_STRICT = 1
EXIT_BAD_INPUT = 2

F = TypeVar("F", bound=Callable[..., Any])

FOLDER = click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
OUT = click.option(
    "--out", type=click.Path(path_type=Path, file_okay=False), help="Folder the result goes to."
)
OVERWRITE = click.option(
    "--overwrite", is_flag=True, help="Replace a folder that this program did not write."
)
STRICT = click.option("--strict", is_flag=True, help="Exit with 1 where a finding is danger or fault.")
VERBOSE = click.option("-v", "--verbose", is_flag=True, help="Tell more.")
QUIET = click.option("-q", "--quiet", is_flag=True, help="Tell nothing but errors.")


def shared(*options: Callable[[F], F], writes: bool = True) -> Callable[[F], F]:
    """Give a command its folder and shared options, and turn the program's errors into exit status 2.

    `writes` says whether it writes files, so that an error tells that none was.
    """

    def decorate(command: F) -> F:
        @wraps(command)
        def guarded(*args: Any, **kwargs: Any) -> Any:
            try:
                return command(*args, **kwargs)
            except InputError as error:
                _complain(error, writes=writes)
            except EstateError as error:
                click.echo(f"estate: {error}", err=True)
            except KeyboardInterrupt:
                click.echo("estate: interrupted; nothing was changed", err=True)
            sys.exit(EXIT_BAD_INPUT)

        decorated: Any = guarded
        for option in reversed(options):
            decorated = option(decorated)
        return decorated  # type: ignore[no-any-return]

    return decorate


def _complain(error: InputError, *, writes: bool) -> None:
    count = len(error.problems)
    words = "; nothing was written" if writes else ""
    click.echo(f"estate: {count} problem{'s' if count != 1 else ''}{words}", err=True)
    for line in (*error.problems, *error.summary):
        click.echo(f"  {line}", err=True)


def progress_for(*, quiet: bool) -> Callable[[str], None]:
    """Return what shows the stage at work on a terminal, and nothing in a pipe."""
    if quiet or not sys.stderr.isatty():
        return lambda _stage: None

    def show(stage: str) -> None:
        click.echo(f"\r\x1b[2K{stage} …", err=True, nl=False)

    return show


def tell(lines: Iterable[str], *, quiet: bool) -> None:
    """Print lines to standard output, after clearing a progress line."""
    if sys.stderr.isatty() and not quiet:
        click.echo("\r\x1b[2K", err=True, nl=False)
    if not quiet:
        click.echo("\n".join(lines))


def end(severities: Iterable[str], *, strict: bool) -> None:
    """Exit with 1 where --strict is given and a finding is danger or fault."""
    if strict and not {"danger", "fault"}.isdisjoint(severities):
        sys.exit(EXIT_STRICT)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="estate")
def main() -> None:
    """Analyse and design the cabling of camera systems on multi-building estates.

    A folder of layers (routes, points, mains, buildings, cables, supplies) goes in; a checked graph, links with
    their budget lines, recorders, findings, schedules and a plan come out. The program calculates; it never
    declares an installation safe.
    """


@main.command()
@shared(FOLDER, QUIET)
def new(folder: Path, *, quiet: bool) -> None:
    """Write a commented estate.toml and an example of every layer into a new FOLDER."""
    from estate import workflow  # noqa: PLC0415  slow

    written = workflow.new(folder)
    lines = [*(f"  {path.name}" for path in written), f"next: estate check {folder}"]
    tell([f"{folder}:", *lines], quiet=quiet)


@main.command()
@shared(FOLDER, OUT, OVERWRITE, STRICT, VERBOSE, QUIET)
def check(
    folder: Path, out: Path | None, *, overwrite: bool, strict: bool, verbose: bool, quiet: bool
) -> None:
    """Say whether the data of FOLDER is usable: what was read, what joins, what doesn't.

    Writes nothing unless --out is given.
    """
    from estate import workflow  # noqa: PLC0415  slow
    from estate.output.told import told_findings, told_network, told_survey  # noqa: PLC0415

    checked = workflow.check(folder, out, overwrite=overwrite, progress=progress_for(quiet=quiet))
    lines = [*told_survey(checked.survey), *told_network(checked.network)]
    written = [f"written to {out}"] if out else []
    tell([*lines, *told_findings(checked.findings, every=verbose), *written], quiet=quiet)
    end((finding.severity for finding in checked.findings), strict=strict)


@main.command()
@shared(
    FOLDER,
    click.option(
        "--alternatives",
        type=click.IntRange(min=0),
        default=0,
        help="Put down this many other links for each camera, the cheapest that differ, in alternatives.csv.",
    ),
    click.option(
        "--gap",
        type=click.FloatRange(min=0),
        help="Stop when no more than this could be saved [%]; goes before gap_percent in estate.toml.",
    ),
    click.option(
        "--time-limit",
        type=click.FloatRange(min=0, min_open=True),
        help="Stop each choice after so many seconds with the best found; goes before time_limit_s in estate.toml.",
    ),
    OUT,
    OVERWRITE,
    STRICT,
    VERBOSE,
    QUIET,
)
def design(  # noqa: PLR0913  one for each option
    folder: Path,
    alternatives: int,
    gap: float | None,
    time_limit: float | None,
    out: Path | None,
    *,
    overwrite: bool,
    strict: bool,
    verbose: bool,
    quiet: bool,
) -> None:
    """Choose recorders and a link for each camera of FOLDER; write schedules and the plan.

    The result goes to FOLDER/out/design unless --out is given.
    """
    from estate import workflow  # noqa: PLC0415  slow
    from estate.output.told import told_design, told_findings  # noqa: PLC0415

    made, result, target = workflow.design(
        folder,
        out,
        overwrite=overwrite,
        alternatives=alternatives,
        gap_percent=gap,
        time_limit_s=time_limit,
        progress=progress_for(quiet=quiet),
    )
    lines = [*made.survey.notes, *told_design(result)]
    lines += [*told_findings(made.findings, every=verbose), f"written to {target}"]
    tell(lines, quiet=quiet)
    end((finding.severity for finding in made.findings), strict=strict)


@main.command()
@shared(
    FOLDER,
    click.option(
        "--budget",
        type=click.FloatRange(min=0),
        help="Money for the programme of remedies: marks those that cure the most cameras for it.",
    ),
    OUT,
    OVERWRITE,
    STRICT,
    VERBOSE,
    QUIET,
)
def audit(
    folder: Path,
    budget: float | None,
    out: Path | None,
    *,
    overwrite: bool,
    strict: bool,
    verbose: bool,
    quiet: bool,
) -> None:
    """Judge what is installed in FOLDER: which links stand, which don't and why, what to find out and what cures cost.

    Every cable of the layer cables becomes a link. What is not known is judged over every value it could have; where
    they don't agree, the link is to be verified and survey.csv says how. programme.csv has the remedies in the order
    of most cameras for the money. Written to FOLDER/out/audit unless --out is given.
    """
    from estate import workflow  # noqa: PLC0415  slow
    from estate.output.told import told_findings  # noqa: PLC0415
    from estate.output.told_audit import told_audit  # noqa: PLC0415

    made, result, target = workflow.audit(
        folder, out, overwrite=overwrite, budget=budget, progress=progress_for(quiet=quiet)
    )
    lines = [*made.survey.notes, *told_audit(result)]
    lines += [*told_findings(made.findings, every=verbose), f"written to {target}"]
    tell(lines, quiet=quiet)
    end((finding.severity for finding in made.findings), strict=strict)


@main.command()
@shared(
    FOLDER,
    click.option(
        "--from", "source", type=click.Path(path_type=Path), help="Result folder or result.json to draw."
    ),
    click.option(
        "--priced", is_flag=True, help="Fill the bill with your own rates; without it, it has none."
    ),
    click.option(
        "--sheet",
        type=click.Choice(("A0", "A1", "A2", "A3", "A4")),
        help="Sheet size; else that of estate.toml.",
    ),
    click.option(
        "--scale", type=click.IntRange(min=1), help="Scale of the plans, 1 to this; else that of estate.toml."
    ),
    OUT,
    OVERWRITE,
    STRICT,
    QUIET,
)
def draw(  # noqa: PLR0913  one for each option
    folder: Path,
    source: Path | None,
    sheet: str | None,
    scale: int | None,
    out: Path | None,
    *,
    priced: bool,
    overwrite: bool,
    strict: bool,
    quiet: bool,
) -> None:
    """Draw a saved result without solving: plan.pdf and its sheets, plan on one sheet, schedules, bill and page.

    Takes --from, else FOLDER/out/design, else FOLDER/out/audit; writes FOLDER/out/drawings unless --out is given.
    """
    from estate import workflow  # noqa: PLC0415  slow
    from estate.output.bill_file import bill_of, told_bill  # noqa: PLC0415

    result, target = workflow.draw(
        folder,
        source,
        out,
        sheet=sheet,
        scale=scale,
        priced=priced,
        overwrite=overwrite,
        progress=progress_for(quiet=quiet),
    )
    bill = told_bill(bill_of(result, priced=priced), result.estate["currency"])
    tell([*bill, f"written to {target}"], quiet=quiet)
    end(result.tables["findings"].column("severity"), strict=strict)


@main.command()
@shared(
    FOLDER,
    click.argument("camera"),
    click.option(
        "--from", "source", type=click.Path(path_type=Path), help="Result folder or result.json to explain."
    ),
    writes=False,
)
def explain(folder: Path, camera: str, source: Path | None) -> None:
    """Tell why CAMERA has the link it has and what that beat, or why it has none and what would make one.

    Takes --from, else FOLDER/out/design, else FOLDER/out/audit. Nothing is placed again.
    """
    from estate import workflow  # noqa: PLC0415  slow

    tell(workflow.explain(folder, camera, source), quiet=False)


@main.command()
@shared(
    click.argument("folders", metavar="FOLDER…", nargs=-1, required=True, type=click.Path(path_type=Path)),
    click.option("--recorders", help="Numbers of recorders to design FOLDER for, such as 1-4."),
    OUT,
    OVERWRITE,
    VERBOSE,
    QUIET,
)
def compare(
    folders: tuple[Path, ...],
    recorders: str | None,
    out: Path | None,
    *,
    overwrite: bool,
    verbose: bool,
    quiet: bool,
) -> None:
    """Hold results against each other: cost, cable, trench, margin, cameras lost to a cut, findings.

    One FOLDER: the estate designed as it is and with each overlay FOLDER/variants/NAME.toml of its estate.toml, or
    for each number of --recorders; written to FOLDER/out/compare unless --out is given. Two or more: their saved
    results (a result folder, or an estate with one); written to the folder compare beside the first result. Of two
    designs or two audits each link that got better or worse, is new or gone, is told; of two audits also cables, facts
    settled since, and the programme's money. The estate and its saved results stay as they are.
    """
    from estate import comparing  # noqa: PLC0415  slow
    from estate.output.audit_changes import told_audit_changes  # noqa: PLC0415
    from estate.output.changes import told_changes  # noqa: PLC0415
    from estate.output.compare import told_comparison  # noqa: PLC0415

    shown, target = comparing.compare(
        folders, recorders, out, overwrite=overwrite, progress=progress_for(quiet=quiet)
    )
    changes = [] if shown.changes is None else told_changes(shown.changes, every=verbose)
    if shown.audit_changes is not None:
        changes += told_audit_changes(shown.audit_changes, shown.currency, every=verbose)
    tell([*told_comparison(shown), *changes, f"written to {target}"], quiet=quiet)


@main.command()
@shared(click.argument("cable", required=False), QUIET, writes=False)
def cables(cable: str | None, *, quiet: bool) -> None:
    """List the catalogue's cables, or one CABLE with every figure and its source."""
    _catalogue("cables", cable, quiet=quiet)


@main.command()
@shared(click.argument("method", required=False), QUIET, writes=False)
def methods(method: str | None, *, quiet: bool) -> None:
    """List the catalogue's methods, or one METHOD with what it needs and offers."""
    _catalogue("methods", method, quiet=quiet)


@main.command()
@shared(
    click.option("--signal", multiple=True, help="Signal id; may be repeated. Without it one of each kind."),
    click.option("--method", multiple=True, help="Method id; may be repeated."),
    click.option("--cable", multiple=True, help="Cable id, legacy ones too; may be repeated."),
    click.option("--feed", multiple=True, help="Feed id; may be repeated."),
    click.option("--load", help="Load of the camera by day [W]."),
    click.option("--load-night", help="Load of the camera at night [W]; with --load alone it is not known."),
    click.option("--volts", help="Volts the camera is made for [V]; without it those of its feed."),
    click.option("--volts-min", help="Least volts it works at [V]; without it 0.9 of its volts."),
    click.option("--temperature", help="Ambient temperature [°C]; without it 20."),
    click.option("--profile", help="Trade reach that governs: cautious or typical."),
    click.option(
        "--format",
        "form",
        type=click.Choice(["text", "csv", "json"]),
        default="text",
        help="Form of the answer.",
    ),
    click.option(
        "--plot", type=click.Path(path_type=Path, dir_okay=False), help="PNG, SVG or PDF to draw to."
    ),
    QUIET,
)
def reach(form: str, plot: Path | None, *, quiet: bool, **asked: Any) -> None:
    """Tell how far each method goes on its cables, by day and at night, and what stops it.

    Without options: a page for a typical camera. CSV and JSON hold every method, cable and feed, legacy ones too.
    """
    from estate import workflow  # noqa: PLC0415  slow
    from estate.output.reach import FORMS  # noqa: PLC0415

    names = {key: asked.pop(key) for key in ("signal", "method", "cable", "feed")}
    question, rows = workflow.reach(names, asked, plot, brief=form == "text")
    if not quiet:
        click.echo(FORMS[form](question, rows), nl=False)


@main.command()
@shared(
    click.option("--class", "cable_class", help="Class of the cable, a to d; without it b."),
    click.option("--cable", help="Cable id, in place of a class."),
    click.option(
        "--barrier",
        help="Metal between: none, open, perforated, solid; of pairs-2000 none, aluminium, steel.",
    ),
    click.option(
        "--amps", multiple=True, help="Rating of each mains circuit [A]; repeat for each group alike."
    ),
    click.option("--phases", multiple=True, help="Phases of each group's circuits: 1 or 3."),
    click.option("--circuits", multiple=True, help="Number of circuits in each group."),
    click.option("--screened/--unscreened", default=None, help="Whether the mains cable is screened."),
    click.option("--declared", help="Distance there is [mm], to be judged."),
    click.option("--rounding", help="Parts of 20 A: up (safe) or nearest."),
    click.option(
        "--no-safety", is_flag=True, help="Leave the safety distance out; local codes may still ask for it."
    ),
    click.option("--rules", help="en50174, or the superseded pairs-2000 for older work."),
    click.option(
        "--kind", help="Kind of source: mains, drive, fence, discharge_lamp, lightning_protection …"
    ),
    click.option("--volts", help="Nominal volts of the mains [V]."),
    click.option("--placement", help="Of the mains: indoor, buried, overhead."),
    click.option("--explain", is_flag=True, help="Show the induced voltage too, as information."),
    QUIET,
    writes=False,
)
def separation(
    cable_class: str | None,
    *,
    no_safety: bool,
    screened: bool | None,
    explain: bool,
    quiet: bool,
    **asked: Any,
) -> None:
    """Tell what separation from mains a cable needs, how that comes about, and whether a distance keeps it.

    Needs no estate. Groups of circuits: --amps 63 --phases 3 --circuits 3 --amps 16 --phases 1 --circuits 10.
    """
    from estate import workflow  # noqa: PLC0415  slow
    from estate.output.separation import told_separation  # noqa: PLC0415

    lists = {key: asked.pop(key) for key in ("amps", "phases", "circuits")}
    words = {**asked, "class": cable_class}
    answer = workflow.separation(words, lists, safety=not no_safety, screened=screened)
    tell(told_separation(answer, explain=explain), quiet=quiet)


def _catalogue(table: str, wanted: str | None, *, quiet: bool) -> None:
    """Print a table of the catalogue, or one entry of it."""
    from estate import workflow  # noqa: PLC0415  slow
    from estate.output.told import told_cables, told_entry, told_methods  # noqa: PLC0415

    if wanted is not None:
        tell(told_entry(workflow.entry(table, wanted)), quiet=quiet)
        return
    catalogue = workflow.catalogue()
    tell(told_cables(catalogue) if table == "cables" else told_methods(catalogue), quiet=quiet)
