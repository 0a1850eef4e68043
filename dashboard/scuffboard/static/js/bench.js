// The bench: the five facts in one row, the climb with a track for each channel the rig has, then what to do next.
import { Climb, climbModel } from "./climb.js";
import { byId, h, put, setClass, setText } from "./dom.js";
import * as facts from "./facts.js";
import { clock, mmss, short } from "./format.js";
import { History } from "./history.js";
import { mark, pulse } from "./marks.js";
import { Page } from "./page.js";
import { drawSigns } from "./signs.js";
import { nearSizes } from "./sizes.js";
import { Spark } from "./spark.js";
import { drawers, setUp } from "./bench_acts.js";
import { zeroing } from "./zero.js";

const page = new Page("bench"), history = new History(), phone = matchMedia("(max-width: 720px)");
const SHORT_NAMES = { friction_coefficient: "Friction", motor_current_a: "Current", sound_level_db: "Sound", pin_temperature_degc: "Pin temp.", bath_temperature_degc: "Bath temp.", normal_load_n: "Load", friction_force_n: "Force", ring_speed_rpm: "Speed" };
const TRACKS_MOST = 8, TRACKS_WIDE = 4, TRACKS_PHONE = 4;
const RANK = ["friction_coefficient", "motor_current_a", "sound_level_db", "pin_temperature_degc", "bath_temperature_degc", "normal_load_n", "friction_force_n", "ring_speed_rpm"];

function fact(id, extra, f, words, small) {
  const node = byId(id), frames = f.mark === "pulse" ? page.live.frames % 4 : 0;
  setClass(node, `fact ${extra} ${f.cls}`.replace(/\s+/g, " ").trim());
  put(node, JSON.stringify([f.mark, f.markCls, f.far, f.light, words, small, frames]), () => [
    h("span", { class: f.markCls || "plainmark" }, f.mark === "pulse" ? pulse(frames) : mark(f.mark)),
    h("span", {}, h("b", {}, words ?? f.far, f.light ? [" ", h("span", { class: "light" }, f.light)] : null), small ? h("small", {}, small) : null)]);
}

// the data fact says when; the others need not say it again
const blind = (f) => (f.cls === "demoted" ? f.beside[0] : "");

function factRow(frame, standing) {
  const permit = facts.permitFact(frame, standing), cause = facts.causeFact(frame, standing), run = facts.runFact(frame, standing), data = facts.dataFact(frame, standing);
  fact("f-permit", "", permit, permit.far, permit.since || blind(permit) || permit.beside.join(" "));
  fact("f-cause", "", cause, cause.far, cause.since || (cause.cls === "f-act" ? "at the rig, then let go" : blind(cause) || cause.beside.join(", ")));
  const open = frame?.run, stage = open && !standing.blind && open.stage;
  const off = stage && facts.offPlan(frame);
  const small = off ? `${off.measured}\u00a0N hang, plan ${off.planned}\u00a0N` : !open || standing.blind ? blind(run) || run.beside.join(" ") : `${stage && open.loads_n?.length ? `${short(open.loads_n[open.stage - 1])}\u00a0N · ` : ""}${facts.lubricantWords(open)}`;
  const far = stage && open.loads_n?.length ? `Stage ${open.stage} of ${open.loads_n.length}` : run.far;
  fact("f-run", "runfact", { ...run, light: run.light && stage && !run.light.startsWith("+") && !facts.isRealTrip(frame.permit) && open.dwell_s ? `${run.light} left` : run.light ?? run.openFor }, far, small);
  const store = frame && facts.storeShort(frame);
  fact("f-data", "", data, data.far, store || (standing.blind || standing.silent_rig ? data.beside.join(" ") : `${standing.now} ${standing.zone}`));
}

