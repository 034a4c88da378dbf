"""Random small estates on which links need equipment on the way, spurs to it, other media, spare cables.

Few nodes, so that everything can be looked at: parallel ways, proposed ways, unfit and forbidden ones, two earths.
"""

import numpy as np

from tests.oracle_walks import Rows

REACH_M = {"analogue": 260, "sdi": 80, "ethernet": 85}
"""About what a signal goes."""

METHODS = {
    "analogue": ["coax-local", "coax-power-pair", "coax-powered", "pair-video", "pair-video-power", "pair-active", "analogue-fibre", "ethernet", "ethernet-fibre", "ethernet-coax"],
    "sdi": ["coax-local", "coax-power-pair"],
    "ethernet": ["ethernet", "ethernet-extender", "ethernet-coax", "ethernet-fibre"],
}  # fmt: skip
COAX = ["rg59-cu", "rg6-cu", "rg11-cu"]
PAIR = ["cat5e-utp", "cat5e-ftp", "cat6-utp", "cat6a-ftp", "cat7-sftp"]
POWER = ["power-2x0.5", "power-2x1.0", "power-2x2.5"]
FIBRE = ["om3", "os2"]
SIGNALS = {
    "analogue": ["composite", "analogue-720p", "analogue-1080p", "analogue-5mp"],
    "sdi": ["sdi-hd", "sdi-3g"],
    "ethernet": ["ethernet-100m", "ethernet-1g"],
}
FEEDS = {
    "analogue": ["local", "dc12", "dc24", "ac24", "coax-dc"],
    "sdi": ["local", "dc12", "dc24"],
    "ethernet": ["local", "poe1", "poe2"],
}


def random_estate(seed: int) -> Rows:
    """A tree with a few more ways; equipment can stand on some of its nodes, often at the end of a spur."""
    rng = np.random.default_rng(seed)
    family = str(rng.choice(["analogue", "ethernet", "sdi"], p=[0.5, 0.4, 0.1]))
    far = bool(rng.random() < 0.4)
    points = _points(rng, family, far=far)
    buildings = _buildings(rng, points)
    routes = _routes(rng, points, REACH_M[family], drawn=bool(buildings), far=far)
    cables, chosen = _spares(rng, routes, family)
    supplies = _supplies(rng, points)
    toml = _toml(rng, family, chosen, np.random.default_rng([seed, 1]))
    return Rows(toml, points, routes, cables, buildings, supplies)


def _points(rng, family: str, *, far: bool) -> list[dict]:
    """Recorders, patch points, junctions, pits, cameras; far from each other only a spur leads to power."""
    rows = [{"id": "R1", "kind": "recorder", "status": "candidate", "height_m": int(rng.integers(0, 3))}]
    if rng.random() < 0.2 and not far:
        rows.append({"id": "R2", "kind": "recorder", "status": "candidate"})
    for row in rows:
        if rng.random() < 0.25:
            row["poe_ports"] = int(rng.integers(0, 5))
        if rng.random() < 0.25:
            row |= {"channels_network": 8, "channels_analogue": 8}
        if rng.random() < 0.12:
            row["accepts"] = str(rng.choice(["analogue", "ethernet", "analogue;ethernet"]))
    for k in range(int(rng.integers(1, 3)) if far else 4 - len(rows)):
        kind = str(rng.choice(["patch", "junction", "pit"], p=[0.0, 0.6, 0.4] if far else [0.55, 0.3, 0.15]))
        power = str(rng.choice(["unswitched", "ups", "none"], p=[0.4, 0.15, 0.45])) if kind == "patch" else ""
        rows.append({"id": f"P{k}", "kind": kind, "power": power})
    if far or rng.random() < 0.5:
        rows.append({"id": "Q", "kind": "patch", "power": "unswitched"})
    rows += [_camera(rng, f"C{k}", family) for k in range(1 + (rng.random() < 0.3))]
    return rows


def _camera(rng, name: str, family: str) -> dict:
    feeds = sorted(rng.choice(FEEDS[family], size=int(rng.integers(1, 4)), replace=False).tolist())
    day_w = round(float(rng.uniform(2, 11)), 1)
    row = {
        "id": name,
        "kind": "camera",
        "signal": str(rng.choice(SIGNALS[family])),
        "feeds": ";".join(feeds),
        "power": str(rng.choice(["unswitched", "none"])),
        "load_w": day_w,
        "load_night_w": round(day_w + float(rng.uniform(0, 12)), 1),
        "height_m": int(rng.integers(0, 5)),
    }
    if rng.random() < 0.3 and set(feeds) <= {"local", "dc12"}:
        row |= {"volts": 12, "volts_min": float(rng.choice([10, 10.8, 11.4]))}
    return row


