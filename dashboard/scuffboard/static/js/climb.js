// The climb: time goes up, one storey for each load stage; a slab for each dead weight; one track for each channel.
// Storeys passed are thin, the storey in dwell is tall and fills from below, storeys to come are outlines.
// The value axis of a track is fixed; its limits are walls, so that the distance to them can be seen.
import { put, svg } from "./dom.js";
import { short } from "./format.js";

const TALL_SHARE = 0.3;
const GAP_BINS = 2.5;
let made = 0;

export class Climb {
  // shape: {w, h, gutter, slab, font, dot, gap, thin}
  constructor(host, shape) {
    this.shape = shape;
    this.id = `climb${(made += 1)}`;
    this.clip = svg("rect", { x: 0, y: 0, width: shape.slab, height: 0 });
    this.still = svg("g", {});
    this.moving = svg("g", {});
    this.root = svg("svg", { class: "climb", role: "img" },
      svg("defs", {}, hatch(`${this.id}h`), svg("clipPath", { id: `${this.id}c` }, this.clip)), this.still, this.moving);
    this.resize(shape);
    host.replaceChildren(this.root);
  }

  resize(shape) {
    this.shape = shape;
    this.root.setAttribute("viewBox", `0 0 ${shape.w} ${shape.h}`);
    this.clip.setAttribute("width", shape.slab);
  }

  // model: {loads, cur, span_s(n), elapsed_s, status, tracks, stages, label, version}
  draw(model) {
    const m = { ...model, loads: model.loads.length ? model.loads : [null] };
    m.cur = model.loads.length ? model.cur : 1;
    this.root.setAttribute("class", `climb ${m.status}`);
    if (this.root.getAttribute("aria-label") !== m.label) this.root.setAttribute("aria-label", m.label);
    const key = JSON.stringify([this.shape, m.loads, m.cur, m.tracks]);
    put(this.still, key, () => this.storeys(m));
    put(this.moving, `${key}|${m.version}|${m.status}|${Math.round(m.elapsed_s * 5)}`, () => m.tracks.map((t, j) => this.trace(m, t, j)));
    this.fillSlab(m);
  }

  tall(m) { return m.cur >= 1 && m.loads.length > 1 ? this.shape.h * TALL_SHARE : m.loads.length > 1 ? this.shape.h / m.loads.length : this.shape.h; }
  row(m) { return m.loads.length > 1 ? (this.shape.h - (m.cur >= 1 ? this.tall(m) : 0)) / (m.loads.length - (m.cur >= 1 ? 1 : 0)) : this.shape.h; }
  height(m, n) { return n === m.cur ? this.tall(m) : this.row(m); }
  foot(m, n) { let y = this.shape.h; for (let k = 1; k < n; k++) y -= this.height(m, k); return y; }
  width(m) { const { w, gutter, gap } = this.shape; return (w - gutter - gap * (m.tracks.length - 1)) / m.tracks.length; }
  left(m, j) { return this.shape.gutter + j * (this.width(m) + this.shape.gap); }
  x(m, t, j, value) { return this.left(m, j) + Math.max(0, Math.min(1, (value - t.low) / (t.high - t.low))) * this.width(m); }
  cls(m, n) { return n < m.cur ? "past" : n === m.cur ? "now" : "next"; }

  storeys(m) {
    const wells = m.loads.flatMap((_, i) => m.tracks.map((_t, j) => svg("rect", {
      class: `well ${this.cls(m, i + 1)}`, x: this.left(m, j), y: this.foot(m, i + 1) - this.height(m, i + 1) + 1,
      width: this.width(m), height: Math.max(0, this.height(m, i + 1) - 2) })));
    const limits = m.tracks.flatMap((t, j) => ["warn", "trip"].filter((k) => t[k] !== null && t[k] !== undefined)
      .map((k) => svg("path", { class: `limit ${k}`, d: `M${this.x(m, t, j, t[k])} 0V${this.shape.h}` })));
    return [wells, limits, m.loads.map((load, i) => this.weight(m, load, i + 1))];
  }

  weight(m, load, n) {
    if (load === null) return [];
    const { slab, font } = this.shape, y = this.foot(m, n), h = this.height(m, n), edge = Math.max(1.5, this.row(m) * 0.06);
    const depth = Math.min(h * 0.36, this.row(m) * 0.36, slab), cls = this.cls(m, n), top = y - h + edge;
    const d = `M0 ${y - edge}H${slab}V${top}H${slab * 0.62}V${top + depth}H${slab * 0.38}V${top}H0Z`;
    const shape = cls === "now"
      ? [svg("path", { class: "slab now-fill", "clip-path": `url(#${this.id}c)`, d }), svg("path", { class: "slab now-edge", d })]
      : [svg("path", { class: `slab ${cls}`, d })];
    const words = `${short(load)}${cls === "now" || n === m.loads.length ? "\u2009N" : ""}`;
    // where storeys are lower than a letter every second or third of them is named
    const nth = this.shape.thin ? Math.ceil((font * 0.9) / h) : h >= font * 0.9 ? 1 : Infinity;
    const label = cls === "now" || (nth < Infinity && (m.loads.length - n) % nth === nth - 1)
      ? svg("text", { class: `load ${cls}`, x: slab + font * 0.42, y: y - h / 2 + font * 0.36, "font-size": font }, words) : null;
    return [...shape, label].filter(Boolean);
  }

