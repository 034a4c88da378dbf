"""Small estates on disk, for tests of the whole job."""

import csv
import json
from pathlib import Path


def write_csv(path: Path, rows: list[dict]) -> None:
    columns = list(dict.fromkeys(key for row in rows for key in row))
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, columns)
        writer.writeheader()
        writer.writerows(rows)


def write_estate(folder: Path, toml: str, **layers: list[dict]) -> Path:
    """Write estate.toml and one CSV per layer."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "estate.toml").write_text(toml, encoding="utf-8")
    for name, rows in layers.items():
        write_csv(folder / f"{name}.csv", rows)
    return folder


def read_csv(path: Path) -> list[dict]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def read_json(path: Path) -> dict:
    return json.loads(path.read_text(encoding="utf-8"))


LOCAL = '[estate]\ntitle = "Test"\ncrs = "local"\n'
EXACT = "[lengths]\nend_m = 0\nslack_percent = 0\nwaste_percent = 0\n"


def line(identity: str, *points: tuple[float, float], **more) -> dict:
    text = ", ".join(f"{x} {y}" for x, y in points)
    return {"id": identity, "wkt": f"LINESTRING ({text})", **more}


def camera(identity: str, x: float, y: float, **more) -> dict:
    return {
        "id": identity,
        "kind": "camera",
        "x": x,
        "y": y,
        "signal": "ethernet-1g",
        "power": "unswitched",
        **more,
    }


def recorder(identity: str, x: float, y: float, **more) -> dict:
    return {"id": identity, "kind": "recorder", "x": x, "y": y, "status": "candidate", **more}
