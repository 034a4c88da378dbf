"""Remedies for an installed estate: per link and segment, priced, none that breaks another rule."""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from estate.audit.remedy import Refused, Remedies, Remedy, Repair, Resource, resources_of
from estate.audit.remedy_links import LinkCure, link_cures, refused_extender
from estate.audit.remedy_pulls import pull_words
from estate.audit.remedy_room import held_now, limits_of, with_a_channel
from estate.audit.remedy_shared import (
    Trunk,
    named,
    room_remedies,
    separation_remedies,
    too_near,
    trunk_remedies,
    works_remedies,
)
from estate.findings import NAN, Action, Verdict
from estate.installed.fill import Containment, containment_of
from estate.installed.link import InstalledLink
from estate.links.chosen import chosen_link
from estate.links.search import LinkSearch
from estate.links.site import SiteFacts

STANDS = (Verdict.WITHIN, Verdict.MARGINAL)

OFFERED = 4
"""How many other links of different kinds are put down for a camera, beside those from a cabinet."""

FROM_CABINET = 1


@dataclass
class _Book:
    """What has been put down so far."""

    search: LinkSearch
    by_camera: Mapping[str, InstalledLink]
    served: Mapping[str, str]
    """Cabinets that an installed uplink joins, with the recorder it leads to."""
    containment: Containment
    remedies: dict[str, Remedy] = field(default_factory=dict)
    repairs: list[Repair] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)

    def put(self, remedies: Sequence[Remedy]) -> tuple[str, ...]:
        """Put remedies down, each once, and return their ids."""
        for remedy in remedies:
            self.remedies.setdefault(remedy.id, remedy)
        return tuple(remedy.id for remedy in remedies)


def make_remedies(
    search: LinkSearch,
    installed: Sequence[InstalledLink],
    progress: Callable[[str], None] = lambda _: None,
) -> Remedies:
    """Return what would cure each camera whose installed link doesn't stand; one without a cable on record is for a design.

    A camera whose link is to be verified gets the test first; what would replace the link is priced beside it. Only
    recorders that stand are searched from, and cabinets, with fibre and a switch where none joins them.
    """
    by_camera = {each.link.camera: each for each in installed if each.link.camera}
    heads = {site.id: k for k, site in enumerate(search.sites)}
    designed = {
        camera: replace(each.found, site=heads[each.link.head])
        for camera, each in by_camera.items()
        if each.found is not None and each.link.head in heads
    }
    search = replace(search, designed=designed)
    served = {e.link.patch: e.link.recorder for e in installed if e.link.kind == "uplink"}
    book = _Book(search, by_camera, served, containment_of(search.survey, search.catalogue, search.network))
    ailing = [k for k, camera in enumerate(search.cameras) if _is_ailing(by_camera.get(camera.id))]
    separation, cures = separation_remedies(search, installed)
    for camera in ailing:
        own = by_camera.get(search.cameras[camera].id)
        if own is not None:
            _tests(book, own)
            _on_segments(book, own, separation, {s: set(c.links_fail) for s, c in cures.items()})
    found = {}
    for camera in ailing:
        progress(f"remedies for {search.cameras[camera].id}")
        found[camera] = list(_links(book, camera))
    ports = _put_links(book, found)
    kept, refused = with_a_channel(search, installed, book.repairs)
    money = {r.id: r.cost for r in book.remedies.values()}
    repairs = sorted(kept, key=lambda r: (r.camera, sum(money[n] for n in r.remedies), r.kind, r.text))
    needed = {name for repair in repairs for name in repair.remedies}
    listed = [r for r in book.remedies.values() if r.id in needed or r.action is Action.SURVEY]
    listed += [r for r in separation.values() if r.id not in needed]
    return Remedies(
        remedies=tuple(sorted(listed, key=lambda r: r.id)),
        repairs=tuple(repairs),
        refused=(*book.refused, *refused),
        limits=limits_of(search, repairs, ports),
        holds=held_now(installed),
    )


def _is_ailing(installed: InstalledLink | None) -> bool:
    """Whether a camera has cables on record, and they make no link that stands."""
    return installed is not None and bool(installed.cables) and installed.link.verdict not in STANDS


# What is cured where the link stays


def _tests(book: _Book, own: InstalledLink) -> None:
    """Put down the tests that would settle a link; they have no price."""
    if own.link.verdict is Verdict.VERIFY and own.deciding:
        tests = "; ".join(dict.fromkeys(f"{u.fact} of {u.subject}: {u.test}" for u in own.deciding))
        book.put([Remedy(named("test", own.link.id), Action.SURVEY, "test", "link", own.link.id, tests, NAN)])


def _on_segments(
    book: _Book, own: InstalledLink, separation: Mapping[int, Remedy], fails: Mapping[int, set[str]]
) -> None:
    """Put down the repair of a link that nothing but separation stands against: its segments brought up to it."""
    link = own.link
    lines = [x for x in link.lines if not x.informs and x.verdict not in STANDS]
    near = sorted(too_near(book.search, own))
    cured = near and all(s in separation and link.id not in fails[s] for s in near)
    if not cured or any(x.quantity != "separation" or x.verdict is not Verdict.OUTSIDE for x in lines):
        return
    wanted = [separation[s] for s in near]
    margins = [x.margin_percent for x in link.lines if not x.informs and x.quantity != "separation"]
    book.repairs.append(
        Repair(
            camera=link.camera,
            remedies=book.put(wanted),
            action=Action.RELOCATE,
            kind=wanted[0].kind,
            head=link.head,
            recorder=link.recorder,
            port=link.port,
            method=link.method,
            verdict=Verdict.WITHIN,
            margin_percent=min((m for m in margins if m == m), default=NAN),  # noqa: PLR0124  not NaN
            text="; ".join(remedy.text for remedy in wanted),
            takes=resources_of(link.recorder, link.port),
        )
    )


