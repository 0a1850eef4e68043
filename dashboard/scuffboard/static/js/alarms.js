// What waits, in which order, and what to do. Filled: waiting for you; framed: answered. Reset is another act, at the rig.
import { byId, h, put, setText } from "./dom.js";
import * as facts from "./facts.js";
import { clock, mmss, plural } from "./format.js";
import { mark } from "./marks.js";
import { deskPage } from "./desk.js";

const page = deskPage("alarms");

function within(seconds) {
  if (!seconds) return null;
  if (seconds < 120) return `${seconds} s`;
  return seconds < 7200 ? `${Math.round(seconds / 60)} min` : `${Math.round(seconds / 3600)} h`;
}

const row = (word, text) => (text ? [h("dt", {}, word), h("dd", {}, text)] : []);

function article(alarm, frame, first) {
  const waits = facts.isUnacknowledged(alarm), at = `${clock(alarm.since_utc_s, frame.utc_offset_s)} ${page.zone}`;
  const done = first ? `Permit ${facts.permitVerb(frame.permit.first_out)}.` : "";
  const cls = alarm.priority === "N" ? `al notice${waits ? " unack" : ""}`
    : waits ? `al ${facts.PRIORITY_CLASS[alarm.priority]} unack` : `al acked ${alarm.priority === "T" ? "is-trip" : "is-warn"}`;
  const tint = waits || alarm.priority === "N" ? "" : alarm.priority === "T" ? "sw-trip" : "sw-warn";
  return h("article", { class: cls },
    h("span", { class: `markbox ${waits ? "unack" : ""} ${tint}`.trim() }, mark(alarm.priority)),
    h("div", {}, h("h2", {}, alarm.says || alarm.short_name), h("p", { class: "meta" }, `${first ? "First-out " : ""}${at} · ${alarm.state}`),
      h("dl", {}, row("Done", done), row("Do now", alarm.action), row("If not", alarm.consequence), row("Within", within(alarm.respond_within_s)))),
    h("div", { class: "btnbox" }, waits ? h("button", { class: "btn", type: "button", onclick: (e) => answer(alarm.key, e.currentTarget) }, "Acknowledge", h("span", { class: "sr" }, ` ${alarm.short_name}`)) : null));
}

function follower(finding, permit, frame) {
  const later = finding.t_rig_s - permit.first_out.t_rig_s;
  return h("article", { class: "al follow acked is-trip" }, h("span", { class: "markbox sw-trip" }, mark("T")),
    h("div", {}, h("h2", {}, finding.says), h("p", { class: "meta" }, `Followed ${later.toFixed(2)} s later, ${clock(finding.t_wall_utc_s, frame.utc_offset_s)} · acknowledged with the first-out`)), h("div", {}));
}

async function answer(key, button) {
  button.disabled = true;
  const { says } = await page.command("acknowledge", { alarm_key: key });
  button.disabled = false;
  setText(byId("told"), says);
}

// the trip that came first, as an alarm, also where the table has not annunciated it yet
function ordered(frame) {
  const list = facts.standingAlarms(frame), permit = frame.permit || {};
  if (!facts.isRealTrip(permit)) return { list, first: null };
  const first = facts.firstOutAlarm(frame) || { key: "", short_name: facts.shortCause(permit.first_out), priority: "T",
    state: permit.acknowledged ? "latched, acknowledged" : "latched, unacknowledged", says: permit.first_out.says, action: "Let the ring stop. Find the cause, then reset at the rig.", since_utc_s: permit.first_out.t_wall_utc_s };
  return { list: [first, ...list.filter((a) => a !== first)], first };
}

function title(list, first) {
  const waiting = list.filter(facts.isUnacknowledged);
  const count = (p, word) => { const n = waiting.filter((a) => a.priority === p).length; return n ? plural(n, word) : ""; };
  const parts = [count("T", "trip"), count("W", "warning"), count("N", "notice")].filter(Boolean);
  if (!list.length) return "No alarm.";
  if (!parts.length) return `${plural(list.length, "alarm stands", "alarms stand")}, all acknowledged.`;
  const named = parts.length > 1 ? `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}` : parts[0];
  return `${named} ${waiting.length === 1 ? "is" : "are"} waiting for you.${first ? ` ${first.short_name} came first.` : ""}`;
}

page.onDraw((frame, standing) => {
  page.zone = standing.zone;
  const host = byId("alist");
  host.classList.toggle("blind", standing.blind);
  if (!frame || standing.blind) { setText(byId("title"), frame ? `Not known: last heard at ${standing.lastAt}.` : "Not known yet."); return; }
  const { list, first } = ordered(frame), followers = first ? frame.permit.followers || [] : [];
  setText(byId("title"), title(list, first));
  put(host, JSON.stringify([list, followers, frame.utc_offset_s]), () => list.flatMap((a) => [article(a, frame, a === first), ...(a === first ? followers.map((f) => follower(f, frame.permit, frame)) : [])]));
  const aside = facts.asideAlarms(frame);
  byId("aside").hidden = !aside.length;
  put(byId("aside-rows"), JSON.stringify(aside), () => aside.map((a) => h("tr", {}, h("td", {}, a.short_name), h("td", {}, a.state), h("td", {}, a.says || ""), h("td", {}, a.returns_in_s ? `by itself in ${mmss(a.returns_in_s)}` : a.state === "shelved" ? "by itself" : a.state === "out of service" ? "when put back" : "when the condition for it ends"))));
});
page.start();
