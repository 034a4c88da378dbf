"""Output folders: written beside and moved into place, so a folder is the old result or the new, never a mix."""

import csv
import json
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from estate.errors import OutputRefused
from estate.output.result import Table
from estate.survey.cells import harmless

MARK = "run.json"
"""The file by which a folder is known as written by this program; it lists what was written."""

DESKTOP_FILES = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""What desktops leave in a folder that is looked at: nobody's data."""


def check_target(target: Path, *, overwrite: bool, inputs: Iterable[Path] = ()) -> None:
    """Refuse a folder that holds something this program did not write, unless `overwrite`.

    What a run reads, or a folder around it, is never replaced: `inputs` are those files and folders.
    """
    if target.is_file():
        raise OutputRefused(f"{target} is a file: name another folder with --out")
    place = target.resolve()
    for path in inputs:
        source = path.resolve()
        source = source.parent if source.is_file() else source
        if source.is_relative_to(place):
            what = "is" if source == place else f"holds {path}, which is"
            raise OutputRefused(f"{target} {what} what this run reads: name another folder with --out")
    if overwrite or not target.exists():
        return
    foreign = _foreign(target)
    if foreign:
        more = f" and {len(foreign) - 1} more" if len(foreign) > 1 else ""
        raise OutputRefused(
            f"{target} holds files that this program did not write ({foreign[0]}{more}): name another folder "
            "with --out, or allow it with --overwrite"
        )


def _foreign(folder: Path) -> list[str]:
    """Return the files in a folder that its mark doesn't list."""
    ours = {*_listed(folder), MARK}
    return [name for name in _files(folder) if name not in ours and Path(name).name not in DESKTOP_FILES]


def _files(folder: Path) -> list[str]:
    """Return what lies in a folder and below, folders that hold something apart; a link is one entry."""
    paths = (path for path in folder.rglob("*") if path.is_symlink() or not path.is_dir())
    return sorted(path.relative_to(folder).as_posix() for path in paths)


def _mark(folder: Path) -> dict[str, Any]:
    """Return what the mark of a folder says; nothing where there is none of ours."""
    try:
        mark = json.loads((folder / MARK).read_text(encoding="utf-8"))
        return dict(mark) if mark["program"] == "estate" else {}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _listed(folder: Path) -> list[str]:
    files = _mark(folder).get("files")
    return [str(name) for name in files] if isinstance(files, list) else []


@contextmanager
def replaced_folder(target: Path, *, overwrite: bool, inputs: Iterable[Path] = ()) -> Iterator[Path]:
    """Give a folder to write in; on success it takes the place of `target`, on any failure `target` stays.

    Its mark gets the list of what was written.
    """
    check_target(target, overwrite=overwrite, inputs=inputs)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as error:
        raise OutputRefused(f"cannot write beside {target}: {error.strerror}") from error
    try:
        yield draft
        write_json(draft / MARK, {"program": "estate", **_mark(draft), "files": _files(draft)})
        draft.chmod(0o755)
        if target.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{target.name}-old-", dir=target.parent))
            target.rename(old / target.name)
            draft.rename(target)
            shutil.rmtree(old)
        else:
            draft.rename(target)
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def write_csv(path: Path, table: Table) -> None:
    """Write one table as CSV (RFC 4180, UTF-8); text that a spreadsheet would run as a formula is quoted off."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow([harmless(column) for column in table.columns])
        writer.writerows([_cell(value) for value in row] for row in table.rows)


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return harmless(value) if isinstance(value, str) else value


def write_json(path: Path, content: Any) -> None:
    """Write JSON with a fixed layout."""
    text = json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
