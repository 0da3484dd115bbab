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
if (!document.querySelector(".many")) sections.forEach(start);
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
