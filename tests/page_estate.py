"""One estate whose page has something of everything: links, misses, findings, mains, phases, cabinets."""

from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

TOML = (
    LOCAL + EXACT + "[network]\nspur_max_m = 5\n[phases]\nnames = ['one', 'two']\n"
    '[design]\ncables = ["cat5e-utp", "rg59-cu", "power-2x1.5", "os2"]\n'
    'methods = ["ethernet", "coax-local", "coax-power-pair", "ethernet-fibre"]\n'
)  # fmt: skip
POE = {"feeds": "poe2", "power": "none", "load_w": 5}
"""The load at night is not known: judged up to what the feed can give."""


def whole_estate(folder):
    """C1 past a switch, C2 and C4 near the recorder, C3 on no route; M runs beside F."""
    return write_estate(
        folder,
        TOML,
        routes=[
            line("A", (0, 0), (70, 0), containment="tray"),
            line("B", (70, 0), (130, 0), status="proposed", containment="duct", surface="grass"),
            line("D", (0, 0), (0, 40)),
            line("F", (0, 0), (0, -60), containment="tray", separation_mm=60, separation_from="M"),
            line("G", (0, -60), (40, -60), (40, 0)),
        ],
        points=[
            recorder("R", 0, 0, name="Security room", channels=8, poe_ports=8),
            {"id": "P", "kind": "patch", "x": 70, "y": 0, "power": "unswitched", "name": "Barn cabinet"},
            camera("C1", 130, 0, name="Gate", phase="two", load_night_w=6, **POE),
            camera("C2", 0, 40, name="Yard", **POE),
            camera("C3", 35, 20, **POE),
            camera("C4", 40, -20, signal="composite", load_w=4, load_night_w=6),
        ],
        mains=[
            {"id": "M", "wkt": "LINESTRING (-0.06 -20, -0.06 -60)", "amps": 20, "phases": 1, "circuits": 12, "placement": "indoor", "volts": 230, "screened": "no"}
        ],
        buildings=[{"id": "H", "name": "House", "wkt": "POLYGON ((-9 -9, 20 -9, 20 9, -9 9, -9 -9))"}],
    )  # fmt: skip
