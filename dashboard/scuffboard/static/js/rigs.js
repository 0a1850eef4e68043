// All rigs, a tile each. Read only: who needs a person stands first and in the largest letters; nothing jumps about.
import { byId, h, lines, put, setClass, setText } from "./dom.js";
import { Moving } from "./liveness.js";
import { mark, pulse } from "./marks.js";
import { Page } from "./page.js";
import { callFact, callers, listFact, moreFact, nearWords, tileFact } from "./rig_facts.js";
import { gridOf, tilesInSight } from "./rig_grid.js";
import { wallSizes } from "./sizes.js";

const page = new Page("rigs", "/rigs"), moving = new Moving(), tiles = new Map();
const LOOKS = { trip: "f-trip unack", warn: "f-warn unack", stale: "f-void", bad: "f-void" };

function sign(name, cls = "") { return h("span", { class: cls || "plainmark" }, mark(name)); }

function makeTile() {
  const part = (tag, cls) => h(tag, { class: cls });
  const node = part("li", "tile"), parts = {};
  for (const [tag, name] of [["h2", "name"], ["span", "sim"], ["span", "age"], ["span", "sym"], ["b", "permit"], ["p", "cause"], ["p", "run"]]) parts[name] = part(tag, `t-${name}`);
  node.append(h("div", { class: "t-head" }, parts.name, parts.sim, parts.age), h("div", { class: "t-state" }, parts.sym, parts.permit), parts.cause, parts.run);
  return { node, parts };
}

function drawTile({ node, parts }, rig, fact) {
  setClass(node, ["tile", `is-${fact.look || "plain"}`, LOOKS[fact.look] || "", fact.quiet ? "quiet" : "", rig.simulated ? "simulated" : ""].filter(Boolean).join(" "));
  setText(parts.name, rig.name);
  put(parts.sim, `${rig.simulated}`, () => (rig.simulated ? [mark("sim"), h("span", { class: "tag" }, "SIMULATED")] : []));
  put(parts.age, `${fact.word || ""}|${fact.age}`, () => [fact.word ? h("span", { class: "t-word" }, `${fact.word} `) : null, fact.age]);
  put(parts.sym, `${fact.mark}|${fact.markCls || ""}`, () => sign(fact.mark, fact.markCls));
  setText(parts.permit, fact.permit);
  if (fact.reads) parts.permit.setAttribute("aria-label", fact.reads); else parts.permit.removeAttribute("aria-label");
  put(parts.cause, `${fact.alarmMark}|${fact.alarm}`, () => [fact.alarmMark ? sign(fact.alarmMark) : null, h("span", { class: "t-words" }, fact.alarm)]);
  setClass(parts.cause, fact.calm ? "t-cause calm-words" : "t-cause");
  put(parts.run, fact.run, () => h("span", { class: "t-words" }, fact.run));
}

// Tiles are kept by what makes them one rig, and moved only where their place in the order has changed.
function drawTiles(frame, list, facts) {
  const host = byId("tiles"), all = frame?.rigs || [], rigs = all.slice(0, tilesInSight(all.length)), here = new Set(rigs.map((rig) => rig.key));
  for (const [key, { node }] of tiles) if (!here.has(key)) { node.remove(); tiles.delete(key); }
  rigs.forEach((rig, i) => {
    if (!tiles.has(rig.key)) tiles.set(rig.key, makeTile());
    const tile = tiles.get(rig.key);
    drawTile(tile, rig, facts.get(rig.key));
    if (host.children[i] !== tile.node) host.insertBefore(tile.node, host.children[i] || null);
  });
  drawMore(host, rigs.length < all.length ? moreFact(frame, list, facts, rigs) : null);
  fit(host, rigs.length + (rigs.length < all.length ? 1 : 0));
}

function drawMore(host, fact) {
  const node = byId("more") || h("li", { class: "tile is-more", id: "more" }, h("h2", { class: "t-head" }), h("p", { class: "t-cause" }));
  if (!fact) { node.remove(); return; }
  setClass(node, `tile is-more ${fact.calling ? "f-void" : ""}`.trim());
  setText(node.firstChild, fact.name);
  setText(node.lastChild, fact.says);
  if (host.lastElementChild !== node) host.append(node);
}

function fit(host, count) {
  const box = host.getBoundingClientRect(), key = `${count}|${Math.round(box.width)}|${Math.round(box.height)}`;
  if (fit.key === key || !count) return;
  fit.key = key;
  const grid = gridOf(count, box.width, box.height, Math.min(innerWidth, (innerHeight * 16) / 9) / 1920);
  host.style.setProperty("--columns", grid.columns);
  host.style.setProperty("--rows", grid.rows);
  host.dataset.level = grid.level;
}

function drawCall(call) {
  const node = byId("call"), [sym, far, beside] = ["sym", "far", "beside"].map((cls) => node.querySelector(`.${cls}`));
  setClass(node, `line ${call.cls}`.trim());
  put(sym, call.mark, () => sign(call.mark));
  put(far, `${call.far}|${call.light}`, () => [call.far, call.light ? [" ", h("span", { class: "light" }, call.light)] : null].flat().filter(Boolean));
  put(beside, JSON.stringify(call.beside), () => lines(...call.beside));
}

function drawFoot(frame, standing, list, facts) {
  const dead = list.state !== "live", large = !frame?.rigs.length && !!list.says, [strong, rest] = large ? ["", ""] : nearWords(frame, list, facts);
  put(byId("pulse"), `${page.live.frames % 4}|${dead}`, () => pulse(page.live.frames, dead));
  setText(byId("now"), dead ? "" : `${standing.now} ${standing.zone}`);
  put(byId("near"), `${strong}|${rest}`, () => [h("span", { class: "strong" }, strong), rest ? [h("br"), rest] : null].flat().filter(Boolean));
  byId("says").hidden = !large;
  setText(byId("says"), list.says);
}

function drawLost(standing) {
  const node = byId("noconn");
  node.hidden = standing.state !== "lost";
  if (node.hidden) return;
  const why = standing.full ? `This server already feeds ${standing.full} screens, as many as it is set for.` : "This screen cannot reach the server of the pages.";
  setText(byId("noconn-why"), `${why} Look at the rigs. ${standing.retry_s === null ? "Trying again." : `Trying again in ${standing.retry_s} s.`}`);
}

page.words = (standing) => {
  const list = page.list;
  if (standing.state === "lost") return ["No connection. Display not valid. Look at the rigs.", true];
  if (!list || list.state === "waiting") return ["", false];
  if (list.blind) return [`No rig is known. ${list.says}`, true];
  const calling = callers(page.frame, page.facts).length;
  return calling ? [`${calling} of ${page.frame.rigs.length} rigs. ${nearWords(page.frame, list, page.facts)[0]}`, true] : ["No alarm.", false];
};

page.onFrame((frame) => moving.look(`${frame.server}|${frame.list.moved}`, frame.list.still_s, performance.now()));
page.onDraw((frame, standing) => {
  const list = listFact(frame, standing, (moving.age_ms(performance.now()) + page.live.delay_ms) / 1000);
  const facts = new Map((frame?.rigs || []).map((rig) => [rig.key, tileFact(rig, frame, list)]));
  page.list = list;
  page.facts = facts;
  drawCall(callFact(frame, list, facts));
  drawTiles(frame, list, facts);
  drawFoot(frame, standing, list, facts);
  drawLost(standing);
  document.documentElement.dataset.list = list.state;
});
wallSizes();
page.start();