# Other links


def _links(book: _Book, camera: int) -> Iterator[LinkCure]:
    """Yield the other links of a camera, from recorders that stand, and from cabinets where that link costs less.

    Fibre and a switch at the cabinet come on top of that, shared or not: a dearer link never pays for them.
    """
    search = book.search
    installed = book.by_camera.get(search.cameras[camera].id)
    if search.network.point_node[search.cameras[camera].row] < 0 or search.cameras[camera].signal is None:
        return
    recorders = [k for k in range(search.recorders) if search.sites[k].existing]
    direct = link_cures(search, camera, recorders or range(search.recorders), installed, OFFERED)
    yield from direct
    cabinets = range(search.recorders, len(search.sites))
    most = min((cure.cost for cure in direct), default=math.inf)
    behind = link_cures(search, camera, cabinets, installed, FROM_CABINET, most)
    yield from behind
    why = refused_extender(search, camera, recorders) if _is_network(search, camera) else ""
    if why:
        book.refused.append(Refused(search.cameras[camera].id, Action.REPEATER, "extender", why))


def _is_network(search: LinkSearch, camera: int) -> bool:
    return search.catalogue.signals[str(search.cameras[camera].signal)].kind == "ethernet"


def _put_links(book: _Book, found: Mapping[int, Sequence[LinkCure]]) -> dict[str, int]:
    """Put down other links with their remedies: the link's own, works, room, fibre and switch.

    Return the ports of the switches that would be put up, by cabinet.
    """
    search = book.search
    wanted = Counter(
        c.found.site for cures in found.values() for c in cures if search.sites[c.found.site].is_cabinet
    )
    trunks = trunk_remedies(search, book.containment, dict(wanted), list(book.served))
    for camera, cures in found.items():
        seen: set[tuple[Action, str, bool]] = set()
        for cure in cures:
            key = (cure.action, cure.kind, search.sites[cure.found.site].is_cabinet)
            if key not in seen:
                seen.add(key)
                _put_link(book, camera, cure, trunks)
    return {search.sites[k].id: trunk.ports for k, trunk in trunks.items()}


LOOK_FIRST = "if its plugs, joints, polarity and supply are found good: "
TEST_FIRST = "if the test speaks against the link: "


def _words(installed: InstalledLink | None, cure: LinkCure) -> str:
    """Say what a link is, and what is to be tested or looked for before it is bought."""
    if installed is not None and installed.link.verdict is Verdict.VERIFY:
        return f"{TEST_FIRST}{cure.text}"
    calculates = installed is not None and installed.calculated in STANDS
    return f"{LOOK_FIRST if calculates else ''}{cure.text}"


def _put_link(book: _Book, camera: int, cure: LinkCure, trunks: Mapping[int, Trunk]) -> None:
    """Put down one other link as a repair."""
    search, name = book.search, book.search.cameras[camera].id
    site = search.sites[cure.found.site]
    trunk = trunks.get(cure.found.site)
    if site.is_cabinet and trunk is None and site.id not in book.served:
        return
    recorder = site if not site.is_cabinet else _recorder_of(book, site.id, trunk)
    link = chosen_link(cure.search, cure.found, recorder)
    works = works_remedies(search, cure.found.segments) + (
        works_remedies(search, trunk.works) if trunk is not None else []
    )
    own_cost = cure.cost - cure.found.works_cost
    text = "; ".join([_words(book.by_camera.get(name), cure), *pull_words(search, link)])
    number = sum(r.camera == name for r in book.repairs) + 1
    own = Remedy(
        f"{name}.{number}", cure.action, cure.kind, "link", f"L-{name}", text, own_cost, cure.invented
    )
    remedies = [
        *([trunk.remedy] if trunk is not None else []),
        *works,
        *room_remedies(search, book.containment, cure.found),
        own,
    ]
    takes: list[Resource] = [*resources_of(recorder.id, link.port)]
    takes += [(site.id, "ports")] if site.is_cabinet else []
    takes += [("spare cable", each) for each in _others_spares(cure)]
    book.repairs.append(
        Repair(
            camera=name,
            remedies=tuple(dict.fromkeys(book.put(remedies))),
            action=cure.action,
            kind=cure.kind,
            head=site.id,
            recorder=recorder.id,
            port=link.port,
            method=link.method,
            verdict=link.verdict,
            margin_percent=link.margin_percent,
            text=text,
            takes=tuple(takes),
        )
    )


def _recorder_of(book: _Book, cabinet: str, trunk: Trunk | None) -> SiteFacts:
    """Return the recorder behind a cabinet: that of its new fibre, else that of its installed uplink."""
    search = book.search
    if trunk is not None:
        return search.sites[trunk.recorder]
    behind = book.served[cabinet]
    return next((s for s in search.sites if s.id == behind), search.sites[0])


def _others_spares(cure: LinkCure) -> list[str]:
    """Return the spare cables that a link takes beside the camera's own."""
    own = {spare.id for spare in cure.search.reusable}
    return [name for name in cure.found.spares if name not in own]