function channelNames(frame) {
  const names = Object.keys(frame.channels || {}), rank = (n) => (RANK.indexOf(n) + 1 || RANK.length + 1);
  const limited = (n) => (frame.channels[n].warn ?? frame.channels[n].trip ?? null) !== null;
  const first = names.filter((n) => limited(n) || n === "friction_coefficient"), rest = names.filter((n) => !first.includes(n));
  const most = phone.matches ? TRACKS_PHONE : TRACKS_MOST;
  return [...first.sort((a, b) => rank(a) - rank(b)), ...rest.sort((a, b) => rank(a) - rank(b))].slice(0, most);
}

const heads = new Map();

function head(name, channel) {
  const node = h("section", { class: "head", "aria-label": channel.label, "data-channel": name },
    h("h2", {}, h("span", { class: "long" }, channel.label), h("span", { class: "brief" }, SHORT_NAMES[name] || channel.label)),
    h("div", { class: "val" }), h("div", { class: "sparkbox" }), h("div", { class: "to" }));
  return { node, val: node.querySelector(".val"), to: node.querySelector(".to"), spark: new Spark(node.querySelector(".sparkbox")) };
}

const READS = { stale: "no current value", undefined: "no value", bad: "bad value" };

function drawHead(name, frame, standing) {
  const channel = frame.channels[name], made = heads.get(name), shown = facts.reading(name, frame, standing, history.lastGood);
  const numeric = ["live", "zero", "uncertain"].includes(shown.kind);
  const to = numeric ? (shown.kind === "uncertain" ? { text: shown.why } : facts.distance(channel, shown)) : { text: shown.why };
  const cls = { bad: "bad", stale: "demoted", undefined: "demoted", nodata: "nodata", uncertain: "uncertain" }[shown.kind] || "";
  const over = numeric && channel.trip !== null && channel.trip !== undefined && channel.value > channel.trip;
  setClass(made.node, `head ${cls} ${over ? "over" : to.hot ? "hot" : ""}`.replace(/\s+/g, " ").trim());
  put(made.val, `${shown.kind}|${shown.text}`, () => [h("span", { "aria-label": READS[shown.kind], role: READS[shown.kind] ? "img" : null }, shown.text), shown.unit ? h("i", {}, shown.unit) : null].filter(Boolean));
  put(made.to, `${shown.kind}|${to.text}`, () => (shown.kind === "bad" ? [h("span", { class: "why" }, "BAD"), ` ${to.text}`] : [to.text]));
  made.spark.draw(channel, history.recent.map(([, values]) => values[name]), shown.kind, history.version);
}

function headRow(frame, standing) {
  const names = channelNames(frame), host = byId("heads");
  if (put(host, names.join("|"), () => {
    heads.clear();
    for (const name of names) heads.set(name, head(name, frame.channels[name]));
    return [h("div", { class: "gutterhead" }, h("span", { class: "key" }, h("i", {}), "warning"), h("span", { class: "key trip" }, h("i", {}), "trip"), h("b", { id: "load-word" }, "load")), ...names.map((n) => heads.get(n).node)];
  })) host.style.gridTemplateColumns = `${gutter() - 10}px repeat(${names.length}, minmax(0, 1fr))`;
  setClass(host, names.length > TRACKS_WIDE ? "heads many" : "heads");
  for (const name of names) drawHead(name, frame, standing);
  return names;
}

const gutter = () => (phone.matches ? 74 : 132);

let climb = null, shapeKey = "";

function climbShape() {
  const host = byId("climb"), w = host.clientWidth, free = phone.matches ? 430 : host.clientHeight;
  return { w, h: Math.max(phone.matches ? 430 : 200, free), gutter: gutter(), slab: phone.matches ? 20 : 42, font: phone.matches ? 15 : 19, gap: phone.matches ? 6 : 10, dot: phone.matches ? 4 : 6, thin: true };
}

