// A run's plots: one row a channel, one time axis; a band from lowest to highest, a line for the mean, gaps left open.
import { byId, h, say, setText } from "./dom.js";
import { clock, fixed, mmss, short } from "./format.js";
import { deskPage } from "./desk.js";
import { verifying } from "./verify.js";

const data = JSON.parse(byId("run-data").textContent);
const phone = matchMedia("(max-width: 720px)").matches;
const host = byId("plots"), rows = [];
const AROUND_S = 15, LEAST_SPAN_S = 0.02, FETCH_MS = 120, AXIS_H = 34;
const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const view = { t0: data.t0_s, t1: data.t1_s };
const tripAt = data.marks.find((m) => m.kind === "tripped")?.t_s ?? null;
const HINT = `Line: mean. Grey band: lowest to highest. Hatched: nothing was recorded. Friction has a value only under load.${data.evidence.some((row) => row.lines.length) ? " Evidence: a bar at each finding, lines for the minute before it, against where a warning begins." : ""}`;
let asked = 0, timer = null, busy = false;

// run time, with fractions where the picture is short
function label(t) {
  const s = t - data.t0_s, span = view.t1 - view.t0, sign = s < -5e-4 ? "−" : "", a = Math.abs(s);
  if (span > 20) return sign + mmss(a + 1e-6);
  return `${sign}${Math.floor(a / 60)}:${(a % 60).toFixed(span > 2 ? 1 : 3).padStart(span > 2 ? 4 : 6, "0")}`;
}

function hatch(c, x0, x1, top, height, px) {
  c.save();
  c.beginPath(); c.rect(x0, top, x1 - x0, height); c.clip();
  c.strokeStyle = css("--mark"); c.lineWidth = 2 * px;
  for (let q = -height; q < x1 - x0 + height; q += 8 * px) { c.beginPath(); c.moveTo(x0 + q, top + height); c.lineTo(x0 + q + height, top); c.stroke(); }
  c.restore();
}

function drawUnder(u, row, first) {
  const c = u.ctx, { left, top, width, height } = u.bbox, px = devicePixelRatio, x = (t) => u.valToPos(t, "x", true), right = left + width;
  c.save();
  c.fillStyle = css("--sheet"); c.fillRect(left, top, width, height);
  c.strokeStyle = css("--rule"); c.lineWidth = px; c.fillStyle = css("--ink-2"); c.font = `${14 * px}px Rig`; c.textAlign = "center";
  for (const stage of data.stages) {
    const a = x(stage.t0_s), b = x(stage.t1_s ?? data.t1_s);
    if (a > left && a < right) { c.beginPath(); c.moveTo(a, top); c.lineTo(a, top + height); c.stroke(); }
    const l = Math.max(a, left), r = Math.min(b, right);
    if (first && r - l > 20 * px) c.fillText(String(stage.number), (l + r) / 2, top + 15 * px);
  }
  limits(u, row, c, px);
  for (const [a, b] of holes(row)) { const l = Math.max(left, x(a)), r = Math.min(right, x(b)); if (r > l) hatch(c, l, Math.max(r, l + 3 * px), top, height, px); }
  c.restore();
}

function limits(u, row, c, px) {
  const { left, width } = u.bbox;
  for (const [key, dash] of [["warn", [2 * px, 5 * px]], ["trip", []]]) {
    const value = row.channel[key];
    if (value === null) continue;
    const y = u.valToPos(value, "y", true);
    c.setLineDash(dash); c.strokeStyle = css("--mark"); c.lineWidth = 2 * px;
    c.beginPath(); c.moveTo(left, y); c.lineTo(left + width, y); c.stroke();
  }
  c.setLineDash([]);
}

const DASHES_OF_LINES = [[], [7, 4], [2, 4]], DASH_WORDS = ["line", "dashes", "dots"];
const lineWords = (lines) => lines.map((line, i) => `${DASH_WORDS[i % DASH_WORDS.length]}: ${line.label.toLowerCase()}`).join(", ");

const limitWords = (channel) => channel.points ? channel.lines.length > 1 ? lineWords(channel.lines) : "limit 1" : [["warn", "warn"], ["trip", "trip"]].filter(([key]) => channel[key] !== null).map(([key, word]) => `${word} ${short(channel[key])}`).join(", ");

// how near each kind came to its limit in the minute before a finding; a line breaks where it was not known
function drawLines(u, row) {
  const c = u.ctx, { left, top, width, height } = u.bbox, px = devicePixelRatio;
  c.save();
  c.beginPath(); c.rect(left, top - px, width, height + 2 * px); c.clip();
  c.strokeStyle = css("--trace"); c.lineWidth = 1.5 * px; c.lineJoin = "round";
  row.channel.lines.forEach((line, i) => {
    c.setLineDash(DASHES_OF_LINES[i % DASHES_OF_LINES.length].map((n) => n * px));
    c.beginPath();
    let pen = false;
    for (const [t, share] of line.points) {
      if (share === null) { pen = false; continue; }
      const x = u.valToPos(t, "x", true), y = u.valToPos(share, "y", true);
      if (pen) c.lineTo(x, y); else c.moveTo(x, y);
      pen = true;
    }
    c.stroke();
  });
  c.restore();
}