def _buildings(rng, points: list[dict]) -> list[dict]:
    if rng.random() < 0.65:
        return []
    kinds = rng.choice(["TN-S", "TN-C-S", "TT", ""], size=2, p=[0.35, 0.35, 0.2, 0.1])
    for row in points:
        row["earth_zone"] = str(rng.choice(["Z1", "Z2"], p=[0.65, 0.35]))
        if row["kind"] == "camera":
            row["insulated"] = str(rng.choice(["yes", "no", ""]))
    return [{"id": f"B{k}", "earth_zone": f"Z{k + 1}", "earthing": str(kind)} for k, kind in enumerate(kinds)]


def _routes(rng, points: list[dict], reach_m: float, *, drawn: bool, far: bool) -> list[dict]:
    """A tree, with the patch point Q at the end of a spur, and up to two ways more."""
    names = [row["id"] for row in points]
    inner = [name for name in names if name[0] in "RP"]
    pairs = [(inner[int(rng.integers(max(0, k - 2), k))], inner[k]) for k in range(1, len(inner))]
    pairs += [(inner[int(rng.integers(1, len(inner)))], name) for name in names if name[0] in "CQ"]
    for _ in range(int(rng.choice([0, 1, 2], p=[0.5, 0.35, 0.15]))):
        a, b = rng.choice([name for name in names if name != "Q"], 2, replace=False)
        pairs.append((str(a), str(b)))
    angle = dict(zip(names, np.linspace(0, 2 * np.pi, len(names), endpoint=False), strict=True))
    outdoors = {k for k in range(len(pairs)) if drawn and rng.random() < 0.5 and _alone(pairs, k)}
    rows, stretched = [], 1.1 if far else float(rng.choice([0.4, 0.7, 1.1]))
    for k, (a, b) in enumerate(pairs):
        share = rng.uniform(0.03, 0.2) if b == "Q" else rng.uniform(0.4 if far else 0.1, 0.9) * stretched
        length_m = float(max(5, 5 * round(reach_m / 5 * float(share))))
        row = {"id": f"S{k}", "_a": a, "_b": b, "length_m": length_m, "environment": _environment(rng)}
        if k in outdoors:
            ends = [f"{1000 * np.cos(angle[n]):.3f} {1000 * np.sin(angle[n]):.3f}" for n in (a, b)]
            row["wkt"] = f"LINESTRING ({ends[0]}, {ends[1]})"
        else:
            row |= {"from": a, "to": b}
        row["containment"] = str(rng.choice(["duct", "tray", "surface", "trunking"]))
        row["status"] = "existing"
        if rng.random() < 0.2 and b != "Q":
            row["status"] = "proposed"
            row |= {"build_cost_m": int(rng.integers(1, 20))} if rng.random() < 0.5 else {"surface": "grass"}
        row["use"] = str(
            rng.choice(["", "preferred", "discouraged", "forbidden"], p=[0.82, 0.08, 0.08, 0.02])
        )
        rows.append(row)
    if drawn:
        for row in points:
            row |= {
                "x": round(1000 * np.cos(angle[row["id"]]), 3),
                "y": round(1000 * np.sin(angle[row["id"]]), 3),
            }
    return rows


def _alone(pairs: list[tuple[str, str]], k: int) -> bool:
    """Whether a way may be drawn: no other lies along it, and it is the only one of its camera."""
    others = [pair for j, pair in enumerate(pairs) if j != k]
    cameras = {name for name in pairs[k] if name.startswith("C")}
    return not any(set(pair) == set(pairs[k]) or cameras & set(pair) for pair in others)


def _environment(rng) -> str:
    return str(
        rng.choice(
            ["indoor", "riser", "duct_wet", "aerial", "buried", "hazardous"],
            p=[0.42, 0.1, 0.36, 0.1, 0.01, 0.01],
        )
    )


