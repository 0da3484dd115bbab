"use strict";
(() => {
const root = document.documentElement;
const byId = id => document.getElementById(id);
const listeners = []; // of a change of units

// A text in braces has one form for US and one for metric units.
const inUnits = s => s.replace(/\{([^{|}]*)\|([^{|}]*)\}/g, root.dataset.units === "us" ? "$1" : "$2");

// Units.
for (const input of document.querySelectorAll("[name=units]")) {
  input.checked = input.value === root.dataset.units;
  input.addEventListener("change", () => {
    root.dataset.units = input.value;
    for (const tell of listeners) tell();
  });
}

// Tables that sort. A figure counts with its unit; what is no figure comes last.
const worth = { "ac": 43560, "sq ft": 1, "ha": 10000, "m²": 1, "tons": 2000, "lb": 1, "t": 1000, "kg": 1 };
const textOf = cell => {
  const copy = cell.cloneNode(true);
  for (const other of copy.querySelectorAll(root.dataset.units === "us" ? ".me" : ".us")) other.remove();
  return copy.textContent.trim().replace(/\u00a0/g, " ");
};
const figureOf = text => {
  const m = text.replace(/\u2212/g, "-").match(/^[<>~+]? *([-+]?\d+(?:\.\d+)?)(?: +(ac|sq ft|ha|m²|tons|lb|t|kg)\b)?/);
  return m ? Number(m[1]) * (worth[m[2]] || 1) : NaN;
};
const nothing = text => text === "" || text === "–";
for (const table of document.querySelectorAll("table")) {
  const body = table.tBodies[0], heads = table.tHead ? [...table.tHead.rows[0].cells] : [];
  if (!body || body.rows.length < 3) continue;
  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "sort";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      for (const other of heads) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const rows = [...body.rows].map(row => {
        const text = row.cells[column] ? textOf(row.cells[column]) : "";
        return { row, text, figure: figureOf(text), last: nothing(text), rest: row.classList.contains("rest") };
      });
      const figures = rows.every(r => r.last || !Number.isNaN(r.figure));
      rows.sort((a, b) => {
        if (a.rest !== b.rest) return a.rest ? 1 : -1;
        if (a.last !== b.last) return a.last ? 1 : -1;
        const order = figures ? a.figure - b.figure : a.text.localeCompare(b.text, undefined, { numeric: true });
        return (a.last ? 0 : down ? -order : order);
      });
      body.append(...rows.map(r => r.row));
    });
  });
}

