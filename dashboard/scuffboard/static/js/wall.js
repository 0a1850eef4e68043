// The wall: always the same five lines, always in the same place; read at five metres in two seconds.
import { Climb, climbModel, hatch } from "./climb.js";
import { byId, h, lines, put, setClass, setText, svg } from "./dom.js";
import * as facts from "./facts.js";
import { DASHES, short } from "./format.js";
import { History } from "./history.js";
import { mark, pulse } from "./marks.js";
import { Page } from "./page.js";
import { wallSizes } from "./sizes.js";

const page = new Page("wall"), history = new History();
const BAR_W = 560, LONG_WORDS = 10;

function line(id, fact, beside) {
  const node = byId(id), frames = fact.mark === "pulse" ? page.live.frames % 4 : 0;
  setClass(node, `line ${fact.cls}`.trim());
  const [sym, far, near] = ["sym", "far", "beside"].map((cls) => node.querySelector(`.${cls}`));
  put(sym, `${fact.mark}|${fact.markCls || ""}|${fact.letter || ""}|${frames}`, () =>
    fact.letter ? h("span", { class: "mu" }, fact.letter) : fact.mark === "pulse" ? pulse(frames) : h("span", { class: fact.markCls || "plainmark" }, mark(fact.mark)));
  put(far, `${fact.far}|${fact.light || ""}`, () => [fact.far, fact.light ? [" ", h("span", { class: "light" }, fact.light)] : null].flat().filter(Boolean));
  if (fact.reads) far.setAttribute("aria-label", fact.reads); else far.removeAttribute("aria-label");
  put(near, JSON.stringify(beside?.key ?? fact.beside), () => (beside ? beside.make() : lines(...(fact.beside || []))));
}

// limit bar: the fixed axis of the channel, warning dotted, trip solid, the reach to the warning drawn
function limitBar(channel, shown) {
  const x = (v) => (Math.max(0, Math.min(1, (v - channel.low) / (channel.high - channel.low))) * BAR_W);
  const has = (k) => channel[k] !== null && channel[k] !== undefined;
  const dead = !["live", "zero", "uncertain"].includes(shown.kind);
  const key = [shown.kind, dead ? "" : Math.round(x(channel.value)), channel.warn, channel.trip, shown.why];
  const label = dead ? `no current value: ${shown.why}` : `${shown.text} ${shown.unit || ""} of warning ${short(channel.warn)}, trip ${short(channel.trip)}`;
  return { key, make: () => h("div", { class: "reachbar" }, svg("svg", { viewBox: `0 0 ${BAR_W} 104`, role: "img", "aria-label": label },
    svg("defs", {}, hatch("barhatch")),
    svg("rect", { class: "bar-well", x: 0, y: 4, width: BAR_W, height: 40 }),
    dead ? svg("rect", { fill: "url(#barhatch)", x: 0, y: 4, width: BAR_W, height: 40 })
      : [svg("rect", { class: "bar-fill", x: 0, y: 4, width: x(channel.value), height: 40 }), svg("path", { class: "bar-now", d: `M${x(channel.value)} 0V48` })],
    has("warn") ? svg("path", { class: "bar-warn", d: `M${x(channel.warn)} -4V52` }) : null,
    has("trip") ? svg("path", { class: "bar-trip", d: `M${x(channel.trip)} -4V52` }) : null,
    dead ? barWord(0, shown.why, "start") : barWords(channel, x, has))) };
}

const barWord = (v, words, anchor) => svg("text", { class: "bar-word", x: v, y: 92, "text-anchor": anchor }, words);

// two limits close together share one caption, so that they never overprint
function barWords(channel, x, has) {
  const place = barWord, w = `warn ${short(channel.warn)}`, t = `trip ${short(channel.trip)}`;
  if (!has("warn") && !has("trip")) return place(0, "no limit set", "start");
  if (!has("trip")) return place(Math.min(BAR_W - 90, Math.max(90, x(channel.warn))), w, "middle");
  if (!has("warn")) return place(Math.min(BAR_W - 90, Math.max(90, x(channel.trip))), t, "middle");
  if (x(channel.trip) - x(channel.warn) < 138 || x(channel.trip) > BAR_W - 120) return place(BAR_W, `${w}, ${t}`, "end");
  return [place(Math.max(90, x(channel.warn)), w, "middle"), place(x(channel.trip) + 34, t, "middle")];
}

