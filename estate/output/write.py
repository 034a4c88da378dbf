"""All files of a result, into one folder."""

import platform
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from estate.output.cad_drawing import write_dxf
from estate.output.drawing import plan_content
from estate.output.geodata import write_geojson, write_geopackage
from estate.output.page import write_page
from estate.output.programme_plot import draw_programme
from estate.output.result import Result, to_json
from estate.output.schedule_files import write_schedules
from estate.output.store import MARK, write_csv, write_json


def write_result(
    folder: Path, result: Result, seconds: Mapping[str, float], progress: Callable[[str], None]
) -> None:
    """Write every file of section "what comes out": result, tables, layers, plan, workbook and page."""
    started = time.perf_counter()
    (folder / "result.json").write_text(to_json(result), encoding="utf-8")
    write_json(folder / "summary.json", result.summary)
    progress("writing tables")
    for name, each in result.tables.items():
        write_csv(folder / f"{name}.csv", each)
    write_geopackage(folder / "network.gpkg", result)
    write_geojson(folder / "network.geojson", result)
    write_drawings(folder, result, {**seconds, "tables": time.perf_counter() - started}, progress)


def write_drawings(
    folder: Path,
    result: Result,
    seconds: Mapping[str, float],
    progress: Callable[[str], None],
    *,
    priced: bool = False,
) -> None:
    """Write plan, schedules and page of a result, and run.json; `priced` puts the user's rates into the bill."""
    from estate.output.plan import draw_plan  # noqa: PLC0415  slow: matplotlib

    progress("drawing the plan")
    started = time.perf_counter()
    draw_plan(plan_content(result), folder)
    draw_programme(folder, result)
    progress("writing workbook and page")
    write_schedules(folder, result, priced=priced)
    write_dxf(folder / "network.dxf", result)
    write_page(folder / "report.html", result)
    write_run(folder, result.command, result.version, {**seconds, "drawings": time.perf_counter() - started})


def write_sheets(
    folder: Path, result: Result, progress: Callable[[str], None], *, sheet: str | None, scale: int | None
) -> None:
    """Write plan.pdf and its sheets as SVG and PNG; `sheet` and `scale` go before those of estate.toml."""
    from estate.output.sheets import as_drawn, draw_sheets  # noqa: PLC0415  slow: matplotlib

    progress("drawing sheets")
    draw_sheets(as_drawn(result, sheet, scale), folder)


def write_run(folder: Path, command: str, version: str, seconds: Mapping[str, float]) -> None:
    """Write run.json: the only file with a clock, and the mark by which a folder is known as ours."""
    write_json(
        folder / MARK,
        {
            "program": "estate",
            "version": version,
            "command": command,
            "seconds": {stage: round(value, 3) for stage, value in seconds.items()},
            "machine": f"{platform.machine()}, Python {platform.python_version()}",
        },
    )