// Surfaces, unpacked when they are first needed.
const unpack = async grid => {
  const packed = Uint8Array.from(atob(grid.data), c => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  const steps = new Float64Array(grid.width * grid.height).fill(NaN);
  let at = 0, last = 0;
  for (let i = 0; i < steps.length; i++) {
    let token = 0, unit = 1;
    for (;;) {
      const byte = bytes[at++];
      token += (byte & 127) * unit;
      if (!(byte & 128)) break;
      unit *= 128;
    }
    if (token === 0) continue;
    const zigzag = token - 1, difference = zigzag % 2 ? -(zigzag + 1) / 2 : zigzag / 2;
    const column = i % grid.width, known = v => !Number.isNaN(v);
    const west = column > 0 ? steps[i - 1] : NaN, north = i >= grid.width ? steps[i - grid.width] : NaN;
    const between = column > 0 && i >= grid.width ? steps[i - grid.width - 1] : NaN;
    const expected = known(west) && known(north) && known(between) ? west + north - between : known(west) ? west : known(north) ? north : last;
    last = steps[i] = expected + difference;
  }
  return steps;
};

const canvas = document.createElement("canvas").getContext("2d");
const shapes = new Map(); // Path2D by element
const holds = (element, x, y) => {
  let path = shapes.get(element);
  if (!path) shapes.set(element, path = new Path2D(element.getAttribute("d")));
  return canvas.isPointInPath(path, x, y, "evenodd");
};

// A field: what can be read at a place on its maps.
class Field {
  constructor(figure) {
    this.id = figure.dataset.field;
    Object.assign(this, JSON.parse(figure.querySelector("script").textContent));
    for (const layer of this.layers) {
      if (!layer.grid) continue;
      let unpacked;
      layer.unpacked = () => unpacked ||= unpack(layer.grid).then(steps => { layer.steps = steps; }, () => { layer.unread = true; });
    }
  }
  layer(id) { return this.layers.find(l => l.id === id); }
  async ready(layers) { await Promise.all(layers.map(l => l.unpacked && l.unpacked())); }
  value(layer, x, y) {
    const g = layer.grid;
    const column = Math.floor((this.west + (x - this.left) / this.scale - g.west) / g.pixel);
    const row = Math.floor((g.north - this.north + (y - this.top) / this.scale) / g.pixel);
    const v = column < 0 || row < 0 || column >= g.width || row >= g.height ? NaN : layer.steps[row * g.width + column];
    return Number.isNaN(v) ? "no value here" : (v / 10 ** g.places).toFixed(g.places).replace("-", "\u2212").replace(/^\u2212(0(\.0+)?)$/, "$1") + (layer.unit ? " " + layer.unit : "");
  }
  place(x, y) {
    if (!this.corners) return "";
    const u = x / this.width, v = y / this.height, c = this.corners;
    const [lon, lat] = [0, 1].map(i => (c[0][i] * (1 - u) + c[1][i] * u) * (1 - v) + (c[2][i] * (1 - u) + c[3][i] * u) * v);
    return lat.toFixed(5) + ", " + lon.toFixed(5);
  }
  // near is the composite without a sampling unit that stands at a place.
  near(x, y, reach) {
    let best = null, least = reach;
    for (const p of this.places) {
      const d = Math.hypot(p.x - x, p.y - y);
      if (d <= least) { best = p; least = d; }
    }
    return best;
  }
  // read returns what is at a place: the values first. What lies within reach is
  // at it.
  read(layers, x, y, reach = 8) {
    if (!holds(byId(this.id + "-edge"), x, y)) return { values: ["outside the field"], about: [] };
    const units = this.units.filter(u => holds(byId(u.path), x, y)), near = this.near(x, y, reach), values = [];
    for (const layer of layers) {
      if (layer.areas) {
        const area = [...byId(layer.id + "-ground").querySelectorAll("path")].find(p => holds(p, x, y));
        values.push(layer.name + ": " + (area ? inUnits(area.dataset.t) : "nothing here"));
      } else if (layer.steps) {
        values.push(layer.name + " " + this.value(layer, x, y));
      } else if (layer.grid) {
        values.push(layer.name + ": " + (layer.unread ? "this browser cannot read the surface" : "\u2026"));
      } else {
        const own = (near ? [near.key] : units.map(u => u.path)).map(key => layer.own[key]).filter(Boolean);
        values.push(layer.name + (own.length ? " " + own.join(" and ") + (layer.unit ? " " + layer.unit : "") + ", of the composite" : ": no figure here"));
      }
      if (layer.banner) values.push(layer.banner);
    }
    const figures = key => layers.filter(l => l.own && l.own[key]).map(l => l.name + " " + l.own[key]).join(", ");
    const about = units.map(u => u.text + (layers.length === 1 && layers[0].steps && figures(u.path) ? ", its composite " + figures(u.path) : ""));
    if (near) {
      const own = figures(near.key);
      about.push("composite " + near.text + (own ? ": " + own : ""));
    }
    for (const p of this.patches) if (byId(p.path) && holds(byId(p.path), x, y)) about.push(p.text);
    const place = this.place(x, y);
    if (place) about.push(place);
    return { values, about };
  }
}

// A line below a map that says what is where one points.
class Readout {
  constructor(figure, after, empty) {
    this.line = document.createElement("p");
    this.line.className = "readout";
    this.voice = document.createElement("p");
    this.voice.className = "unseen";
    this.voice.setAttribute("role", "status");
    after.after(this.line, this.voice);
    this.empty = empty;
    this.clear();
    listeners.push(() => this.again && this.again());
  }
  clear() { this.again = null; this.line.textContent = this.empty; this.line.classList.add("quiet"); }
  show(field, layers, x, y, aloud, reach) {
    this.again = () => {
      const said = field.read(layers, x, y, reach), strong = document.createElement("strong");
      strong.textContent = said.values.join("; ");
      this.line.classList.remove("quiet");
      this.line.replaceChildren(strong, (strong.textContent && said.about.length ? " · " : "") + said.about.join(" · "));
      if (aloud) this.voice.textContent = this.line.textContent;
    };
    const again = this.again;
    again();
    if (layers.some(l => l.unpacked && !l.steps && !l.unread)) field.ready(layers).then(() => { if (this.again === again) again(); });
  }
}

const fields = new Map();
const svgElement = (name, attributes) => {
  const e = document.createElementNS(document.querySelector("svg").namespaceURI, name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  return e;
};
const spotIn = (svg, event) => {
  const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return [p.x, p.y];
};
const roundBelow = v => {
  const power = 10 ** Math.floor(Math.log10(v));
  return power * [5, 2, 1].find(m => m * power <= v * (1 + 1e-12));
};

// The large map: it is moved and magnified, and shows any of the layers.
class Viewer {
  constructor(figure) {
    this.figure = figure;
    this.field = new Field(figure);
    fields.set(this.field.id, this.field);
    this.stage = figure.querySelector(".stage");
    this.map = this.stage.querySelector(".map");
    this.pane = this.stage.querySelector(".pane");
    this.select = figure.querySelector(".layers");
    this.caption = figure.querySelector("figcaption");
    this.planKey = [...this.caption.childNodes];
    this.note = document.createElement("p");
    this.note.className = "bad";
    this.hint = document.createElement("p");
    this.hint.className = "quiet hint";
    this.hint.id = figure.id + "-keys";
    this.hint.textContent = "Drag to move, pinch, double-click or Ctrl and wheel to zoom. Keys: arrows move, + and \u2212 zoom, 0 shows all, Enter reads the middle.";
    this.stage.after(this.note, this.hint);
    this.readout = new Readout(figure, this.stage, "Point at the map or tap it to read what is there.");
    this.hair = svgElement("path", { class: "hair", d: "", "aria-hidden": "true" });
    this.pin = svgElement("circle", { class: "pin", r: 0, "aria-hidden": "true" });
    this.map.append(this.hair);
    this.pane.append(this.pin);
    this.stage.tabIndex = 0;
    this.stage.setAttribute("role", "group");
    this.stage.setAttribute("aria-label", "Map to move and zoom: " + this.map.querySelector("title").textContent);
    this.stage.setAttribute("aria-describedby", this.hint.id);
    figure.querySelector(".tools").hidden = false;
    this.look(0, 0, this.field.width);
    this.pointers = new Map();
    this.listen();
    this.showLayer();
  }
  get layers() {
    const chosen = this.select && this.select.value;
    return chosen ? [this.field.layer(chosen)] : this.field.layers.filter(l => l.grid || l.own && !l.areas);
  }
  height(width) { return width * this.field.height / this.field.width; }
  // look shows the part of the map whose left upper corner and width are given.
  look(x, y, width) {
    const f = this.field;
    width = Math.min(Math.max(width, f.width / 60), f.width);
    x = Math.min(Math.max(x, 0), f.width - width);
    y = Math.min(Math.max(y, 0), f.height - this.height(width));
    this.view = { x, y, width };
    this.pane.setAttribute("viewBox", [x, y, width, this.height(width)].map(v => +v.toFixed(3)).join(" "));
    const zoom = f.width / width;
    this.pane.style.setProperty("--zoom", zoom);
    this.figure.dataset.zoom = zoom.toFixed(2);
    this.stage.classList.toggle("near", zoom > 1.001);
    this.pin.setAttribute("stroke-width", 2);
    if (this.pin.getAttribute("r") > 0) this.pin.setAttribute("r", 6 / zoom);
    for (const bar of this.map.querySelectorAll(".foot [data-metres]")) {
      const metres = Number(bar.dataset.metres), unit = f.scale * zoom * metres;
      let length = roundBelow(Math.min(f.width * 0.35, 220) / unit);
      const [line, text] = [bar.querySelector("path"), bar.querySelector("text")], left = 16, right = left + length * unit;
      line.setAttribute("d", line.getAttribute("d").replace(/H[\d.]+/, "H" + right.toFixed(1)));
      text.setAttribute("x", ((left + right) / 2).toFixed(1));
      text.textContent = bar.dataset.unit === "m" && length >= 1000 ? length / 1000 + " km" : +length.toPrecision(1) + " " + bar.dataset.unit;
    }
  }
  zoomBy(factor, x = this.view.x + this.view.width / 2, y = this.view.y + this.height(this.view.width) / 2) {
    const width = Math.min(Math.max(this.view.width / factor, this.field.width / 60), this.field.width), share = width / this.view.width;
    this.look(x - (x - this.view.x) * share, y - (y - this.view.y) * share, width);
  }
  moveBy(dx, dy) { this.look(this.view.x + dx, this.view.y + dy, this.view.width); }
  showLayer() {
    const chosen = this.select ? this.select.value : "", layer = chosen && this.field.layer(chosen);
    const slot = name => this.pane.querySelector(`[data-slot=${name}]`);
    // Copies and not references, in which the style would not know its way.
    const copy = (name, parts) => slot(name).replaceChildren(...parts.filter(Boolean).map(part => {
      const c = part.cloneNode(true);
      for (const e of c.querySelectorAll("defs")) e.remove();
      for (const e of [c, ...c.querySelectorAll("[id]")]) e.removeAttribute("id");
      return c;
    }));
    copy("ground", layer ? [byId(layer.id + "-ground")] : []);
    copy("labels", layer ? [byId(layer.id + "-labels")] : []);
    const patched = layer && !layer.areas ? [layer] : this.field.layers.filter(l => !l.areas);
    const names = layer && !layer.areas ? [] : patched.flatMap(l => [...byId(l.id + "-labels").querySelectorAll(".patch")]);
    copy("patches", [...patched.map(l => byId(l.id + "-patches")), ...names]);
    slot("plan").style.display = layer ? "none" : "";
    this.figure.classList.toggle("layered", Boolean(layer));
    this.note.textContent = layer && layer.banner ? layer.banner + ": do not go by this map." : "";
    if (layer) this.caption.replaceChildren(...[...byId(layer.id).querySelector("figcaption").childNodes].map(n => n.cloneNode(true)));
    else this.caption.replaceChildren(...this.planKey);
    if (this.readout.place) this.readAt(...this.readout.place);
  }
  readAt(x, y, aloud) {
    this.readout.place = [x, y];
    this.readout.show(this.field, this.layers, x, y, aloud, 10 * this.view.width / this.field.width);
  }
  readMiddle(aloud) { this.readAt(this.view.x + this.view.width / 2, this.view.y + this.height(this.view.width) / 2, aloud); }
  listen() {
    const cores = this.figure.querySelector("[value=cores]");
    if (this.select) this.select.addEventListener("change", () => {
      // Cores would hide the colours; who wants both ticks them again.
      if (cores && cores.checked !== !this.select.value) cores.click();
      this.showLayer();
    });
    for (const box of this.figure.querySelectorAll(".tools [type=checkbox]")) {
      const show = () => this.figure.classList.toggle("no-" + box.value, !box.checked);
      box.addEventListener("change", show);
      show();
    }
    for (const button of this.figure.querySelectorAll(".zoom button")) button.addEventListener("click", () => {
      if (button.value === "all") this.look(0, 0, this.field.width);
      else this.zoomBy(button.value === "in" ? 1.6 : 1 / 1.6);
    });
    const stage = this.stage;
    stage.addEventListener("wheel", event => {
      if (!event.ctrlKey && !event.metaKey && document.activeElement !== stage) return;
      if (event.deltaY > 0 && this.view.width >= this.field.width) return;
      event.preventDefault();
      const lines = event.deltaMode === 1 ? 20 : 1;
      this.zoomBy(2 ** (-event.deltaY * lines / (event.ctrlKey ? 150 : 300)), ...spotIn(this.pane, event));
    }, { passive: false });
    stage.addEventListener("dblclick", event => { event.preventDefault(); this.zoomBy(event.shiftKey ? 0.5 : 2, ...spotIn(this.pane, event)); });
    stage.addEventListener("keydown", event => {
      const step = this.view.width / 8;
      const move = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      if (move) this.moveBy(...move);
      else if (event.key === "+" || event.key === "=") this.zoomBy(1.6);
      else if (event.key === "-" || event.key === "\u2212") this.zoomBy(1 / 1.6);
      else if (event.key === "0") this.look(0, 0, this.field.width);
      else if (event.key !== "Enter") return;
      event.preventDefault();
      this.readMiddle(true);
    });
    stage.addEventListener("focus", () => {
      const x = this.field.width / 2, y = this.field.height / 2;
      this.hair.setAttribute("d", `M${x - 14} ${y}h28M${x} ${y - 14}v28`);
    });
    // Pointers: one moves, two magnify; one that does not move reads.
    const spread = () => {
      const [a, b] = [...this.pointers.values()];
      return { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, apart: Math.hypot(a.x - b.x, a.y - b.y) };
    };
    stage.addEventListener("pointerdown", event => {
      if (event.button > 0) return;
      this.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (this.pointers.size === 1) this.moved = false;
      if (this.pointers.size === 2) this.pinch = spread();
    });
    stage.addEventListener("pointermove", event => {
      const known = this.pointers.get(event.pointerId);
      if (!known) {
        if (event.pointerType !== "touch" && !this.pinned) this.readAt(...spotIn(this.pane, event));
        return;
      }
      const pixel = 1 / this.pane.getScreenCTM().a, dx = event.clientX - known.x, dy = event.clientY - known.y;
      if (!this.moved && Math.hypot(dx, dy) < 4) return;
      if (!this.moved) stage.setPointerCapture(event.pointerId);
      this.moved = true;
      this.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (this.pointers.size === 1) {
        if (event.pointerType !== "touch" || this.view.width < this.field.width) this.moveBy(-dx * pixel, -dy * pixel);
      } else if (this.pointers.size === 2 && this.pinch) {
        const now = spread();
        if (this.pinch.apart > 0) this.zoomBy(now.apart / this.pinch.apart, ...spotIn(this.pane, { clientX: now.x, clientY: now.y }));
        this.moveBy((this.pinch.x - now.x) * pixel, (this.pinch.y - now.y) * pixel);
        this.pinch = now;
      }
    });
    const up = event => {
      if (!this.pointers.delete(event.pointerId)) return;
      this.pinch = null;
      if (event.type !== "pointerup" || this.moved || this.pointers.size) return;
      const [x, y] = spotIn(this.pane, event);
      this.pin.setAttribute("cx", x);
      this.pin.setAttribute("cy", y);
      this.pin.setAttribute("r", 6 * this.view.width / this.field.width);
      this.readAt(x, y, true);
    };
    stage.addEventListener("pointerup", up);
    stage.addEventListener("pointercancel", up);
  }
}

// The other maps are read in the same way.
const readOff = figure => {
  const field = fields.get(figure.dataset.field), map = figure.querySelector(".map"), layer = field && field.layer(figure.id);
  if (!layer) return;
  const readout = new Readout(figure, map, "Point at the map or tap it to read what is there.");
  const read = aloud => event => readout.show(field, [layer], ...spotIn(map, event), aloud);
  map.addEventListener("pointermove", event => { if (event.pointerType !== "touch") read(false)(event); });
  map.addEventListener("click", read(true));
};
const start = section => {
  for (const figure of section.querySelectorAll("figure.viewer")) new Viewer(figure);
  for (const figure of section.querySelectorAll("figure[data-field]:not(.viewer)")) readOff(figure);
};
// The maps of a farm of many fields are made ready as one comes to them.
const sections = document.querySelectorAll("section.field");
if (sections.length <= 12) sections.forEach(start);
else {
  const coming = new IntersectionObserver(entries => {
    for (const e of entries) if (e.isIntersecting) {
      coming.unobserve(e.target);
      start(e.target);
    }
  }, { rootMargin: "800px" });
  sections.forEach(s => coming.observe(s));
}
root.classList.add("script");
})();