function log(frame, standing) {
  const open = !!frame.run, host = byId("climb"), lost = standing.state === "lost";
  byId("setup").hidden = open || lost;
  byId("acts").hidden = !open;
  for (const button of byId("acts").children) button.disabled = lost;
  setClass(host, open && !lost ? "" : "gone");
  const names = headRow(frame, standing);
  setClass(byId("load-word"), open ? "" : "gone");
  drawSigns(byId("signs"), frame, standing);
  if (!open || lost || !host.clientWidth) return;
  const shape = climbShape(), key = JSON.stringify(shape);
  if (key !== shapeKey) { shapeKey = key; if (climb) climb.resize(shape); else climb = new Climb(host, shape); }
  climb.draw({ ...climbModel(frame, standing, history, names, facts.stageElapsed(frame), facts.isRealTrip(frame.permit) && !standing.blind), label: `Load stages with ${names.length} channels. Stage ${frame.run.stage} of ${frame.run.loads_n.length}.` });
}

function locks(frame, standing) {
  const list = (frame?.interlocks || []).map((lock) => {
    if (standing.blind || standing.silent_rig || lock.state === "unknown") return { cls: "dim", mark: "wait", name: lock.name, word: "not known" };
    if (lock.key === "contactor") return { cls: "", mark: lock.state === "closed" ? "held" : "none", name: lock.name, word: lock.state };
    return { cls: lock.state === "closed" ? "" : "open", mark: lock.state === "closed" ? "held" : "open", name: lock.name, word: lock.state };
  });
  put(byId("locks"), JSON.stringify(list), () => list.map((l) => h("li", { class: l.cls }, mark(l.mark), h("span", {}, l.name), h("em", {}, l.word))));
}

async function acknowledge(key, button) {
  button.disabled = true;
  const { says } = await page.command("acknowledge", { alarm_key: key });
  button.disabled = false;
  tell(says);
}

function alarmCard(frame, alarm, permit) {
  const trip = alarm ? alarm.priority === "T" : true, zone = frame.utc_offset_s;
  const waits = alarm ? facts.isUnacknowledged(alarm) : !permit.acknowledged;
  const says = facts.isRealTrip(permit) ? permit.first_out.says : alarm.says;
  const words = facts.isRealTrip(permit) ? `First-out ${clock(permit.first_out.t_wall_utc_s, zone)}. ${says} Permit ${facts.permitVerb(permit.first_out)}.` : `Since ${clock(alarm.since_utc_s, zone)}. ${says}`;
  const act = alarm?.action || "Let the ring stop, find the cause, then reset at the rig.";
  const key = JSON.stringify(["card", alarm?.key, waits, words, act, permit.recorded]);
  return { key, make: () => [h("section", { class: `card ${trip ? "f-trip" : "f-warn"} ${waits ? "unack" : ""}` },
    h("div", { class: "top" }, mark(trip ? "T" : "W"), h("b", {}, facts.isRealTrip(permit) ? facts.shortCause(permit.first_out) : alarm.short_name)),
    h("p", {}, words, permit.recorded === false ? " Not yet recorded." : null), waits ? h("p", { class: "strong" }, act) : null,
    waits ? h("button", { class: "btn", type: "button", onclick: (e) => acknowledge(alarm?.key || "", e.currentTarget) }, "Acknowledge")
      : h("p", {}, trip ? "Acknowledged. Stands until reset at the rig." : "Acknowledged. Stands until it is gone."))] };
}

