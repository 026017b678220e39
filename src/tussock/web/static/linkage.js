// An axle moved by hand: travel, roll and steer by sliders, the view by dragging or arrow keys, traces of chosen points.
// Every position lies between solved nodes of the linkage, interpolated; nothing is solved here.

const VIEWS = { Front: [0, 0], Side: [90, 0], Top: [0, 90], "Three quarters": [38, 18] };
const LINES = { body: 3.2, axle: 4.2, rod: 3.2, spring: 1.6, damper: 5, shaft: 2.4, other: 1.4 };
const RIM = 28; // corners of a wheel
const HALF_WIDTH = 110; // of a tyre as drawn [mm]
const NS = "http://www.w3.org/2000/svg";

const rad = (degrees) => (degrees * Math.PI) / 180;
const number = (value, digits) => {
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "\u2212");
};
const withUnit = (value, of) => `${number(value, of.digits)}\u00a0${of.unit}`;

function html(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
}
function svg(tag, props = {}, text = "") {
  const made = document.createElementNS(NS, tag);
  for (const [key, value] of Object.entries(props)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  return made;
}

// Place on one axis of the grid: the node below and the share of the way to the next.
function between(values, at) {
  if (values.length === 1) return [0, 0];
  let i = 0;
  while (i < values.length - 2 && values[i + 1] <= at) i += 1;
  return [i, Math.min(Math.max((at - values[i]) / (values[i + 1] - values[i]), 0), 1)];
}
// Flat values over (travel, roll, steer, width) at a place between the nodes; NaN where a node is not reached.
function interpolated(grid, flat, width, place) {
  const sizes = grid.map((axis) => axis.values.length);
  const spots = grid.map((axis, k) => between(axis.values, place[k]));
  const out = new Float64Array(width);
  for (let corner = 0; corner < 8; corner += 1) {
    let share = 1;
    let node = 0;
    for (let k = 0; k < 3; k += 1) {
      const up = (corner >> k) & 1;
      share *= up ? spots[k][1] : 1 - spots[k][1];
      node = node * sizes[k] + Math.min(spots[k][0] + up, sizes[k] - 1);
    }
    if (share === 0) continue;
    for (let j = 0; j < width; j += 1) out[j] += share * flat[node * width + j];
  }
  return out;
}

class Linkage {
  constructor(root) {
    this.root = root;
    this.turn = [...VIEWS["Three quarters"]];
    this.place = [0, 0, 0];
    this.along = 0;
    this.traced = null;
    this.named = window.innerWidth > 760;
  }

  async load(source, title) {
    const answer = await fetch(source);
    if (!answer.ok) {
      const why = await answer.json().catch(() => ({}));
      this.root.replaceChildren(html("p", { class: "notice", role: "alert" }, why.detail || "This axle cannot be shown"));
      return;
    }
    this.data = await answer.json();
    this.title = title;
    this.models = this.data.models.map((model) => ({
      ...model,
      flat: Float64Array.from(model.points, (v) => (v === null ? NaN : v / 10)),
    }));
    const known = new Set(this.data.spots.filter(Boolean));
    this.traced = new Set([...(this.traced ?? this.data.traced)].filter((name) => known.has(name)));
    this.place = this.place.map((v, k) => {
      const values = this.data.sliders[k].values;
      return Math.min(Math.max(v, values[0]), values[values.length - 1]);
    });
    this.measure();
    this.build();
    this.move();
  }

  // One scale for every view: half widths of all that is ever shown, about the middle.
  measure() {
    const low = [Infinity, Infinity, Infinity];
    const high = [-Infinity, -Infinity, -Infinity];
    for (const model of this.models) {
      model.flat.forEach((v, i) => {
        if (Number.isNaN(v)) return;
        low[i % 3] = Math.min(low[i % 3], v);
        high[i % 3] = Math.max(high[i % 3], v);
      });
    }
    const rim = this.data.radius;
    low[0] = Math.min(low[0], this.middleOf(0) - rim);
    high[0] = Math.max(high[0], this.middleOf(0) + rim);
    this.centre = low.map((v, k) => 0.5 * (v + high[k]));
    const half = low.map((v, k) => 0.5 * (high[k] - v));
    this.half = [Math.hypot(half[0], half[1]) + HALF_WIDTH + 20, Math.max(half[2], half[0]) + rim * 0.35 + 40];
  }

  middleOf(axis) {
    const [centre] = this.data.wheels[0];
    return this.models[0].flat.find((v, i) => i % 3 === axis && Math.floor(i / 3) % this.data.spots.length === centre && !Number.isNaN(v));
  }

  build() {
    const moved = this.data.sliders.filter((s) => s.values.length > 1);
    this.figure = svg("svg", { class: "linkage-svg", role: "img", tabindex: "0" });
    this.figure.addEventListener("keydown", (e) => this.turnByKey(e));
    this.figure.addEventListener("pointerdown", (e) => this.turnByDrag(e));
    this.outputs = {};
    const sliders = moved.map((s) => {
      const k = this.data.sliders.indexOf(s);
      const id = `move-${s.key}`;
      const output = (this.outputs[s.key] = html("output", { for: id }));
      const input = html("input", {
        type: "range", id, min: s.values[0], max: s.values[s.values.length - 1], step: s.step, value: this.place[k],
        oninput: (e) => { this.place[k] = Number(e.target.value); this.along = k; this.move(); },
      });
      return html("div", { class: "slider" }, html("label", { for: id }, s.title), output, input);
    });
    const back = html("button", { type: "button", class: "quiet", onclick: () => this.reset() }, "Back to ride height");
    const names = html("input", { type: "checkbox", id: "move-names", onchange: (e) => { this.named = e.target.checked; this.draw(); } });
    names.checked = this.named;
    const views = Object.entries(VIEWS).map(([name, turn]) =>
      html("button", { type: "button", class: "quiet", onclick: () => { this.turn = [...turn]; this.draw(); } }, name));
    this.says = html("p", { class: "linkage-says", role: "status" });
    this.numbers = html("div", { class: "wide", tabindex: "0", role: "region", "aria-label": "Figures at this place" });
    this.minis = html("div", { class: "minis" });
    this.root.replaceChildren(
      html("div", { class: "linkage-grid" },
        html("div", { class: "linkage-view" }, this.figure, html("div", { class: "views" }, ...views,
          html("span", {}, names, html("label", { for: "move-names" }, "Names")))),
        html("div", { class: "linkage-side" }, ...sliders, back, this.traces(), this.says)),
      this.numbers, this.legend(), this.minis,
      ...this.data.notes.map((text) => html("p", { class: "note" }, text)),
      this.tools());
    this.watch?.disconnect();
    this.watch = new ResizeObserver(() => this.draw());
    this.watch.observe(this.figure);
  }

  // What the lines of the curves mean, each with a piece of it.
  legend() {
    const kit = this.models[this.models.length - 1];
    const both = Object.keys(kit.figures.camber ?? {}).length > 1;
    const keys = kit.role === "stock" ? [] : both
      ? [["of-kit", `${kit.label}, left`], ["of-kit of-right", `${kit.label}, right`]] : [["of-kit", kit.label]];
    keys.push(["of-stock", both ? "stock, left" : "stock"]);
    if (both) keys.push(["of-stock of-right", "stock, right"]);
    return html("p", { class: "mini legend" }, ...keys.map(([kind, words]) => {
      const piece = svg("svg", { viewBox: "0 0 34 10", width: 34, height: 10, "aria-hidden": "true", class: "mini" });
      piece.append(svg("polyline", { points: "0,5 34,5", class: kind }));
      return html("span", {}, piece, words);
    }), html("span", {}, "over travel in mm, at the roll and steer shown"));
  }

  traces() {
    const boxes = this.data.spots.filter(Boolean).map((name, i) => {
      const box = html("input", { type: "checkbox", id: `trace-${i}`, onchange: (e) => {
        if (e.target.checked) this.traced.add(name); else this.traced.delete(name);
        this.draw();
      } });
      box.checked = this.traced.has(name);
      return html("div", {}, box, html("label", { for: `trace-${i}` }, name));
    });
    return html("details", {}, html("summary", {}, "Traces of points"), html("div", { class: "boxes-list" }, ...boxes));
  }

  tools() {
    const offer = (words, act) => html("button", { type: "button", class: "quiet plain", onclick: act }, words);
    return html("div", { class: "tools" },
      offer("SVG", () => this.save(new Blob([this.standalone()], { type: "image/svg+xml" }), "svg")),
      offer("PNG", () => this.png()),
      offer("Points, CSV", () => this.save(new Blob([this.pointsCsv()], { type: "text/csv" }), "points.csv")),
      offer("Curves, CSV", () => this.save(new Blob([this.curvesCsv()], { type: "text/csv" }), "curves.csv")),
      offer("Copy figures as text", () => navigator.clipboard.writeText(this.figuresText())));
  }

  reset() {
    this.place = [0, 0, 0];
    this.along = 0;
    this.root.querySelectorAll("input[type=range]").forEach((input) => { input.value = 0; });
    this.move();
  }

  // Follow the sliders: every model at the place, or the last place that both reach.
  move() {
    const poses = this.models.map((model) => interpolated(this.data.sliders, model.flat, 3 * this.data.spots.length, this.place));
    const reached = poses.every((pose) => !pose.some(Number.isNaN));
    this.data.sliders.forEach((s, k) => { if (this.outputs[s.key]) this.outputs[s.key].textContent = withUnit(this.place[k], s); });
    this.says.textContent = reached ? "" : "A wheel does not reach this place; shown is the last one that it does.";
    if (reached || !this.poses) {
      this.poses = poses;
      this.shown = [...this.place];
    }
    this.draw();
    this.show();
  }

  turnByKey(e) {
    const by = { ArrowLeft: [-5, 0], ArrowRight: [5, 0], ArrowUp: [0, 5], ArrowDown: [0, -5] }[e.key];
    if (!by) return;
    e.preventDefault();
    this.turn = [this.turn[0] + by[0], Math.min(Math.max(this.turn[1] + by[1], -90), 90)];
    this.draw();
  }

  turnByDrag(e) {
    const from = [e.clientX, e.clientY, ...this.turn];
    const move = (m) => {
      const tilt = m.pointerType === "touch" ? from[3] : from[3] + 0.35 * (m.clientY - from[1]);
      this.turn = [from[2] - 0.35 * (m.clientX - from[0]), Math.min(Math.max(tilt, -90), 90)];
      this.draw();
    };
    const end = () => ["pointermove", "pointerup", "pointercancel"].forEach((n) => window.removeEventListener(n, n === "pointermove" ? move : end));
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", end);
    window.addEventListener("pointercancel", end);
  }

  // The plane of the picture: to the right and up, in vehicle axes.
  plane() {
    const [azimuth, height] = this.turn.map(rad);
    return [
      [-Math.sin(azimuth), Math.cos(azimuth), 0],
      [-Math.cos(azimuth) * Math.sin(height), -Math.sin(azimuth) * Math.sin(height), Math.cos(height)],
    ];
  }

  draw() {
    if (!this.poses) return;
    const [right, up] = this.plane();
    const [halfWide, halfTall] = this.half;
    this.flat = (p) => {
      const d = [p[0] - this.centre[0], p[1] - this.centre[1], p[2] - this.centre[2]];
      return [
        halfWide + d[0] * right[0] + d[1] * right[1] + d[2] * right[2],
        halfTall - (d[0] * up[0] + d[1] * up[1] + d[2] * up[2]),
      ];
    };
    this.unit = (2 * halfWide) / (this.figure.clientWidth || 600); // millimetres of a pixel
    const parts = [svg("title", {}, this.said())];
    this.models.forEach((model, m) => parts.push(this.model(model, this.poses[m], m === this.models.length - 1 && model.role !== "stock")));
    parts.push(this.bar(), this.axes());
    this.figure.setAttribute("viewBox", `0 0 ${2 * halfWide} ${2 * halfTall}`);
    this.figure.replaceChildren(...parts);
  }

  said() {
    const places = this.data.sliders.filter((s) => s.values.length > 1)
      .map((s) => `${s.title.toLowerCase()} ${withUnit(this.shown[this.data.sliders.indexOf(s)], s)}`);
    return `${this.data.title} to scale at ${places.join(", ")}`;
  }

  model(model, pose, bold) {
    const group = svg("g", { class: model.role === "stock" ? "is-stock" : "is-kit", "font-size": 12 * this.unit });
    const at = (i) => [pose[3 * i], pose[3 * i + 1], pose[3 * i + 2]];
    for (const wheel of this.data.wheels) group.append(...this.wheel(at, wheel));
    for (const member of this.data.members) {
      let points = member.points.map((i) => this.flat(at(i)));
      if (member.kind === "spring") points = this.coil(points);
      const shape = svg(member.closed ? "polygon" : "polyline", {
        points: points.map((p) => p.map((v) => v.toFixed(1)).join(",")).join(" "),
        class: `m-${member.kind}`, "stroke-width": LINES[member.kind], "vector-effect": "non-scaling-stroke",
      });
      shape.append(svg("title", {}, member.name));
      group.append(shape);
    }
    group.append(...this.traceLines(model, pose));
    if (bold && this.named) group.append(...this.labels(at));
    return group;
  }

  wheel(at, [centre, outward]) {
    const c = at(centre);
    const axis = at(outward).map((v, k) => v - c[k]);
    const long = Math.hypot(...axis);
    const a = axis.map((v) => v / long);
    const e = [a[1], -a[0], 0].map((v) => v / Math.hypot(a[0], a[1]));
    const f = [a[1] * e[2] - a[2] * e[1], a[2] * e[0] - a[0] * e[2], a[0] * e[1] - a[1] * e[0]];
    const rims = [-HALF_WIDTH, HALF_WIDTH].map((side) => {
      const points = [];
      for (let i = 0; i < RIM; i += 1) {
        const t = (2 * Math.PI * i) / RIM;
        points.push(this.flat(c.map((v, k) => v + side * a[k] + this.data.radius * (Math.cos(t) * e[k] + Math.sin(t) * f[k]))));
      }
      return points;
    });
    const outline = hull(rims.flat());
    return [outline, ...rims].map((points, i) => svg("polygon", {
      points: points.map((p) => p.map((v) => v.toFixed(1)).join(",")).join(" "),
      class: i === 0 ? "m-tyre" : "m-rim", "stroke-width": i === 0 ? 1.4 : 0.7, "vector-effect": "non-scaling-stroke",
    }));
  }

  // A coil as a zigzag in the picture's plane.
  coil([a, b]) {
    const long = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    const side = [(b[1] - a[1]) / long, (a[0] - b[0]) / long];
    const points = [a];
    for (let i = 0; i < 13; i += 1) {
      const share = (i + 0.5) / 13;
      const wide = 45 * (i % 2 ? 1 : -1) * Math.min(1, long / 120);
      points.push([a[0] + share * (b[0] - a[0]) + wide * side[0], a[1] + share * (b[1] - a[1]) + wide * side[1]]);
    }
    return [...points, b];
  }

  traceLines(model, pose) {
    const out = [];
    const axis = this.data.sliders[this.along];
    for (const name of this.traced) {
      const i = this.data.spots.indexOf(name);
      const path = axis.values.map((v) => {
        const place = [...this.shown];
        place[this.along] = v;
        const got = interpolated(this.data.sliders, model.flat, 3 * this.data.spots.length, place);
        return this.flat([got[3 * i], got[3 * i + 1], got[3 * i + 2]]);
      }).filter((p) => !p.some(Number.isNaN));
      out.push(svg("polyline", {
        points: path.map((p) => p.map((v) => v.toFixed(1)).join(",")).join(" "),
        class: "m-trace", "stroke-width": 2.4, "vector-effect": "non-scaling-stroke",
      }));
      const [x, y] = this.flat([pose[3 * i], pose[3 * i + 1], pose[3 * i + 2]]);
      out.push(svg("circle", { cx: x, cy: y, r: 4.5 * this.unit, class: "m-here" }));
    }
    return out;
  }

  // A name for each member once, the left one of a pair, where no other name stands.
  labels(at) {
    const placed = [];
    const said = new Set();
    const out = [];
    for (const member of this.data.members) {
      const [stem, side] = member.name.split(", ");
      if (side === "right" || said.has(stem) || member.kind === "other") continue;
      said.add(stem);
      const ends = member.points.map((i) => this.flat(at(i)));
      const x = ends.reduce((sum, p) => sum + p[0], 0) / ends.length + 8 * this.unit;
      let y = ends.reduce((sum, p) => sum + p[1], 0) / ends.length - 6 * this.unit;
      const wide = (7 * stem.length + 8) * this.unit;
      for (let tries = 0; tries < 12; tries += 1) {
        if (!placed.some((p) => Math.abs(p[1] - y) < 14 * this.unit && p[0] < x + wide && x < p[0] + p[2])) break;
        y += 15 * this.unit;
      }
      placed.push([x, y, wide]);
      out.push(svg("text", { x, y }, stem));
    }
    return out;
  }

  bar() {
    const long = 2 * this.half[0] > 1200 ? 200 : 100;
    const y = 2 * this.half[1] - 14 * this.unit;
    const group = svg("g", { class: "m-bar", "font-size": 12 * this.unit });
    const x = 10 * this.unit;
    group.append(svg("path", { d: `M${x} ${y}h${long}m${-long} ${-4 * this.unit}v${8 * this.unit}m${long} ${-8 * this.unit}v${8 * this.unit}`,
      "stroke-width": 1.4, "vector-effect": "non-scaling-stroke" }),
      svg("text", { x: x + long + 8 * this.unit, y: y + 4 * this.unit }, `${long} mm`));
    return group;
  }

  // Which way is forward, left and up.
  axes() {
    const group = svg("g", { class: "m-bar", "font-size": 12 * this.unit });
    const foot = [this.half[0], 2 * this.half[1] - 34 * this.unit];
    const zero = this.flat(this.centre);
    [["forward", 0], ["left", 1], ["up", 2]].forEach(([name, k]) => {
      const tip = this.flat(this.centre.map((v, j) => v + (j === k ? 34 * this.unit : 0)));
      const d = [tip[0] - zero[0], tip[1] - zero[1]];
      if (Math.hypot(...d) < 8 * this.unit) return;
      group.append(svg("path", { d: `M${foot[0]} ${foot[1]}l${d[0]} ${d[1]}`, "stroke-width": 1.2, "vector-effect": "non-scaling-stroke" }),
        svg("text", { x: foot[0] + 1.35 * d[0], y: foot[1] + 1.35 * d[1] + 4 * this.unit, "text-anchor": "middle" }, name));
    });
    return group;
  }

  lines(figure) {
    return this.models.flatMap((model) => Object.entries(model.figures[figure.key]).map(([name, values]) => ({
      name, model, values: Float64Array.from(values, (v) => (v === null ? NaN : v)),
    })));
  }

  at(values, place) {
    return interpolated(this.data.sliders, values, 1, place)[0];
  }

  // The figures at the place as a table, and each over travel with a marker at the place.
  show() {
    const rows = this.data.figures.map((f) => [f, this.models.map((model) => Object.values(model.figures[f.key]).map((values) =>
      number(this.at(values.map((v) => (v === null ? NaN : v)), this.shown), f.digits)).join(", "))]);
    const head = this.models.map((model) => html("th", { scope: "col", class: "number" }, model.label));
    const body = rows.map(([f, told]) => html("tr", {}, html("th", { scope: "row" }, `${f.title}, ${f.unit}`),
      ...told.map((text) => html("td", { class: "number" }, text))));
    this.numbers.replaceChildren(html("table", {}, html("caption", {}, "Here; left, right"),
      html("thead", {}, html("tr", {}, html("th", { scope: "col" }, ""), ...head)), html("tbody", {}, ...body)));
    this.minis.replaceChildren(...this.data.figures.map((f) => this.mini(f)));
  }

  mini(figure) {
    const travel = this.data.sliders[0];
    const lines = this.lines(figure).map((line) => ({ ...line, ys: travel.values.map((v) => this.at(line.values, [v, this.shown[1], this.shown[2]])) }));
    const all = lines.flatMap((l) => l.ys).filter((v) => !Number.isNaN(v));
    const least = 4 * 10 ** -figure.digits;
    let [low, high] = [Math.min(...all), Math.max(...all)];
    if (high - low < least) [low, high] = [0.5 * (low + high - least), 0.5 * (low + high + least)];
    const step = round((high - low) / 3);
    [low, high] = [Math.floor(low / step) * step, Math.ceil(high / step) * step];
    const ticks = Array.from({ length: Math.round((high - low) / step) + 1 }, (_, i) => low + i * step);
    const [w, h, left, top, foot] = [260, 150, 52, 8, 24];
    const x = (v) => left + ((v - travel.values[0]) / (travel.values[travel.values.length - 1] - travel.values[0])) * (w - left - 8);
    const y = (v) => top + ((high - v) / (high - low)) * (h - top - foot);
    const chart = svg("svg", { viewBox: `0 0 ${w} ${h}`, role: "img", class: "mini" });
    chart.append(svg("title", {}, `${figure.title} over travel, ${figure.unit}`));
    for (const v of ticks) {
      chart.append(svg("path", { d: `M${left} ${y(v)}H${w - 8}`, class: "grid" }), svg("text", { x: left - 5, y: y(v) + 4, "text-anchor": "end" }, number(v, figure.digits)));
    }
    if (low < 0 && high > 0) chart.append(svg("path", { d: `M${left} ${y(0)}H${w - 8}`, class: "zero" }));
    for (const v of [travel.values[0], 0, travel.values[travel.values.length - 1]]) {
      chart.append(svg("text", { x: x(v), y: h - 8, "text-anchor": v > 0 ? "end" : v < 0 ? "start" : "middle" }, number(v, 0)));
    }
    chart.append(svg("path", { d: `M${x(this.shown[0])} ${top}V${h - foot}`, class: "zero" }));
    for (const line of lines) {
      const runs = line.ys.map((v, i) => (Number.isNaN(v) ? null : `${x(travel.values[i]).toFixed(1)},${y(v).toFixed(1)}`)).filter(Boolean);
      const kind = `${line.model.role === "stock" ? "of-stock" : "of-kit"} ${line.name === "right" ? "of-right" : ""}`;
      chart.append(svg("polyline", { points: runs.join(" "), class: kind }));
      const here = this.at(line.values, this.shown);
      if (!Number.isNaN(here)) chart.append(svg("circle", { cx: x(this.shown[0]), cy: y(here), r: 3.6, class: `${kind} of-here` }));
    }
    return html("figure", {}, html("figcaption", {}, `${figure.title}, ${figure.unit}`), chart);
  }

  figuresText() {
    const head = [this.said(), ["", ...this.models.map((m) => m.label)].join("\t")];
    const rows = [...this.numbers.querySelectorAll("tbody tr")].map((row) => [...row.children].map((cell) => cell.textContent).join("\t"));
    return [...head, ...rows].join("\n") + "\n";
  }

  pointsCsv() {
    const rows = [["state", "point", "x [mm]", "y [mm]", "z [mm]", ...this.data.sliders.map((s) => `${s.key} [${s.unit}]`)]];
    this.models.forEach((model, m) => this.data.spots.forEach((name, i) => {
      if (name) rows.push([model.label, `"${name}"`, ...[0, 1, 2].map((k) => this.poses[m][3 * i + k].toFixed(1)), ...this.shown.map((v) => v.toFixed(2))]);
    }));
    return rows.map((row) => row.join(",")).join("\r\n") + "\r\n";
  }

  curvesCsv() {
    const travel = this.data.sliders[0];
    const rows = [["state", "figure", "unit", "side", `travel [${travel.unit}]`, "value"]];
    for (const figure of this.data.figures) {
      for (const line of this.lines(figure)) {
        for (const v of travel.values) {
          const at = this.at(line.values, [v, this.shown[1], this.shown[2]]);
          if (!Number.isNaN(at)) rows.push([line.model.label, `"${figure.title}"`, figure.unit, line.name, v.toFixed(1), at.toFixed(figure.digits + 2)]);
        }
      }
    }
    return rows.map((row) => row.join(",")).join("\r\n") + "\r\n";
  }

  // The picture as it stands, its colours written into it.
  standalone() {
    const copy = this.figure.cloneNode(true);
    const taken = ["stroke", "fill", "stroke-width", "stroke-dasharray", "fill-opacity", "font-family", "stroke-linejoin", "paint-order"];
    const from = [...this.figure.querySelectorAll("*")];
    [...copy.querySelectorAll("*")].forEach((to, i) => {
      const style = getComputedStyle(from[i]);
      to.setAttribute("style", taken.map((name) => `${name}:${style.getPropertyValue(name)}`).join(";"));
    });
    const [, , w, h] = copy.getAttribute("viewBox").split(" ").map(Number);
    copy.setAttribute("xmlns", NS);
    copy.setAttribute("width", "1200");
    copy.setAttribute("height", String(Math.round((1200 * h) / w)));
    const card = svg("rect", { width: w, height: h, style: `fill:${getComputedStyle(document.body).getPropertyValue("--card")}` });
    copy.insertBefore(card, copy.firstChild);
    return new XMLSerializer().serializeToString(copy);
  }

  async png() {
    const image = new Image();
    const address = URL.createObjectURL(new Blob([this.standalone()], { type: "image/svg+xml" }));
    image.src = address;
    await image.decode();
    const canvas = html("canvas", { width: image.width * 2, height: image.height * 2 });
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    URL.revokeObjectURL(address);
    canvas.toBlob((blob) => this.save(blob, "png"), "image/png");
  }

  save(blob, form) {
    const address = URL.createObjectURL(blob);
    html("a", { href: address, download: `${this.data.file}.${form}` }).click();
    setTimeout(() => URL.revokeObjectURL(address), 1000);
  }
}

// The next of 1, 2 and 5 times a power of ten.
function round(value) {
  const power = 10 ** Math.floor(Math.log10(value));
  return power * [1, 2, 5, 10].find((d) => d * power >= value * 0.999);
}

// The convex hull of points in a plane, which is the outline of a tyre.
function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const side = (run) => {
    const out = [];
    for (const p of run) {
      while (out.length > 1) {
        const [a, b] = out.slice(-2);
        if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
        out.pop();
      }
      out.push(p);
    }
    return out.slice(0, -1);
  };
  return [...side(sorted), ...side(sorted.reverse())];
}

export default {
  template: '<div class="linkage"></div>',
  props: { source: String, title: String },
  async mounted() {
    this.linkage = new Linkage(this.$el);
    await this.linkage.load(this.source, this.title);
  },
  beforeUnmount() {
    this.linkage.watch?.disconnect();
  },
  watch: {
    source(to) {
      this.linkage.load(to, this.title);
    },
  },
};
