"""Small estates with installed cables, for tests of audits."""

from pathlib import Path

from estate import workflow
from estate.audit.audit import Audit, make_audit
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

COAX = {"signal": "composite", "feeds": "local", "power": "unswitched"}


def audited(folder: Path, cables, points=(), routes=(), toml="", **layers) -> Audit:
    """Audit a small estate; R1 at (0, 0) unless the points say otherwise."""
    points = list(points)
    if not any(point["id"] == "R1" for point in points):
        points.insert(0, recorder("R1", 0, 0, status="existing", channels=16))
    routes = list(routes) or [line("A", (0, 0), (1000, 0))]
    folder = write_estate(
        folder, LOCAL + EXACT + toml, points=points, routes=routes, cables=list(cables), **layers
    )
    checked = workflow.prepare(folder)
    return make_audit(checked.survey, checked.catalogue, checked.network, checked.separation, workflow.silent)


def cable(identity, camera_id="C1", to="R1", **more):
    """A coaxial cable in use without joints, from a camera to a recorder."""
    facts = {
        "from": camera_id,
        "to": to,
        "camera": camera_id,
        "status": "in_use",
        "cable": "rg59-cu",
        "joints": 0,
    }
    return {"id": identity, **facts, "method": "coax-local", **more}


def at(x_m, identity="C1", **more):
    """An analogue camera so far from the recorder, fed where it stands."""
    return camera(identity, x_m, 0, **{**COAX, **more})


def link(audit: Audit, name="C1"):
    """The installed link of a camera, or of an uplink by its id."""
    return next(each for each in audit.installed if name in (each.link.camera, each.link.id))


def lines(audit: Audit, quantity, name="C1", state=""):
    return [
        x for x in link(audit, name).link.lines
        if x.quantity == quantity and not x.informs and (not state or x.state == state)
    ]  # fmt: skip


def findings(audit: Audit, words):
    return [finding for finding in audit.findings if words in finding.text]


def deciding(audit: Audit, name="C1"):
    return sorted((fact.subject, fact.fact) for fact in link(audit, name).deciding)
