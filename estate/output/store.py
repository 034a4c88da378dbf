"""Output folders: written beside and moved into place, so a folder is the old result or the new, never a mix."""

import csv
import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from estate.errors import OutputRefused
from estate.output.result import Table
from estate.survey.cells import harmless

MARK = "run.json"
"""The file by which a folder is known as written by this program."""


def check_target(target: Path, *, overwrite: bool) -> None:
    """Refuse a folder that holds something this program did not write, unless `overwrite`."""
    if target.is_file():
        raise OutputRefused(f"{target} is a file: name another folder with --out")
    if overwrite or not target.exists() or not any(target.iterdir()) or _is_ours(target):
        return
    raise OutputRefused(
        f"{target} holds files that this program did not write: name another folder with --out, "
        "or allow it with --overwrite"
    )


def _is_ours(folder: Path) -> bool:
    try:
        return bool(json.loads((folder / MARK).read_text(encoding="utf-8")).get("program") == "estate")
    except (OSError, ValueError, AttributeError):
        return False


@contextmanager
def replaced_folder(target: Path, *, overwrite: bool) -> Iterator[Path]:
    """Give a folder to write in; on success it takes the place of `target`, on any failure `target` stays."""
    check_target(target, overwrite=overwrite)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as error:
        raise OutputRefused(f"cannot write beside {target}: {error.strerror}") from error
    try:
        yield draft
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