function drawOver(u, row, first) {
  const c = u.ctx, { left, top, width, height } = u.bbox, px = devicePixelRatio;
  if (row.channel.lines) drawLines(u, row);
  c.save();
  for (const mark of data.marks) {
    const at = u.valToPos(mark.t_s, "x", true);
    if (at < left || at > left + width) continue;
    const trip = mark.kind === "tripped";
    c.strokeStyle = css(trip ? "--trip-mark" : "--mark"); c.lineWidth = (trip ? 3 : 1.5) * px; c.setLineDash(trip ? [] : [3 * px, 4 * px]);
    c.beginPath(); c.moveTo(at, top); c.lineTo(at, top + height); c.stroke();
    if (first && trip && mark.t_s === tripAt) { c.setLineDash([]); c.fillStyle = css("--ink"); c.font = `600 ${15 * px}px Rig`; const flip = at - left < width / 2; c.textAlign = flip ? "left" : "right"; c.fillText("tripped", at + (flip ? 6 : -6) * px, top + height - 8 * px); }
  }
  c.restore();
}

// gaps the record names, and those that show in the values
function holes(row) {
  if (row.channel.points) return [];
  const named = data.gaps.filter((g) => g.channels.includes(row.channel.name) || (row.channel.name === "friction_coefficient" && g.channels.some((n) => n === "normal_load_n" || n === "friction_force_n")))
    .map((g) => [g.t0_s, g.t1_s ?? g.t0_s]);
  if (row.channel.name === "friction_coefficient") return named; // without load friction has no value, and nothing is missing
  const seen = [], t = row.values[0], mean = row.values[1];
  for (let i = 0; i < t.length; i++) {
    if (mean[i] !== null) continue;
    const from = t[Math.max(0, i - 1)];
    while (i + 1 < t.length && mean[i + 1] === null) i += 1;
    seen.push([from, t[Math.min(t.length - 1, i + 1)]]);
  }
  const covered = ([a, b]) => named.some(([c, d]) => a >= c - (b - a) && b <= d + (b - a));
  return [...named, ...seen.filter((hole) => !covered(hole))];
}

function range(row) {
  const highs = row.values[3].filter((v) => v !== null), lows = row.values[2].filter((v) => v !== null);
  const { low, high } = row.channel;
  if (row.channel.name === "friction_coefficient") return [0, Math.max(0.4, ...highs.length ? [Math.max(...highs)] : [])];
  if (low !== null && high !== null) return [low, high];
  return highs.length ? [Math.min(...lows), Math.max(...highs)] : [0, 1];
}

