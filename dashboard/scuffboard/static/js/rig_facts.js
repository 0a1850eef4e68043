// One rig of many, in words; and the list of them. Nothing here touches a page.
import { permitVerb, shortCause } from "./facts.js";
import { CROSSES, DASHES, age, clock, plural } from "./format.js";

const WORD = { permitted: "PERMITTED", tripped: "TRIPPED", watch_only: "Watch only" };
const MARK = { permitted: "permitted", tripped: "tripped", watch_only: "watch" };
const WAITS = { T: "trip", W: "warn", N: "" }, ANSWERED = { T: "answered", W: "noted", N: "" };

const isRealTrip = (rig) => rig.permit === "tripped" && rig.first_out_kind !== "start_up";

// Causes have a sentence each; before its colon stands the short name.
const short = (says) => says.split(":")[0];
const cause = (rig) => (rig.first_out_kind && shortCause({ kind: rig.first_out_kind }) !== "Trip" ? shortCause({ kind: rig.first_out_kind }) : short(rig.first_out) || "cause not told");

const NEED_LOOK = 1, NEED_NOBODY = 3;

// Where we stand with the list as a whole; `age_s` is how long it has stood still.
export function listFact(frame, standing, age_s) {
  if (standing.state === "lost") return { state: "lost", far: "LOST", says: "", blind: true, age_s };
  if (!frame) return { state: standing.state, far: standing.state === "waiting" ? "Connecting" : "STALE", says: "", blind: true, age_s };
  const list = frame.list;
  if (standing.blind) return { state: "stale", far: "STALE", says: "The page server is silent. Look at the rigs.", blind: true, age_s };
  if (list.says) return { state: "problem", far: "NO LIST", says: `${list.says} Look at the rigs.`, blind: true, age_s };
  if (age_s > list.stale_s) {
    const never = age_s === Infinity ? "has not been seen to move" : "stands still";
    return { state: "stale", far: "STALE", says: `The list of rigs ${never}. Is scuffwatch uplink --wall running? Look at the rigs.`, blind: true, age_s };
  }
  if (list.broker_problem) return { state: "problem", far: "NO BROKER", says: `The broker is not heard: ${list.broker_problem.replace(/\.$/, "")}. Look at the rigs.`, blind: true, age_s };
  return { state: "live", far: "", says: "", blind: false, age_s };
}

// Whole seconds: a hundred ages that run in tenths are no help to anybody.
const whole = (seconds) => (seconds < 10 ? `${Math.floor(seconds)} s` : age(seconds));
const listAge = (age_s) => (Number.isFinite(age_s) ? age(age_s) : "");

// What was known last stays as a small second voice; it is never drawn as if it were now.
function demoted(rig, look, mark, second) {
  return { look, permit: DASHES, reads: "no current permit state", mark, alarm: second, alarmMark: "", run: rig.run && !rig.bad ? `last ${rig.run}` : "", quiet: true };
}

function known(rig) {
  const run = [rig.recorded === false ? "not yet recorded" : "", rig.run || "no run"].filter(Boolean).join(" · ");
  const base = { permit: WORD[rig.permit], mark: MARK[rig.permit], markCls: rig.permit === "permitted" ? "calm" : "", run };
  if (isRealTrip(rig)) return { ...base, look: rig.acknowledged ? "answered" : "trip", alarm: cause(rig), alarmMark: "T" };
  const top = rig.alarm, more = rig.alarms > 1 ? ` and ${rig.alarms - 1} more` : "";
  if (top) return { ...base, look: (top.waits ? WAITS : ANSWERED)[top.priority], alarm: `${short(top.says)}${more}`, alarmMark: top.priority };
  return { ...base, look: "", alarm: rig.permit === "tripped" ? "before the run" : "No alarm", alarmMark: "", calm: true };
}

const GONE = { stopped: "uplink stopped by order", will: "uplink gone" };

export function tileFact(rig, frame, list) {
  const old_s = rig.age_s + list.age_s, last = rig.permit && rig.online && !rig.bad ? `last ${WORD[rig.permit]}` : "permit not known";
  if (list.blind) return { ...demoted(rig, "stale", "unknown", last), word: "STALE", age: Number.isFinite(old_s) ? whole(old_s) : "" };
  if (rig.bad) return { look: "bad", permit: CROSSES, reads: "bad data", mark: "open", alarm: `BAD ${rig.bad}`, alarmMark: "", run: "", quiet: true, age: whole(old_s) };
  if (!rig.online) return { ...demoted(rig, "gone", "lost", GONE[rig.why] || "uplink gone"), word: "GONE", age: whole(old_s) };
  if (!rig.live || old_s >= frame.list.word_stale_s) return { ...demoted(rig, "stale", "unknown", last), word: "STALE", age: whole(old_s) };
  if (rig.core !== "speaking" || !rig.permit) return { ...demoted(rig, "nodata", "unknown", rig.core === "absent" ? "no core" : "core silent"), age: whole(old_s) };
  return { ...known(rig), age: whole(old_s) };
}

