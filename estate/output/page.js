"use strict";
(() => {
  const map = document.getElementById("map");
  const card = document.getElementById("card");
  const tables = [...document.querySelectorAll("section.table table")];
  const order = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
  const keysOf = (element) => (element.dataset.r ? element.dataset.r.split(";") : []);
  const make = (name, text) => {
    const element = document.createElement(name);
    if (text !== undefined) element.textContent = text;
    return element;
  };

  // Rows by what they are about; read once, when first asked for.
  let index = null;
  const rowsOf = (key) => {
    if (!index) {
      index = new Map();
      for (const row of document.querySelectorAll("tr[data-r]")) {
        for (const each of keysOf(row)) {
          if (!index.has(each)) index.set(each, []);
          index.get(each).push(row);
        }
      }
    }
    return index.get(key) || [];
  };
  const heads = (table) => [...table.tHead.rows[0].cells];
  const cellOf = (row, column) => {
    const place = heads(row.closest("table")).findIndex((head) => head.dataset.c === column);
    return place < 0 ? null : row.cells[place];
  };
  const idsIn = (cell) => {
    if (!cell) return [];
    const folded = cell.querySelector("details");
    const text = folded ? folded.lastChild.textContent : cell.textContent;
    return text.split(";").map((name) => name.trim()).filter(Boolean);
  };
  const inTable = (rows, name) => rows.filter((row) => row.closest("table").dataset.name === name);

  // Choosing: the address says what is chosen, so that back and forward work.
  const hashOf = (key) => {
    const [kind, name] = [key.slice(0, key.indexOf(":")), key.slice(key.indexOf(":") + 1)];
    return `#${kind}=${encodeURIComponent(name)}`;
  };
  const chosenKey = () => {
    const found = /^#(point|link|segment|finding)=(.+)$/.exec(location.hash);
    if (!found) return null;
    try {
      return `${found[1]}:${decodeURIComponent(found[2])}`;
    } catch {
      return null;
    }
  };
  const choose = (key) => {
    if (location.hash === hashOf(key)) show();
    else location.hash = hashOf(key);
  };

  // What belongs to a choice: a camera and its link, a segment and the links that pass it, a finding and its subject.
  const gathered = (key) => {
    const kind = key.slice(0, key.indexOf(":"));
    const own = rowsOf(key);
    const keys = new Set([key]);
    const also = [];
    if (kind === "point") {
      for (const row of inTable(own, "links")) {
        if (idsIn(cellOf(row, "camera")).includes(key.slice(6))) keys.add(`link:${idsIn(cellOf(row, "link"))[0]}`);
      }
    }
    if (kind === "link") {
      for (const row of inTable(own, "links")) for (const name of idsIn(cellOf(row, "camera"))) keys.add(`point:${name}`);
    }
    if (kind === "segment") {
      for (const row of inTable(own, "segments")) {
        for (const name of idsIn(cellOf(row, "links"))) also.push(...inTable(rowsOf(`link:${name}`), "links"));
      }
    }
    if (kind === "finding") {
      for (const row of inTable(own, "findings")) {
        for (const each of keysOf(row).filter((each) => each !== key)) also.push(...inTable(rowsOf(each), each.startsWith("segment") ? "segments" : "links"));
      }
    }
    const rows = new Set([...keys].flatMap(rowsOf));
    also.forEach((row) => rows.add(row));
    return { keys, rows: [...rows] };
  };

  const linked = (cell) => {
    if (!cell.querySelector("details")) return;
    const names = idsIn(cell);
    cell.replaceChildren();
    names.forEach((name, place) => {
      const link = make(cell.dataset.k ? "a" : "span", name);
      if (cell.dataset.k) link.href = hashOf(`${cell.dataset.k}:${name}`);
      cell.append(place ? "; " : "", link);
    });
  };
  const filled = (rows, columns) => columns.filter((place) => rows.some((row) => row.cells[place].textContent.trim()));
  const asList = (table, row) => {
    const list = make("dl");
    for (const place of filled([row], heads(table).map((_, k) => k))) {
      const value = make("dd");
      value.append(...[...row.cells[place].cloneNode(true).childNodes]);
      value.dataset.k = row.cells[place].dataset.k || "";
      linked(value);
      list.append(make("dt", heads(table)[place].textContent.trim()), value);
    }
    return list;
  };
  // Columns that say nothing but what was chosen are left out.
  const isChosen = (keys, rows, place) => rows.every((row) => {
    const [name, ...more] = idsIn(row.cells[place]);
    return !more.length && (keys.has(`link:${name}`) || keys.has(`point:${name}`));
  });
  const asTable = (table, rows, keys) => {
    const told = (place) => ["link", "camera"].includes(heads(table)[place].dataset.c) && isChosen(keys, rows, place);
    const columns = filled(rows, heads(table).map((_, k) => k)).filter((place) => !told(place));
    const box = make("div");
    box.className = "scroll";
    box.tabIndex = 0;
    box.setAttribute("role", "region");
    box.setAttribute("aria-label", table.dataset.title);
    const copy = make("table");
    const top = copy.createTHead().insertRow();
    for (const place of columns) {
      const head = make("th", heads(table)[place].textContent.trim());
      head.scope = "col";
      head.className = heads(table)[place].className;
      top.append(head);
    }
    const body = copy.createTBody();
    for (const row of rows) {
      const made = body.insertRow();
      for (const place of columns) {
        const cell = row.cells[place].cloneNode(true);
        linked(cell);
        made.append(cell);
      }
    }
    box.append(copy);
    return box;
  };
  const named = { point: "", link: "Link ", segment: "Segment ", finding: "Finding " };
  const headingOf = (key) => {
    const kind = key.slice(0, key.indexOf(":"));
    const thing = things.get(key);
    if (kind === "point" && thing) return thing.querySelector("title").textContent;
    return named[kind] + key.slice(key.indexOf(":") + 1);
  };

  const things = new Map();
  if (map) for (const element of map.querySelectorAll(".thing")) things.set(element.dataset.r, element);

  const show = () => {
    document.querySelectorAll(".on, .way").forEach((element) => element.classList.remove("on", "way"));
    const key = chosenKey();
    card.classList.toggle("none", !key);
    if (!key) {
      card.replaceChildren(make("h3", "Nothing chosen"), make("p", "Choose a camera, a segment or a finding on the plan, or follow an id in a table."));
      return;
    }
    const { keys, rows } = gathered(key);
    const title = make("h3", headingOf(key));
    title.tabIndex = -1;
    const tools = make("p");
    tools.className = "tools";
    const away = make("button", "Clear the choice");
    away.type = "button";
    away.addEventListener("click", () => { location.hash = "#plan"; });
    tools.append(away);
    if (rows.length && things.has([...keys].find((each) => things.has(each)))) {
      const near = make("button", "Zoom to it");
      near.type = "button";
      near.addEventListener("click", () => zoomTo(keys));
      tools.append(near);
    }
    card.replaceChildren(title, tools);
    if (!rows.length) card.append(make("p", "Nothing in the tables is about it."));
    const first = { point: "links", link: "links", segment: "segments", finding: "findings" }[key.slice(0, key.indexOf(":"))];
    for (const table of [...tables].sort((a, b) => (b.dataset.name === first) - (a.dataset.name === first))) {
      const own = rows.filter((row) => row.closest("table") === table);
      if (!own.length) continue;
      const top = make("h4");
      const up = make("a", table.dataset.title);
      up.href = `#${table.dataset.name}`;
      top.append(up);
      const wide = ["links", "segments", "findings", "recorders", "cabinets"].includes(table.dataset.name);
      card.append(top, own.length === 1 && wide ? asList(table, own[0]) : asTable(table, own, keys));
      own.forEach((row) => row.classList.add("on"));
    }
    const touched = (row) => key.startsWith("finding:") || keysOf(row).some((each) => keys.has(each) && each.startsWith("link:"));
    const passed = inTable(rows, "links").filter(touched);
    for (const row of passed) for (const name of idsIn(cellOf(row, "segments"))) things.get(`segment:${name}`)?.classList.add("way");
    for (const each of keys) things.get(each)?.classList.add("on");
    card.scrollTop = 0;
    document.getElementById("plan").scrollIntoView();
    title.focus({ preventScroll: true });
  };
  // What an address names is opened where it is folded.
  const unfold = () => {
    const named = /^#[\w-]+$/.test(location.hash) ? document.getElementById(location.hash.slice(1)) : null;
    const folded = named && named.closest("details.folded");
    if (!folded || folded.open) return;
    folded.open = true;
    named.scrollIntoView();
  };
  window.addEventListener("hashchange", unfold);
  window.addEventListener("hashchange", () => { if (location.hash.includes("=") || location.hash === "#plan" || !location.hash) show(); });

  // The plan: pan and zoom by its view box.
  let box, whole;
  let pixel = 0; // metres on the plan
  const symbols = map ? Math.max(1, map.querySelectorAll("g.thing").length) : 1;
  const draw = () => {
    map.setAttribute("viewBox", box.map((value) => value.toFixed(3)).join(" "));
    scale();
  };
  const scale = () => {
    const place = map.getBoundingClientRect();
    if (!place.width || !place.height) return;
    const k = Math.max(box[2] / place.width, box[3] / place.height);
    // how far apart symbols lie on the screen says how large they may be, and what can be written beside them
    const apart = Math.sqrt((whole[2] * whole[3]) / symbols) / k;
    map.style.setProperty("--k", (k * Math.min(1, Math.max(0.4, apart / 28))).toFixed(5));
    map.classList.toggle("far", apart < 28);
    map.classList.toggle("close", apart > 110);
    if (Math.abs(k - pixel) > 1e-9) laidOut(k, parseFloat(map.style.getPropertyValue("--k")) / k);
    pixel = k;
  };

  // Findings and names where nothing else lies, anew for each scale. Boxes are on the screen, from the plan's corner.
  const marks = map ? [...map.querySelectorAll("g.finding")].reverse() : []; // the gravest first
  const names = map ? [...map.querySelectorAll("g.names")] : [];
  const dots = map ? [...map.querySelectorAll("g.camera, g.point")] : [];
  const CELL = 32;
  const room = () => {
    const cells = new Map();
    const cellsOf = ([x, y, w, h]) => {
      const found = [];
      for (let i = Math.floor((x - w) / CELL); i <= Math.floor((x + w) / CELL); i += 1) {
        for (let j = Math.floor((y - h) / CELL); j <= Math.floor((y + h) / CELL); j += 1) found.push(`${i} ${j}`);
      }
      return found;
    };
    return {
      take: (box) => cellsOf(box).forEach((cell) => cells.set(cell, [...(cells.get(cell) || []), box])),
      free: (box) => cellsOf(box).every((cell) => (cells.get(cell) || []).every(
        ([x, y, w, h]) => Math.abs(x - box[0]) >= w + box[2] || Math.abs(y - box[1]) >= h + box[3])),
    };
  };
  // Places of a mark about its spot [px]: above it, then around, ring by ring.
  const PLACES = [[0, -15]];
  for (const ring of [19, 33, 47, 61, 75]) {
    for (const turn of [0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6]) {
      PLACES.push([ring * Math.sin((turn * Math.PI) / 6), -ring * Math.cos((turn * Math.PI) / 6)]);
    }
  }
  const seats = new Map(); // how far a finding's mark lies from its spot, on the plan
  const laidOut = (k, size) => {
    const taken = room();
    for (const dot of dots) taken.take([...spot(dot).map((each) => each / k), 4 * size, 4 * size]);
    for (const mark of marks) {
      const [x, y] = spot(mark).map((each) => each / k);
      const box = ([right, down]) => [x + right * size, y + down * size, 9.5 * size, 8.5 * size];
      const [right, down] = PLACES.find((place) => taken.free(box(place))) || PLACES[0];
      taken.take(box([right, down]));
      mark.querySelector(".mark").setAttribute("transform", `translate(${right.toFixed(1)} ${down.toFixed(1)})`);
      mark.querySelector(".lead").setAttribute("d", Math.hypot(right, down) > 25 ? `M0 0L${right.toFixed(1)} ${down.toFixed(1)}` : "");
      seats.set(mark, [right * size * k, down * size * k]);
    }
    for (const name of names) {
      const [x, y] = spot(name).map((each) => each / k);
      const [above, below] = name.dataset.room.split(" ").map((each) => Number(each) / k);
      const text = name.querySelector("text");
      const wide = text.textContent.length * 3.3 * size;
      const box = (down) => [x, y + down - 4 * size, wide, 6 * size];
      const down = [0, -above - 4 * size, below + 12 * size].find((each) => taken.free(box(each)));
      name.classList.toggle("hidden", down === undefined);
      if (down === undefined) continue;
      taken.take(box(down));
      text.setAttribute("y", (down / size).toFixed(1));
    }
  };
  const zoom = (factor, x = box[0] + box[2] / 2, y = box[1] + box[3] / 2) => {
    const held = Math.min(Math.max(box[2] * factor, whole[2] / 400), whole[2] * 3) / box[2];
    box = [x - (x - box[0]) * held, y - (y - box[1]) * held, box[2] * held, box[3] * held];
    draw();
  };
  const pan = (right, down) => {
    box = [box[0] + right * box[2], box[1] + down * box[3], box[2], box[3]];
    draw();
  };
  const fit = () => { box = [...whole]; draw(); };
  const zoomTo = (keys) => {
    const shapes = [...map.querySelectorAll(".way"), ...[...keys].map((key) => things.get(key)).filter(Boolean)];
    if (!shapes.length) return;
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (const shape of shapes) {
      const [x, y] = spot(shape);
      const bounds = shape.tagName === "path" ? shape.getBBox() : { x, y, width: 0, height: 0 };
      [x0, y0] = [Math.min(x0, bounds.x), Math.min(y0, bounds.y)];
      [x1, y1] = [Math.max(x1, bounds.x + bounds.width), Math.max(y1, bounds.y + bounds.height)];
    }
    const side = Math.max(x1 - x0, (y1 - y0) * (whole[2] / whole[3]), whole[2] / 40) * 1.4;
    const height = (side * whole[3]) / whole[2];
    box = [(x0 + x1 - side) / 2, (y0 + y1 - height) / 2, side, height];
    draw();
  };
  const spot = (thing) => {
    const moved = /translate\(([-\d.e]+) ([-\d.e]+)\)/.exec(thing.getAttribute("transform") || "");
    if (moved) return [Number(moved[1]), Number(moved[2])];
    const bounds = thing.getBBox();
    return [bounds.x + bounds.width / 2, bounds.y + bounds.height / 2];
  };
  // What lies under the pointer, or within a few pixels: thin lines are hard to hit.
  const under = (x, y) => {
    for (const reach of [0, 4, 8]) {
      for (let turn = 0; turn < (reach ? 8 : 1); turn += 1) {
        const angle = (turn * Math.PI) / 4;
        const hit = document.elementFromPoint(x + reach * Math.cos(angle), y + reach * Math.sin(angle));
        const thing = hit && map.contains(hit) ? hit.closest(".thing") : null;
        if (thing) return thing;
      }
    }
    return null;
  };

  const touches = new Map();
  let moved = false;
  const spread = () => {
    const [a, b] = [...touches.values()];
    return Math.hypot(a.x - b.x, a.y - b.y);
  };
  const toPlan = (x, y) => {
    const point = new DOMPoint(x, y).matrixTransform(map.getScreenCTM().inverse());
    return [point.x, point.y];
  };
  const planEvents = () => {
    map.addEventListener("wheel", (event) => {
      event.preventDefault();
      zoom(Math.exp(event.deltaY * 0.0015), ...toPlan(event.clientX, event.clientY));
    }, { passive: false });
    map.addEventListener("pointerdown", (event) => {
      touches.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (touches.size === 1) moved = false;
    });
    map.addEventListener("pointermove", (event) => {
      const before = touches.get(event.pointerId);
      if (!before) return;
      const step = [event.clientX - before.x, event.clientY - before.y];
      if (!moved && touches.size === 1 && Math.hypot(...step) < 5) return;
      if (!moved) map.setPointerCapture(event.pointerId);
      moved = true;
      map.classList.add("dragged");
      const old = touches.size === 2 ? spread() : 0;
      touches.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (touches.size === 2) {
        const [a, b] = [...touches.values()];
        zoom(old / Math.max(spread(), 1), ...toPlan((a.x + b.x) / 2, (a.y + b.y) / 2));
      } else {
        box = [box[0] - step[0] * pixel, box[1] - step[1] * pixel, box[2], box[3]];
        draw();
      }
    });
    const lift = (event) => {
      touches.delete(event.pointerId);
      map.classList.remove("dragged");
    };
    map.addEventListener("pointerup", lift);
    map.addEventListener("pointercancel", lift);
    map.addEventListener("pointerleave", (event) => { if (!moved) lift(event); });
    map.addEventListener("click", (event) => {
      if (moved) return;
      const thing = under(event.clientX, event.clientY);
      if (thing) choose(thing.dataset.r);
    });
    map.addEventListener("keydown", planKey);
    map.addEventListener("focusin", (event) => {
      const thing = event.target.closest(".thing");
      if (!thing) return;
      map.querySelector('.thing[tabindex="0"]')?.setAttribute("tabindex", "-1");
      thing.setAttribute("tabindex", "0");
    });
    document.getElementById("tools").addEventListener("click", (event) => {
      const act = { in: () => zoom(0.6), out: () => zoom(1 / 0.6), fit }[event.target.dataset.act];
      if (act) act();
    });
    document.getElementById("tools").addEventListener("change", (event) => {
      map.classList.toggle(`no-${event.target.dataset.layer}`, !event.target.checked);
    });
    window.addEventListener("resize", scale);
  };
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const planKey = (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const thing = event.target.closest(".thing");
    const way = ways[event.key];
    if (event.key === "+" || event.key === "=") zoom(0.6);
    else if (event.key === "-") zoom(1 / 0.6);
    else if (event.key === "0") fit();
    else if (event.key === "Escape" && thing) map.focus();
    else if (way && thing) next(thing, way)?.focus();
    else if (way) pan(way[0] * 0.15, way[1] * 0.15);
    else if ((event.key === "Enter" || event.key === " ") && thing) choose(thing.dataset.r);
    else if (event.key === "Enter") (map.querySelector('.thing[tabindex="0"]') || map.querySelector("g.camera") || map.querySelector(".thing"))?.focus();
    else return;
    event.preventDefault();
  };
  // The nearest thing on the plan in a direction.
  const next = (thing, way) => {
    const seat = (each) => spot(each).map((place, k) => place + (seats.get(each) || [0, 0])[k]);
    const [x, y] = seat(thing);
    let [best, least] = [null, Infinity];
    for (const other of map.querySelectorAll("g.thing")) {
      const [dx, dy] = seat(other).map((place, k) => place - [x, y][k]);
      const along = dx * way[0] + dy * way[1];
      const aside = Math.abs(dx * way[1] - dy * way[0]);
      const far = along + 2 * aside;
      if (other !== thing && other.getClientRects().length && along > 0 && aside <= along && far < least) [best, least] = [other, far];
    }
    return best;
  };

  // Tables: sorting by heads, filtering by words.
  const numberIn = (text) => (text === "" ? NaN : Number(text.replaceAll(",", "")));
  const sorted = (table, place, down) => {
    const rows = [...table.tBodies[0].rows].map((row) => [row, row.cells[place].textContent.trim()]);
    const isNumber = heads(table)[place].classList.contains("n");
    rows.sort(([, a], [, b]) => {
      if (!a || !b) return (a ? 0 : 1) - (b ? 0 : 1); // blanks last either way
      const by = isNumber ? numberIn(a) - numberIn(b) : order.compare(a, b);
      return down ? -by : by;
    });
    table.tBodies[0].append(...rows.map(([row]) => row));
  };
  const sortBy = (head) => {
    const table = head.closest("table");
    const down = head.getAttribute("aria-sort") === "ascending";
    heads(table).forEach((each) => each.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    sorted(table, head.cellIndex, down);
    told(table.closest("section"));
  };
  const texts = new WeakMap();
  const textOf = (row) => {
    if (!texts.has(row)) texts.set(row, [...row.cells].map((cell) => cell.textContent).join("\t").toLowerCase());
    return texts.get(row);
  };
  // A long table shows its first rows; all of them when asked, and on paper.
  const FEW = Number(document.body.dataset.few);
  const opened = new WeakSet();
  const told = (section) => {
    const rows = [...section.querySelector("tbody").rows];
    const kept = rows.filter((row) => !row.hidden);
    const most = opened.has(section) ? Infinity : FEW;
    kept.forEach((row, place) => row.classList.toggle("more", place >= most));
    const count = kept.length < rows.length ? `${kept.length} of ${rows.length} rows` : `${rows.length} rows`;
    section.querySelector("output").textContent = kept.length > most ? `${count}, the first ${FEW} shown` : count;
    section.querySelector(".all").hidden = kept.length <= most;
  };
  const filter = (input) => {
    const section = input.closest("section");
    const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const row of section.querySelector("tbody").rows) {
      row.hidden = !words.every((word) => textOf(row).includes(word));
    }
    told(section);
  };
  document.querySelector("main").addEventListener("click", (event) => {
    const button = event.target.closest("th button");
    if (button) sortBy(button.closest("th"));
    if (event.target.classList.contains("all")) {
      opened.add(event.target.closest("section"));
      told(event.target.closest("section"));
    }
  });
  let waiting;
  document.querySelector("main").addEventListener("input", (event) => {
    if (event.target.type !== "search") return;
    clearTimeout(waiting);
    waiting = setTimeout(filter, 120, event.target);
  });

  // On paper all that is folded in a row is open and the whole plan is shown.
  let kept = null;
  window.addEventListener("beforeprint", () => {
    document.querySelectorAll("td details").forEach((each) => { each.open = true; });
    if (map) [kept] = [box, fit()];
  });
  window.addEventListener("afterprint", () => {
    document.querySelectorAll("td details").forEach((each) => { each.open = false; });
    if (map && kept) { box = kept; draw(); }
  });

  if (map) {
    whole = map.getAttribute("viewBox").split(" ").map(Number);
    box = [...whole];
    planEvents();
    draw();
  }
  tables.forEach((table) => told(table.closest("section")));
  unfold();
  show();
})();