  fillSlab(m) {
    if (m.cur < 1) return;
    const h = this.height(m, m.cur), y = this.foot(m, m.cur), part = Math.min(1, m.elapsed_s / m.span_s(m.cur));
    const filled = m.loads[0] === null ? 0 : h * part;
    this.clip.setAttribute("y", String(y - filled));
    this.clip.setAttribute("height", String(filled));
  }

  trace(m, t, j) {
    const gaps = [], left = this.left(m, j), width = this.width(m);
    let d = "", head = null;
    const hatchUp = (from, to) => { if (from - to > 0.5) gaps.push(svg("rect", { class: "gap", fill: `url(#${this.id}h)`, x: left, y: to, width, height: from - to })); };
    m.loads.forEach((load, i) => {
      const n = i + 1, track = m.stages[String(load === null ? 0 : n)];
      if (!track || n > Math.max(m.cur, 1)) return;
      const y = this.foot(m, n), h = this.height(m, n), span = m.span_s(n);
      const at = (elapsed) => y - Math.min(1, elapsed / span) * h;
      let pen = false, before = null;
      for (const [elapsed, low, high] of track.rows) {
        const has = low[t.name] !== undefined, hole = before !== null && elapsed - before > GAP_BINS * track.step_s;
        if (!has) { pen = false; continue; }
        if (before !== null && (hole || !pen)) { hatchUp(at(before), at(elapsed)); pen = false; }
        const yy = at(elapsed).toFixed(1), a = this.x(m, t, j, low[t.name]), b = this.x(m, t, j, high[t.name]);
        d += `${pen ? "L" : "M"}${a.toFixed(1)} ${yy}${b - a > 0.5 ? `L${b.toFixed(1)} ${yy}` : ""}`;
        if (!pen && b - a <= 0.5) d += `h.1`;
        pen = true; before = elapsed; head = { x: b, y: at(elapsed), n };
      }
      if (n === m.cur && before !== null && m.elapsed_s - before > Math.max(2, GAP_BINS * track.step_s) && m.status !== "tripped") hatchUp(at(before), at(m.elapsed_s));
      if (n === m.cur && before === null && track.rows.length) hatchUp(y, at(m.elapsed_s));
    });
    return [...gaps, svg("path", { class: "trace", d }), ...this.head(m, t, j, head)];
  }

  head(m, t, j, head) {
    if (!head) return [];
    const { dot } = this.shape, { x, y } = head;
    if (m.status === "stale") return [svg("rect", { class: "gap", fill: `url(#${this.id}h)`, x: this.left(m, j), y: Math.max(0, y - this.tall(m) * 0.16), width: this.width(m), height: this.tall(m) * 0.16 })];
    if (m.status === "tripped") return [svg("path", { class: "head trip", d: `M${x - dot} ${y}L${x} ${y - dot}L${x + dot} ${y}L${x} ${y + dot}Z` })];
    if (!(t.name in m.now)) return [];
    const wall = t.warn ?? t.trip, xNow = this.x(m, t, j, m.now[t.name]);
    return [
      wall !== null && wall !== undefined ? svg("path", { class: "reach", d: `M${xNow} ${y}H${this.x(m, t, j, wall)}` }) : null,
      svg("circle", { class: "head", cx: xNow, cy: y, r: dot }),
    ].filter(Boolean);
  }
}

export function hatch(id) {
  return svg("pattern", { id, width: 8, height: 8, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
    svg("rect", { width: 8, height: 8, class: "h-bg" }), svg("rect", { width: 3, height: 8, class: "h-fg" }));
}

export function crossHatch(id) {
  return svg("pattern", { id, width: 10, height: 10, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
    svg("rect", { width: 10, height: 10, class: "h-bg" }), svg("path", { d: "M0 1H10M1 0V10", class: "h-ln" }));
}

// Everything the climb needs of a frame and a history.
export function climbModel(frame, standing, history, names, elapsed_s, tripped) {
  const run = frame.run, channels = frame.channels || {};
  const rowsEnd = (n) => history.stages[String(n)]?.rows.at(-1)?.[0] ?? 0;
  const setup = !(run?.loads_n || []).length, dwell = run?.dwell_s || 300;
  const elapsed = setup ? Math.max(rowsEnd(0), 0) : elapsed_s;
  return {
    loads: run?.loads_n || [], cur: run?.stage || 0, elapsed_s: elapsed,
    span_s: (n) => Math.max(dwell, setup ? rowsEnd(0) : rowsEnd(n), n === run?.stage ? elapsed : 0),
    status: tripped ? "tripped" : standing.blind || standing.silent_rig ? "stale" : "dwell",
    tracks: names.map((name) => ({ name, low: channels[name].low, high: channels[name].high, warn: channels[name].warn ?? null, trip: channels[name].trip ?? null })),
    stages: run && run.name === history.run ? history.stages : {},
    now: Object.fromEntries(names.filter((n) => channels[n].quality !== "bad" && channels[n].value !== null).map((n) => [n, channels[n].value])),
    version: history.version,
  };
}