function makeRow(channel, i) {
  const read = h("span", { class: "read" }), node = h("div", { class: "plotrow" }, h("div", { class: "plotname" }, h("b", {}, `${channel.label}${channel.unit ? `, ${channel.unit}` : ""}`), read));
  host.append(node);
  const row = { channel, node, read, values: [[], [], [], []], fixedRange: null };
  const axis = { stroke: () => css("--ink-2"), font: "16px Rig", grid: { show: false }, ticks: { stroke: () => css("--mark"), width: 1, size: 5 } };
  const last = i === data.channels.length + data.evidence.length - 1, stems = !!channel.points;
  row.plot = new globalThis.uPlot({
    width: host.clientWidth, height: (stems ? 96 : phone ? 116 : 134) + (last ? 24 : 0), padding: [10, 8, last ? 0 : 10, 0], legend: { show: false },
    cursor: { sync: { key: "run" }, drag: { x: true, y: false }, points: { show: false } },
    scales: { x: { time: false, range: () => [view.t0, view.t1] }, y: { range: () => row.fixedRange ?? [0, 1] } },
    axes: [{ ...axis, show: last, size: AXIS_H, space: 90, values: (u, v) => v.map(label) },
      { ...axis, size: phone ? 48 : 58, gap: 4, splits: () => { const [a, b] = row.fixedRange ?? [0, 1]; return [a, (a + b) / 2, b]; }, values: (u, v) => v.map((x) => fixed(x, Math.abs(row.fixedRange?.[1] ?? 1) <= 1 ? 2 : Number.isInteger(x) ? 0 : 1)) }],
    series: [{}, stems ? { stroke: () => css("--trace"), fill: () => css("--trace"), width: 0, paths: globalThis.uPlot.paths.bars({ size: [0.5, 5, 5] }), points: { show: false } } : { stroke: () => css("--trace"), width: 1.5, spanGaps: false, points: { show: false } }, { stroke: null, points: { show: false }, spanGaps: false }, { stroke: null, points: { show: false }, spanGaps: false }],
    bands: [{ series: [3, 2], fill: () => `${css("--trace")}40` }],
    hooks: { drawClear: [(u) => drawUnder(u, row, i === 0)], draw: [(u) => drawOver(u, row, i === 0)], setCursor: [(u) => readOut(u, row)],
      setSelect: [(u) => { if (u.select.width > 4) show(u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x"), null); u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false); }] },
  }, row.values, node);
  setText(read, limitWords(channel));
  row.plot.root.querySelector("canvas").setAttribute("aria-hidden", "true");
  return row;
}

function readOut(u, row) {
  const i = u.cursor.idx, t = row.values[0][i ?? -1], mean = row.values[1][i ?? -1];
  if (t === undefined) { setText(row.read, limitWords(row.channel)); return; }
  const unit = row.channel.unit ? ` ${row.channel.unit}` : "", at = data.wall_offset_s === null ? "" : `, ${clock(t + data.wall_offset_s, data.utc_offset_s)}`;
  setText(row.read, `${label(t)}${at}: ${mean === null ? "no value" : `${fixed(mean, row.channel.digits)}${unit}`}`);
}

// what was seen at single moments: a bar at each; what never spoke has its lines alone, over an empty axis
function setPoints(row) {
  const points = row.channel.points.length ? row.channel.points : [[data.t0_s, null], [data.t1_s, null]];
  const column = (k) => points.map((point) => point[k]), none = points.map(() => null);
  row.values = [column(0), column(1), none, none];
  row.fixedRange = [0, row.channel.high];
  row.plot.setData(row.values, true);
}

async function fetchRow(row, turn) {
  if (row.channel.points) { setPoints(row); return; }
  const points = Math.min(2000, Math.max(200, Math.round(host.clientWidth * 1.0)));
  const query = new URLSearchParams({ channel: row.channel.name, t0: view.t0, t1: view.t1, points });
  const got = await (await fetch(`/runs/${encodeURIComponent(data.name)}/envelope?${query}`, { cache: "no-store" })).json();
  if (turn !== asked) return;
  row.values = [got.t_s, got.mean, got.low, got.high];
  row.fixedRange ??= range(row);
  row.plot.setData(row.values, true);
}

async function refresh() {
  const turn = (asked += 1);
  try { for (const row of rows) await fetchRow(row, turn); setText(byId("plothint"), HINT); } catch { setText(byId("plothint"), "The plots could not be read: the page server does not answer. What is drawn may be from before."); }
}

function show(t0, t1, pressed) {
  if (busy) return;
  busy = true;
  const span = Math.max(LEAST_SPAN_S, t1 - t0), mid = (t0 + t1) / 2;
  view.t0 = mid - span / 2; view.t1 = mid + span / 2;
  for (const row of rows) row.plot.setScale("x", { min: view.t0, max: view.t1 });
  const words = `${label(view.t0)} to ${label(view.t1)}`;
  setText(byId("zspan"), words);
  for (const button of document.querySelectorAll("[data-z]")) if (VIEWS[button.dataset.z]) button.setAttribute("aria-pressed", String(button.dataset.z === pressed));
  busy = false;
  clearTimeout(timer);
  timer = setTimeout(refresh, FETCH_MS);
  return words;
}

const trip = tripAt, lastStage = data.stages.at(-1);
const VIEWS = {
  all: [data.t0_s, data.t1_s],
  stage: lastStage ? [lastStage.t0_s, lastStage.t1_s ?? data.t1_s] : null,
  minute: [Math.max(data.t0_s, (trip ?? data.t1_s) - 57), (trip ?? data.t1_s) + 3],
  trip: trip === null ? null : [trip - 1.5, trip + 1.5],
};
const MOVES = { in: (s) => [s * 0.25, 0], out: (s) => [s, 0], left: (s) => [s / 2, -s / 2], right: (s) => [s / 2, s / 2] };

function start() {
  [...data.channels, ...data.evidence].forEach((channel, i) => rows.push(makeRow(channel, i)));
  for (const button of document.querySelectorAll("[data-show]")) {
    button.addEventListener("click", () => { const t = Number(button.dataset.show); say(`Shown: ${show(t - AROUND_S, t + AROUND_S, null)}.`); host.scrollIntoView({ block: "start" }); });
  }
  verifying(data.name);
  for (const button of document.querySelectorAll("[data-z]")) {
    const z = button.dataset.z;
    if (z in VIEWS && !VIEWS[z]) { button.disabled = true; continue; }
    button.addEventListener("click", () => {
      if (VIEWS[z]) { say(`Shown: ${show(...VIEWS[z], z)}.`); return; }
      const mid = (view.t0 + view.t1) / 2, [half, shift] = MOVES[z](view.t1 - view.t0);
      say(`Shown: ${show(mid + shift - half, mid + shift + half, null)}.`);
    });
  }
  const first = VIEWS[new URLSearchParams(location.search).get("zoom")] ? new URLSearchParams(location.search).get("zoom") : "all";
  show(...VIEWS[first], first);
  document.fonts.ready.then(() => rows.forEach((row) => row.plot.redraw(false, true)));
  addEventListener("resize", () => rows.forEach((row) => row.plot.setSize({ width: host.clientWidth, height: row.plot.height })));
  new MutationObserver(() => rows.forEach((row) => row.plot.redraw(false, true))).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
}
start();
deskPage("run").start();
