// What can be read off the maps, and the line that says it.
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