function valueLine(frame, standing) {
  const name = facts.mainChannel(frame);
  if (!name) { line("value", { cls: "demoted", letter: "µ", far: DASHES, reads: "no current value", beside: [] }); return; }
  const channel = frame.channels[name], shown = facts.reading(name, frame, standing, history.lastGood), tripped = facts.isRealTrip(frame.permit) && !standing.blind;
  const dead = ["stale", "undefined", "nodata"].includes(shown.kind);
  const fact = { cls: dead || shown.kind === "bad" ? "demoted" : "", far: shown.text, light: channel.unit === "r/min" ? "rpm" : shown.unit,
    reads: dead ? "no current value" : shown.kind === "bad" ? "bad value" : null };
  if (name === "friction_coefficient") fact.letter = "µ"; else fact.mark = name === "ring_speed_rpm" ? "ring" : "info";
  if (shown.kind === "bad") fact.light = shown.unit;
  const node = byId("value");
  if (node.getAttribute("aria-label") !== channel.label) node.setAttribute("aria-label", channel.label);
  if (tripped) { line("value", { ...fact, beside: turning(name, shown) }); return; }
  if (shown.kind === "bad") { line("value", { ...fact, beside: ["BAD", shown.why] }); return; }
  if (shown.kind === "undefined" || shown.kind === "nodata") { line("value", { ...fact, beside: ["no value:", shown.why] }); return; }
  line("value", fact, limitBar(channel, shown));
}

function turning(name, shown) {
  if (name === "ring_speed_rpm") return shown.kind === "zero" ? ["measured zero:", "the ring stands"] : shown.kind === "live" ? ["the ring", "still turns"] : ["speed not known:", "look at the ring"];
  return [name === "motor_current_a" ? "motor current" : "", shown.kind === "zero" ? "measured zero" : "look at the ring"];
}

function chart(frame, standing) {
  const name = ["friction_coefficient", "friction_force_n", "motor_current_a", ...Object.keys(frame?.channels || {})].find((n) => frame?.channels?.[n]);
  const host = byId("climb"), lost = standing.state === "lost";
  setClass(byId("chart"), lost ? "chart gone" : "chart");
  if (!frame || !name || lost) return;
  const channel = frame.channels[name], open = !!frame.run;
  setText(byId("axis"), `${channel.label} ${short(channel.low)}–${short(channel.high)}${channel.unit ? ` ${channel.unit}` : ""}`);
  setText(byId("gutter"), open ? "load" : "");
  setClass(byId("norun"), open ? "norun gone" : "norun");
  setClass(host, open ? "" : "gone");
  if (!open) return;
  chart.climb ??= new Climb(host, { w: 556, h: 832, gutter: 176, slab: 62, font: 36, dot: 11, gap: 10 });
  const model = climbModel(frame, standing, history, [name], facts.stageElapsed(frame), facts.isRealTrip(frame.permit) && !standing.blind);
  const stages = frame.run.loads_n.length;
  chart.climb.draw({ ...model, label: `Load stages: stage ${frame.run.stage} of ${stages}. ${channel.label} ${model.status === "stale" ? "not current" : "drawn for each stage"}.` });
}

function near(frame, standing) {
  const words = facts.nearWords(frame, standing);
  if (words) { put(byId("near"), JSON.stringify(words), () => [h("span", { class: "strong" }, words[0]), " ", words[1]]); return; }
  const run = frame.run, bath = run?.bath_volume_ml ? `bath ${short(run.bath_volume_ml)}\u00a0mL · ` : "";
  const second = `${run ? `${run.name} · ` : ""}${bath}${standing.now}`;
  put(byId("near"), `${facts.lubricantWords(run)}|${second}`, () => [h("span", { class: "strong" }, facts.lubricantWords(run)), h("br"), `${second} `, h("span", { class: "nb" }, standing.zone)]);
}

function band(standing) {
  const node = byId("noconn");
  node.hidden = standing.state !== "lost";
  if (node.hidden) return;
  const why = standing.full ? `This server already feeds ${standing.full} screens, as many as it is set for.` : "This screen cannot reach the rig's computer.";
  setText(byId("noconn-why"), `${why} Look at the rig. ${standing.retry_s === null ? "Trying again." : `Trying again in ${standing.retry_s} s.`}`);
}

page.onFrame((frame) => history.accept(frame)).onDraw((frame, standing) => {
  line("permit", facts.permitFact(frame, standing));
  const cause = facts.causeFact(frame, standing);
  line("cause", cause.far.length > LONG_WORDS ? { ...cause, beside: [] } : cause);
  line("run", facts.runFact(frame, standing));
  valueLine(frame, standing);
  line("data", facts.dataFact(frame, standing));
  chart(frame, standing);
  near(frame, standing);
  band(standing);
  byId("simframe").hidden = !frame?.simulated;
});
wallSizes();
page.start();