def _spares(rng, routes: list[dict], family: str) -> tuple[list[dict], list[str]]:
    """Spare cables on one way or on two that follow each other; and the cables that a design may use."""
    coax, pair = (
        sorted(rng.choice(kind, size=int(rng.integers(1, 3)), replace=False)) for kind in (COAX, PAIR)
    )
    fibre = [str(rng.choice(FIBRE))]
    power = sorted(rng.choice(POWER, size=int(rng.integers(1, 3)), replace=False))
    signal_cables = [str(c) for c in (*coax, *pair, *fibre)]
    laid = [row for row in routes if row["status"] == "existing"]
    rows = []
    for k in range(int(rng.choice([0, 1, 2], p=[0.3, 0.4, 0.3])) if laid else 0):
        one = laid[int(rng.integers(len(laid)))]
        nodes, segments = (one["_a"], one["_b"]), (one["id"],)
        after = [
            r for r in laid if r["_a"] == one["_b"] and r["_b"] != one["_a"] and not one["_b"].startswith("C")
        ]
        if after and rng.random() < 0.4:
            nodes, segments = (*nodes, after[0]["_b"]), (*segments, after[0]["id"])
        joints = str(rng.choice(["0", "1", ""], p=[0.8, 0.1, 0.1]))
        way_m = sum(row["length_m"] for row in routes if row["id"] in segments)
        measured = round(way_m * float(rng.uniform(1.0, 1.2))) if rng.random() < 0.5 else ""
        rows.append(
            {
                "id": f"K{k}", "from": nodes[0], "to": nodes[-1], "status": "spare", "routes": ";".join(segments),
                "cable": str(rng.choice(signal_cables)), "joints": joints, "length_m": measured,
                "_way": (nodes, segments),
            }
        )  # fmt: skip
    return rows, [*signal_cables, *(str(c) for c in power)]


def _supplies(rng, points: list[dict]) -> list[dict]:
    if rng.random() < 0.6:
        return []
    volts = int(rng.choice([12, 24]))
    at = str(rng.choice([row["id"] for row in points if row["kind"] == "recorder"]))
    return [
        {
            "id": "U1", "at": at, "kind": "dc", "volts": volts,
            "volts_min": round(volts * float(rng.uniform(0.93, 1.0)), 2),
            "volts_max": round(volts * float(rng.uniform(1.0, 1.08)), 2),
        }
    ]  # fmt: skip


def _toml(rng, family: str, cables: list[str], other) -> str:
    known = METHODS[family]
    methods = [m for m in known if rng.random() < 0.8] or [known[0]]
    discouraged = [str(rng.choice([*methods, *cables]))] if rng.random() < 0.2 else []
    slack, end, waste, cords = (
        (0, 0, 0, 10) if rng.random() < 0.4 else (5, int(rng.integers(0, 4)), 10, int(rng.integers(4, 12)))
    )
    equipment = {
        name: int(rng.integers(2, 80))
        for name in (
            "repeater-coax",
            "repeater-pair",
            "repeater-sdi",
            "extender-poe",
            "encoder",
            "supply-dc12",
            "supply-dc24",
            "converter-fibre",
            "fibre-module",
            "balun-passive",
            "switch-4-60w",
        )
        if rng.random() < 0.6
    }
    objective = "cable_length" if rng.random() < 0.12 else "cost"
    return "\n".join(
        [
            '[estate]\ntitle = "Test"\ncrs = "local"',
            f'[design]\nobjective = "{objective}"\nmethods = {methods}\ncables = {cables}\ndiscouraged = {discouraged}'.replace(
                "'", '"'
            ),
            f"[lengths]\nend_m = {end}\nslack_percent = {slack}\nwaste_percent = {waste}\ncords_m = {cords}",
            f'[limits]\nprofile = "{rng.choice(["cautious", "typical"])}"\nambient_c = {rng.choice([20, 30])}\nsupply_percent = {other.choice([80, 40, 20])}',
            "[prices.equipment]",
            *(f"{name} = {money}" for name, money in equipment.items()),
            "[catalogue.cables.cat7-sftp]",
            f'conductor_ohm_per_km = {{ value = {rng.choice([70.0, 93.8, 120.0])}, source = "practice", status = "common_practice" }}',
            *_outdoor_sheath(other, cables),
            "[catalogue.applications.1000base-sx]",
            f'reach_m = {{ value = {rng.choice([120, 250, 550])}, source = "practice", status = "common_practice" }}',
            "",
        ]
    )


def _outdoor_sheath(rng, cables: list[str]) -> list[str]:
    """Now and then one of the cables is for outdoors only, and goes so far into a building."""
    name = str(rng.choice(cables))
    if name == "cat7-sftp" or rng.random() < 0.6:
        return []
    figure = 'source = "practice", status = "common_practice" }'
    return [
        f'[catalogue.cables."{name}"]',
        f'fit = {{ value = ["duct_wet", "aerial", "buried"], {figure}',
        f"indoor_max_m = {{ value = {rng.choice([20, 60, 120])}, {figure}",
    ]