// Who needs a person, the most urgent first; the order of the tiles decides among equals. The server says who; a rig that
// has grown stale by our own clock since then needs one too.
export function callers(frame, facts) {
  const all = frame.rigs.map((rig) => ({ rig, fact: facts.get(rig.key), need: Math.min(rig.need, facts.get(rig.key).look === "stale" ? NEED_LOOK : NEED_NOBODY) }));
  return all.filter(({ need }) => need < NEED_NOBODY).sort((a, b) => a.need - b.need);
}

const CALL = {
  trip: ["f-trip unack", "T"], answered: ["answered", "T"], warn: ["f-warn unack", "W"], stale: ["f-void", "stale"],
  gone: ["f-void", "lost"], nodata: ["f-void", "unknown"], bad: ["f-void", "open"],
};

// What the head says in the largest letters: who needs a person first, and why.
export function callFact(frame, list, facts) {
  if (list.state === "waiting") return { cls: "quiet", mark: "wait", far: "Connecting", light: "", beside: [] };
  if (list.blind) {
    const at = frame?.list.t_wall_utc_s ? [`last at ${clock(frame.list.t_wall_utc_s, frame.utc_offset_s)}`] : [];
    return { cls: "f-void", mark: list.state === "lost" ? "lost" : "stale", far: list.far, light: list.state === "problem" ? "" : listAge(list.age_s), beside: ["no rig is known", ...at] };
  }
  const calling = callers(frame, facts), of = `of ${plural(frame.rigs.length, "rig")}`;
  if (!frame.rigs.length) return { cls: "quiet", mark: "none", far: "0 rigs", light: "", beside: ["The broker is heard;", "no rig has spoken."] };
  if (!calling.length) return { cls: "quiet", mark: "none", far: "No alarm", light: "", beside: [plural(frame.rigs.length, "rig"), "nobody is needed"] };
  const [{ rig, fact }] = calling, more = calling.length - 1, [cls, mark] = CALL[fact.look] || ["", "N"];
  return { cls, mark, far: rig.name, light: fact.look === "stale" ? "not heard" : fact.alarm, beside: [...(rig.simulated ? ["SIMULATED"] : []), ...(more ? [`and ${more} more`, of] : [`1 ${of}`])] };
}

// The last tile where there are more rigs than can be read: how many are out of sight, and whether one of them calls.
export function moreFact(frame, list, facts, shown) {
  const calling = list.blind ? 0 : callers(frame, facts).length - shown.filter((rig) => callers({ rigs: [rig] }, facts).length).length;
  return { name: `${frame.rigs.length - shown.length} more`, says: list.blind ? "not known" : calling ? `${calling} of them call` : "no alarm", calling };
}

// The sentence for who has walked up: [strong, rest].
export function nearWords(frame, list, facts) {
  if (list.says) return [list.says, ""];
  if (!frame || list.blind) return ["", ""];
  const [first] = callers(frame, facts);
  const spoiled = frame.list.unread ? `${plural(frame.list.unread, "entry", "entries")} of the list could not be read.` : "";
  return [first ? `${first.rig.name}: ${sentence(first.rig, first.fact)}` : counts([...facts.values()]), spoiled];
}

function sentence(rig, fact) {
  if (fact.look === "bad") return `the ${rig.bad} it tells is not understood. Look at the rig.`;
  if (fact.look === "gone") return "its uplink is gone. Look at the rig.";
  if (fact.look === "stale" || fact.look === "nodata") return "it is not heard. If it has stopped, the permit has lapsed. Look at the rig.";
  if (isRealTrip(rig)) return `${rig.first_out || "cause not told."} Permit ${permitVerb({ kind: rig.first_out_kind })}${rig.acknowledged ? ", acknowledged" : ""}.`;
  return rig.alarm?.says || "look at the rig.";
}

function counts(facts) {
  const of = (word, name) => { const n = facts.filter((fact) => fact.permit === word).length; return n ? ` · ${n} ${name}` : ""; };
  return `${plural(facts.length, "rig")}${of(WORD.permitted, "permitted")}${of(WORD.tripped, "tripped, before the run")}${of(WORD.watch_only, "watch only")}${of(DASHES, "not known")}`;
}