function prompt(frame, standing) {
  const box = (title, text, cls = "prompt") => ({ key: JSON.stringify([cls, title, text]), make: () => [h("section", { class: cls }, h("b", {}, title), text)] });
  if (standing.state === "lost" || standing.state === "waiting" || !frame) return { key: "none", make: () => [] };
  if (standing.state === "stale") return box("The core is silent", "If it has stopped, the permit has lapsed. This screen cannot confirm it. Look at the rig.");
  const permit = frame.permit || {}, list = facts.standingAlarms(frame);
  const top = list.find((a) => a.priority !== "N");
  if (facts.isRealTrip(permit)) return needsUnder(alarmCard(frame, facts.firstOutAlarm(frame), permit), permit);
  if (top) return alarmCard(frame, top, permit);
  if (standing.silent_rig) return box("The rig box is silent", "Values are not current. Check the cable at the rig box. Look at the rig.");
  if (facts.storeWords(frame)) return box("Not recording", `${frame.store.error || "The store takes nothing."} What is shown is live, but is not kept.`);
  if (permit.state === "tripped") return needsCard(permit);
  return box(...nextAct(frame));
}

function needsUnder(card, permit) {
  if (!permit.acknowledged) return card;
  const needs = needsCard(permit);
  return { key: card.key + needs.key, make: () => [...card.make(), ...needs.make()] };
}

function needsCard(permit) {
  const needs = permit.needs || [], met = needs.filter((n) => n.met).length, ready = facts.onlyResetMissing(permit);
  return { key: JSON.stringify(["needs", needs, ready]), make: () => [h("section", { class: ready ? "waitbox f-act" : "prompt" },
    ready ? h("b", {}, mark("act"), " Press reset at the rig") : h("b", {}, "Before the permit"),
    ready ? h("p", {}, "It acts when you let go. Starting is a separate act, at the rig.")
      : h("ul", { class: "needs" }, met ? h("li", { class: "met" }, mark("held"), h("span", {}, `${met} of ${needs.length} met`)) : null, needs.filter((n) => !n.met).map((n) => h("li", { class: "unmet" }, mark("wait"), h("span", {}, n.says)))))] };
}

function nextAct(frame) {
  const run = frame.run;
  if (!run) return ["No run is open", "Open one to go on."];
  if (!run.loads_n?.length) return ["Setup run", "Every limit is armed. End the run when you are done; it is never compared."];
  if (!run.stage) return [`Add weight 1, ${short(run.loads_n[0])}\u00a0N`, "Lower it without shock, then press mark: the dwell starts when the load settles."];
  const off = facts.offPlan(frame);
  if (off) return ["Not the plan's load", `${off.measured}\u00a0N hang there; stage ${run.stage} has ${off.planned}\u00a0N in the plan. Hang what the plan says, or end the run and open another.`];
  const left = (run.dwell_s || 0) - facts.stageElapsed(frame), next = run.loads_n[run.stage];
  if (next === undefined) return left > 0 ? [`In ${mmss(left)} the plan ends`, "The last weight is on."] : ["The plan is done", "End the run, unload, count the weights, read the zero."];
  return left > 0 ? [`In ${mmss(left)} add weight ${run.stage + 1}`, `to ${short(next)}\u00a0N. Lower it without shock; the dwell starts when the load settles.`] : [`Add weight ${run.stage + 1} now`, `to ${short(next)}\u00a0N. Lower it without shock, then press mark.`];
}

function band(standing) {
  const node = byId("noconn");
  node.hidden = standing.state !== "lost";
  if (node.hidden) return;
  const why = standing.full ? `This server already feeds ${standing.full} screens, as many as it is set for.` : "This screen cannot reach the rig's computer.";
  setText(byId("noconn-why"), `${why} Look at the rig. ${standing.retry_s === null ? "Trying again." : `Trying again in ${standing.retry_s} s.`}`);
}

function tell(text) { setText(byId("told"), text); }

page.onFrame((frame) => history.accept(frame)).onDraw((frame, standing) => {
  factRow(frame, standing);
  band(standing);
  byId("simtag").hidden = !frame?.simulated;
  locks(frame, standing);
  const card = prompt(frame, standing);
  put(byId("say-card"), card.key, card.make);
  if (frame) log(frame, standing);
  zeros(frame, standing, history.lastGood);
});
nearSizes();
const zeros = zeroing(page);
drawers(page, tell);
setUp(page, tell);
page.start();
