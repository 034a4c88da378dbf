"""Every way to lay one stretch of a link: cables, earths, protectors, money, and its own judgement of signal and feed."""

from functools import cached_property
from itertools import product

import numpy as np

from tests.oracle_walks import Table, Walks, taken

HOT_K = 0.00393  # copper, per kelvin from 20 °C: IEC 60028
TOLERANCE = 1e-9
EXPORTED, OWN = {"TN-S", "TN-C-S"}, {"TT"}


class Stretches(Walks):
    """Stretches on the walks of an estate, from catalogue figures and first principles."""

    def __init__(self, *given, **more):
        super().__init__(*given, **more)
        self._legs: dict[tuple, Table] = {}

    # Earths

    def earths(self, cables, feed: str, far, near: str, signal: str) -> tuple[bool, tuple[str, ...]]:
        """Whether copper may join two places, and the isolators that it then has; `far` may be a camera's row."""
        if not self.rows.buildings or not any(self.catalogue.cables[c].metallic for c in cables):
            return True, ()
        zones = [far if isinstance(far, str) else far["earth_zone"]]
        if not isinstance(far, str) and feed != "local":
            insulated = far.get("insulated")
            zones = [near] if insulated == "yes" else zones if insulated == "no" else [near, *zones]
        paths = self._paths(cables, feed)
        verdicts = [self._between(zone, near, paths) for zone in zones]
        ok = all(verdict != "no" for verdict in verdicts) and "unknown" not in verdicts
        isolator = self._isolator(signal, feed) if paths == ["coax screen"] else ()
        if isolator and len(zones) == 1 and verdicts[0] in ("no", "joined"):
            return True, isolator
        return ok, ()

    def _paths(self, cables, feed: str) -> list[str]:
        found = []
        entries = [self.catalogue.cables[c] for c in cables]
        for cable in (each for each in entries if each.metallic):
            if cable.family == "coax":
                found.append("coax screen")
            elif cable.screened or cable.family == "fibre":
                found.append("screen or armour")
        fed = self.catalogue.feeds[feed].kind in ("dc", "ac", "coax")
        return [*found, "feed"] if fed and any(c.metallic and c.family != "fibre" for c in entries) else found

    def _between(self, one: str, other: str, paths) -> str:
        if one == other:
            return "same"
        kinds = {self.earthing.get(one), self.earthing.get(other)}
        if kinds & {None, "IT"}:
            return "unknown"
        if paths and kinds & EXPORTED and kinds & OWN:
            return "no"
        return "joined" if paths else "clear"

    def _isolator(self, signal: str, feed: str) -> tuple[str, ...]:
        fit = [
            i.id
            for i in self.catalogue.items.values()
            if i.kind == "isolator" and signal in i.signals and "coax" in i.families and feed in i.passes
        ]
        return tuple(fit[:1])

    def guards(self, cables, feed: str, signal: str) -> list[str]:
        """The surge protectors of one end."""
        items = [i for i in self.catalogue.items.values() if i.kind == "protector" and feed in i.passes]
        found: list[str] = []
        for number, name in enumerate(cables):
            family = self.catalogue.cables[name].family
            if family == "fibre":
                continue
            fit = [i.id for i in items if family in i.families and bool(i.signals) == (number == 0)]
            if number == 0:
                fit = [i for i in fit if signal in self.catalogue.items[i].signals]
            found += fit[:1]
        if len(cables) == 1 and self.catalogue.feeds[feed].kind in ("dc", "ac"):
            family = self.catalogue.cables[cables[0]].family
            found += [i.id for i in items if family in i.families and not i.signals][:1]
        return found

    # One stretch

    def variants(self, stage) -> list[tuple[str, ...]]:
        """The cables of a stretch: one, or a power cable beside it."""
        method, listed = self.catalogue.methods[stage.method], self.settings.design.cables
        signal, power = (
            [c for c in cables if not self.catalogue.cables[c].legacy and (not listed or c in listed)]
            for cables in (method.signal_cables, method.power_cables)
        )
        return (
            [(c,) for c in signal]
            if not method.power_cables or stage.feed == "local"
            else list(product(signal, power))
        )

    def legs(self, scheme, k: int, camera: dict, site: dict) -> Table:
        """Every way to lay stretch k of a scheme: courses × cables, with money, shares and ohms; `ok` by its own limits."""
        last = k == len(scheme.stages) - 1
        near_port = k > 0 and scheme.stops[k - 1].by_port
        far_port = not last and scheme.stops[k].by_port
        near_housed = k > 0 and self._unfed(scheme, k - 1)
        far_housed = not last and self._unfed(scheme, k)
        where = near_port, far_port, near_housed, far_housed
        key = (scheme.stages[k], k == 0, *where, site["id"], camera["id"] if last else None)
        if key not in self._legs:
            table = self.table
            begins = {site["id"]} if k == 0 else self.stands[near_housed]
            ends = {camera["id"]} if last else self.stands[far_housed]
            rows = np.flatnonzero(
                np.isin(table["start"], [self.node[n] for n in begins])
                & np.isin(table["end"], [self.node[n] for n in ends])
            )
            parts = [
                self._leg(
                    scheme.stages[k],
                    number,
                    taken(table, rows),
                    camera,
                    site,
                    (k == 0 or near_port, far_port, last),
                    k == 0,
                )
                for number in range(len(self.variants(scheme.stages[k])))
            ]
            if not parts:
                return {}
            self._legs[key] = {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}
        return self._legs[key]

    def _unfed(self, scheme, k: int) -> bool:
        """Whether what stands between two stretches needs no mains there: a port feeds it, or it is metal and plastic."""
        if scheme.stops[k].by_port:
            return True
        there = (*scheme.stages[k].at_camera, *scheme.stops[k].items, *scheme.stages[k + 1].at_head)
        return all(i.startswith(("balun-passive", "balun-video-power", "connector-")) for i in there)

    def _leg(self, stage, number: int, table: Table, camera: dict, site: dict, ends, first: bool) -> Table:
        cables = self.variants(stage)[number]
        lengths, last = self.settings.lengths, ends[2]
        usable = self._fit(cables, table) & ((table["kind"] == "") | (table["kind"] == cables[0]))
        may, isolators = self._ends(cables, stage, table, camera, site, ends)
        table = taken(table, usable & may)
        isolators = isolators[usable & may]
        heights = (float(site.get("height_m") or 0) if first else 0.0) + (
            float(camera.get("height_m") or 0) if last else 0.0
        )
        longer = 1 + lengths.slack_percent / 100
        whole_m = (table["way_m"] + heights) * longer + 2 * lengths.end_m
        new_m = np.where(table["whole"], 0.0, np.maximum(whole_m - table["spare_way_m"] * longer, 0.0))
        signal_m = new_m + table["spare_m"]
        guards = self.guards(cables, stage.feed, stage.signal)
        items = [self.catalogue.items[i] for i in guards]
        isolating = self._isolator(stage.signal, stage.feed)
        waste = 1 + lengths.waste_percent / 100
        family = [self.catalogue.cables[c].family for c in cables]
        money = new_m * waste * self.rate("cable_m", cables[0]) + table["pull_new"]
        money = money + 2 * table["pieces"] * self.rate("termination", family[0])
        if len(cables) > 1:
            money = money + whole_m * waste * self.rate("cable_m", cables[1]) + table["pull_all"]
            money = money + 2 * self.rate("termination", family[1])
        money = money + sum(self.item_money(i) for i in (*stage.at_head, *stage.at_camera))
        money = money + table["outdoors"] * 2 * sum(self.item_money(i) for i in guards)
        money = money + isolators * sum(self.item_money(i) for i in isolating)
        extra = table["extra_m"] * longer * waste * sum(self.rate("cable_m", c) for c in cables)
        extra = extra + table["extra_pull"] * len(cables)
        ok, share = self._signal(stage, cables, signal_m, table, items, isolators)
        carried_m = whole_m if len(cables) > 1 else signal_m
        designed = self.settings.design.discouraged
        return {
            "start": table["start"],
            "end": table["end"],
            "course": table["course"],
            "variant": np.full(len(whole_m), number),
            "works": table["works"],
            "twice": table["twice"],
            "taken": table["taken"],
            "money": money + extra,
            "metres": new_m + (whole_m if len(cables) > 1 else 0.0),
            "share": share,
            "ohm": self._ohm(stage, cables, carried_m, table["hot"]),
            "ok": ok,
            "disc": np.full(len(whole_m), bool({stage.method, *cables} & set(designed))),
        }

    def _fit(self, cables, table: Table) -> np.ndarray:
        """Whether these cables may lie on every segment of a course, and come out of buildings soon enough."""
        barred = []
        for name in self.names:
            row = self.route[name]
            fit = all(self._stands(c, row) for c in cables)
            hazard = row["environment"] == "hazardous"
            barred.append(
                row.get("use") == "forbidden" or (row.get("use") != "preferred" if hazard else not fit)
            )
        fit = table["passed"] @ np.array(barred) == 0
        for name in cables:
            limit_m = self.figure(self.catalogue.cables[name], "indoor_max_m")
            if not np.isnan(limit_m):
                fit &= [self._indoors_m(name, int(c)) <= limit_m + TOLERANCE for c in table["course"]]
        return fit

    def _stands(self, name: str, row: dict) -> bool:
        """Whether a cable stands an environment; one that isn't for indoors goes in as far as it may."""
        cable = self.catalogue.cables[name]
        if row["environment"] in cable.figures["fit"].value:
            return True
        limit_m = self.figure(cable, "indoor_max_m")
        inside = row["environment"] in ("indoor", "riser")
        return inside and not np.isnan(limit_m) and self.from_outside_m[row["id"]] <= limit_m + TOLERANCE

    @cached_property
    def from_outside_m(self) -> dict[str, float]:
        """How far the far end of each route indoors is from where one comes in: by every route again until none is nearer."""
        rows = self.rows.routes
        inside = [row for row in rows if row["environment"] in ("indoor", "riser")]
        begins = {end for row in rows if row not in inside for end in (row["_a"], row["_b"])}
        far = {name: 0.0 if name in begins else np.inf for name in self.point}
        for _ in rows:
            for row in inside:
                for a, b in ((row["_a"], row["_b"]), (row["_b"], row["_a"])):
                    if a in self.passing or a in begins:
                        far[b] = min(far[b], far[a] + row["length_m"])
        return {row["id"]: min(far[row["_a"]], far[row["_b"]]) + row["length_m"] for row in inside}

    def _indoors_m(self, name: str, course: int) -> float:
        """The longest that a cable runs on a course through places that its sheath isn't for, without coming out."""
        longest = here = 0.0
        for segment in self.courses[course].segments:
            row = self.route[segment]
            unfit = row["environment"] not in self.catalogue.cables[name].figures["fit"].value
            here = here + row["length_m"] if unfit else 0.0
            longest = max(longest, here)
        return longest

    def _ends(
        self, cables, stage, table: Table, camera: dict, site: dict, ends
    ) -> tuple[np.ndarray, np.ndarray]:
        """Whether the earths of both ends allow a stretch, and how many isolators it has."""
        near_site, far_site, last = ends
        known = {}
        for start, end in set(zip(table["start"].tolist(), table["end"].tolist(), strict=True)):
            names = sorted(self.point)
            near = self._zone(site["id"] if near_site else names[start])
            far = camera if last else self._zone(site["id"] if far_site else names[end])
            known[start, end] = self.earths(cables, stage.feed, far, near, stage.signal)
        found = [known[pair] for pair in zip(table["start"].tolist(), table["end"].tolist(), strict=True)]
        return np.array([f[0] for f in found], dtype=bool), np.array([len(f[1]) for f in found], dtype=int)

    def _zone(self, name: str) -> str:
        return self.point[name].get("earth_zone") or ""

    # The signal

    def figure(self, entry, name: str) -> float:
        found = entry.figures.get(name)
        return float(found.value) if found is not None else float("nan")

    def rule(self, subject: str, name: str) -> float:
        return float(self.catalogue.rules[subject][name].value)

    def ambient_c(self, hot: np.ndarray) -> np.ndarray:
        ambient_c = self.settings.limits.ambient_c
        return np.where(hot, max(ambient_c, self.rule("ambient", "aerial_c")), ambient_c)

    def _signal(
        self, stage, cables, signal_m, table: Table, guards, isolators
    ) -> tuple[np.ndarray, np.ndarray]:
        """Whether stretches keep the limits of their signal, and the share of its reach that each takes."""
        signal, method = self.catalogue.signals[stage.signal], self.catalogue.methods[stage.method]
        cable = self.catalogue.cables[cables[0]]
        profile = self.settings.limits.profile
        nothing = np.zeros(len(signal_m))
        good, bad = table["good"], table["bad"]
        if cable.family == "fibre":
            return self._fibre(method, cable, signal_m, good) & (bad == 0), nothing
        guard_db = table["outdoors"] * 2 * sum(np.nan_to_num(self.figure(i, "loss_db")) for i in guards)
        own = self.figure(method, f"reach_{profile}_m")
        counted_m = signal_m + 50 * bad  # joint bad or unknown: 50 m of trade reach, common practice
        if not np.isnan(own):
            return counted_m <= own + TOLERANCE, counted_m / own
        if signal.kind == "ethernet":
            return self._channel(cable, signal_m, table["hot"]) & (good + bad == 0), nothing
        if signal.kind == "analogue":
            reach = signal.reach.get(cable.reach_class, {}).get(profile)
            reach_m = float(reach.value) if reach else -1.0
            return counted_m <= reach_m + TOLERANCE, counted_m / reach_m
        ends_db = sum(
            np.nan_to_num(self.figure(self.catalogue.items[i], "loss_db"))
            for i in (*stage.at_head, *stage.at_camera)
        )
        fixed_db = ends_db + guard_db
        joints_db = good * self.figure(self.catalogue.items[f"joint-{cable.family}"], "loss_db")
        limit_db = self.figure(signal, "loss_limit_db")
        each_m = self._db_per_m(cable, self.figure(signal, "reference_mhz"), table["hot"])
        run_db = signal_m * each_m + joints_db
        return (run_db + fixed_db <= limit_db + TOLERANCE) & (bad == 0), run_db / (limit_db - fixed_db)

    def _db_per_m(self, cable, mhz: float, hot: np.ndarray) -> np.ndarray:
        """Attenuation as its three figures say, 0.2 % more per kelvin where screened (TIA-568-C.2, 6.4.7)."""
        if not self.figure(cable, "attenuation_from_mhz") <= mhz <= self.figure(cable, "attenuation_to_mhz"):
            return np.full(len(hot), np.nan)
        a, b, c = (np.nan_to_num(self.figure(cable, f"attenuation_{name}")) for name in "abc")
        at_20 = (a * mhz**0.5 + b * mhz + c / mhz**0.5) / 100
        return at_20 * self._longer_by_heat(cable, hot)

    def _longer_by_heat(self, cable, hot: np.ndarray) -> np.ndarray:
        above = np.maximum(self.ambient_c(hot) - 20, 0)
        return 1 + (0.002 if cable.screened else 0.004) * above  # up to 40 °C

    def _channel(self, cable, signal_m, hot) -> np.ndarray:
        """Fixed part 90 m, channel 100 m with cords (ISO/IEC 11801, TIA-568): less when hot."""
        fixed_m = 90 / self._longer_by_heat(cable, hot)
        cords_m = self.settings.lengths.cords_m
        return (signal_m <= fixed_m + TOLERANCE) & (signal_m + cords_m <= fixed_m + 10 + TOLERANCE)

    def _fibre(self, method, cable, signal_m, good) -> np.ndarray:
        application = self.catalogue.applications[method.applications[cable.id]]
        each_km = self.figure(cable, f"loss_{application.wavelength_nm}_db_per_km")
        loss_db = signal_m * each_km / 1000 + 2 * 0.75 + good * 0.3  # connectors and splices: TIA-568.3
        return (loss_db <= self.figure(application, "loss_db") + TOLERANCE) & (
            signal_m <= self.figure(application, "reach_m") + TOLERANCE
        )

    # The feed

    def _ohm(self, stage, cables, carried_m, hot) -> np.ndarray:
        """Loop of a stretch's feed."""
        feed, method = self.catalogue.feeds[stage.feed], self.catalogue.methods[stage.method]
        cable = self.catalogue.cables[cables[-1]]
        warm = 1 + HOT_K * np.maximum(self.ambient_c(hot) - 20, 0)
        if feed.kind == "local":
            return np.zeros(len(carried_m))
        each = self.figure(cable, "conductor_ohm_per_km") / 1000
        if feed.kind == "coax":
            return carried_m * (each + self.figure(cable, "screen_ohm_per_km") / 1000) * warm
        if feed.kind == "poe":  # two conductors each way per pair set, the cords too
            each_way = 2 * self.figure(feed, "pair_sets")
            cords = self.settings.lengths.cords_m * self.rule("poe", "cord_ohm_per_km") / 1000
            return (carried_m * each + cords) * 2 / each_way * warm
        return carried_m * each * (1 / method.power_out + 1 / method.power_back) * warm

    def feed_ok(self, scheme, camera: dict, site: dict, before: np.ndarray, ohm: np.ndarray) -> np.ndarray:
        """Whether a camera has what it needs over loops: that before an extender, and that of its own feed."""
        feed = self.catalogue.feeds[scheme.feed]
        night = float(camera["load_night_w"])
        loads = {float(camera["load_w"]), night}
        if feed.kind == "local":
            return np.ones(len(ohm), dtype=bool)
        if feed.kind == "poe":
            own_w = 2.5 if scheme.extended else 0.0
            return np.all([self._poe(feed, load, own_w, before, ohm) for load in loads], axis=0)
        own_w = sum(
            np.nan_to_num(self.figure(self.catalogue.items[i], "own_w")) for i in scheme.stages[-1].at_camera
        )
        nominal = self.figure(feed, "source_volts")
        if feed.kind == "coax" and camera.get("volts"):
            nominal = float(camera["volts"])
        least, greatest = self._supply(scheme, site, nominal)
        rated = float(camera.get("volts") or nominal)
        floor = float(camera.get("volts_min") or self.rule("camera", "volts_min_factor") * rated)
        ceiling = float(camera.get("volts_max") or self.rule("camera", "volts_max_factor") * rated)
        ok = np.ones(len(ohm), dtype=bool)
        allowed_w, head_w = self._rating(scheme)
        for load in loads:
            volts = working_point(least, load + own_w, ohm)
            ok &= np.nan_to_num(volts, nan=-1.0) >= floor - TOLERANCE
            ok &= (load + own_w) / np.nan_to_num(volts, nan=1e-9) * least + head_w <= allowed_w + TOLERANCE
        most = working_point(greatest, float(camera["load_w"]), ohm)
        return ok & (np.nan_to_num(most, nan=greatest) <= ceiling + TOLERANCE)

    def _rating(self, scheme) -> tuple[float, float]:
        """What a supply on the way may give, and what the end of the stretch behind it takes of that."""
        if scheme.source == 0:
            return np.inf, 0.0
        items = self.catalogue.items
        rated_w = [
            self.figure(items[i], "watts")
            for i in scheme.stops[scheme.source - 1].items
            if items[i].kind == "supply"
        ]
        own_w = [self.figure(items[i], "own_w") for i in scheme.stages[scheme.source].at_head]
        return rated_w[0] * self.settings.limits.supply_percent / 100, float(np.nansum(own_w))

    def _supply(self, scheme, site: dict, nominal: float) -> tuple[float, float]:
        """Least and greatest volts: of the poorest supply at the head, else as rated."""
        feed = self.catalogue.feeds[scheme.feed]
        here = [
            row
            for row in self.rows.supplies
            if scheme.source == 0 and row["at"] == site["id"] and float(row["volts"]) == nominal
            and row["kind"] == ("ac" if feed.kind == "ac" else "dc")
        ]  # fmt: skip
        if not here:
            return nominal, nominal
        poorest = min(here, key=lambda row: float(row["volts_min"]))
        return float(poorest["volts_min"]), float(poorest["volts_max"])

    def _poe(self, feed, load_w: float, own_w: float, before, ohm) -> np.ndarray:
        """IEEE 802.3: watts and volts at the device, watts at the port; Kirchhoff's laws by sweeping to and fro.

        From the port's volts everywhere, currents and volts are worked out in turn; volts only fall, to the highest
        working point. Below the least volts of a device the sweep needn't go on.
        """
        port_v, floor = self.figure(feed, "pse_volts_min"), self.figure(feed, "device_volts_min")
        middle = np.full(len(ohm), port_v)
        device = middle.copy()
        for _ in range(500):
            device_a = load_w / device
            port_a = device_a + own_w / middle
            middle_next = port_v - port_a * before
            device_next = middle_next - device_a * ohm
            moved = np.abs(device - device_next).max(initial=0.0)
            middle, device = np.maximum(middle_next, 1.0), np.maximum(device_next, 1.0)
            if moved < 1e-12:
                break
        port_w = port_v * (load_w / device + own_w / middle)
        ok = (device >= floor - TOLERANCE) & (port_w <= self.figure(feed, "pse_w") + TOLERANCE)
        return ok & (load_w <= self.figure(feed, "device_w") + TOLERANCE)


def working_point(source_v: float, load_w: float, loop_ohm: np.ndarray) -> np.ndarray:
    """V = (Vs + √(Vs² - 4·P·R))/2, NaN where there is none."""
    room = source_v**2 - 4 * load_w * loop_ohm
    return (source_v + np.sqrt(np.where(room >= 0, room, np.nan))) / 2
