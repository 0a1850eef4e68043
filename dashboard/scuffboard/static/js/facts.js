// The five facts, in words: permit, highest alarm or first-out, run, one value, standing of the data.
// Wall and bench draw the same facts; nothing here touches a page.
import { CROSSES, DASHES, NBSP, age, clock, fixed, mmss, plural, short } from "./format.js";

const SHORT = {
  scuffing_onset: "Scuffing onset", stall: "Stall", jam: "Jam", overheat: "Too hot", overload: "Overload",
  friction_limit: "Friction high", sensor_fault: "Sensor fault", stick_slip: "Stick-slip", link_lost: "Rig box silent",
  motor_supply_lost: "Supply lost", speed_sensor_lost: "No speed", unexpected_start: "Starts by self",
  interlock: "Interlock open", stop_request: "Stop request", rig_box: "Rig box trip", internal_fault: "Internal fault",
  start_up: "Before the run",
};
const ASIDE = ["shelved", "suppressed by design", "out of service"];
export const PRIORITY_CLASS = { T: "f-trip", W: "f-warn", N: "" };

export const isUnacknowledged = (alarm) => /unacknowledged/.test(alarm.state);
export const standingAlarms = (frame) => (frame.alarms || []).filter((a) => !ASIDE.includes(a.state) && a.state !== "normal");
export const asideAlarms = (frame) => (frame.alarms || []).filter((a) => ASIDE.includes(a.state));
export const isRealTrip = (permit) => permit?.state === "tripped" && !!permit.first_out && permit.first_out.kind !== "start_up";
export const shortCause = (finding) => SHORT[finding?.kind] || "Trip";

// A permit that a trip took away was withdrawn; one that silence ended has lapsed.
export const permitVerb = (finding) => (finding?.kind === "link_lost" || finding?.kind === "rig_box" ? "lapsed" : "withdrawn");

// The alarm of the first cause, by its key: another trip alarm beside it says something else to do.
export const firstOutAlarm = (frame) => standingAlarms(frame).find((a) => a.key === frame.permit?.first_out?.alarm);

const demoted = (mark, ...beside) => ({ cls: "demoted", mark, far: DASHES, reads: "no current value", beside });
const WORD = { permitted: "PERMITTED", tripped: "TRIPPED", watch_only: "watch only" };

export function permitFact(frame, standing) {
  const permit = frame?.permit;
  if (!permit) return demoted("unknown", "not known yet");
  if (standing.blind) return demoted("unknown", `last ${WORD[permit.state] || "unknown"}`, `at ${standing.lastAt}`);
  const since = permit.since_utc_s ? clock(permit.since_utc_s, frame.utc_offset_s) : "";
  const kept = permit.recorded === false ? ["not yet recorded"] : [];
  if (permit.state === "watch_only") return { cls: "quiet", mark: "watch", far: "Watch only", beside: ["no rig box,", "no motor permit"] };
  if (permit.state === "permitted") return { cls: "", mark: "permitted", markCls: "calm", far: "PERMITTED", beside: kept, since: `since ${since}` };
  if (isRealTrip(permit)) return { cls: "f-trip", mark: "tripped", far: "TRIPPED", beside: kept.length ? [`latched ${since}`, ...kept] : ["latched", since], since: [`latched ${since}`, ...kept].join(", ") };
  return { cls: "", mark: "tripped", far: "TRIPPED", beside: ["cause:", "before the run", ...kept], since: ["before the run", ...kept].join(", ") };
}

// The one thing still missing is the hand at the rig.
export const onlyResetMissing = (permit) => {
  const unmet = (permit?.needs || []).filter((need) => !need.met);
  return permit?.state === "tripped" && unmet.length === 1 && unmet[0].key === "reset";
};

export function causeFact(frame, standing) {
  if (!frame) return demoted("none", "not known yet");
  const top = standingAlarms(frame)[0], permit = frame.permit || {};
  const words = isRealTrip(permit) ? shortCause(permit.first_out) : top ? top.short_name : "No alarm";
  if (standing.blind) return demoted("none", `last: ${words === "No alarm" ? "no alarm" : words}`, `at ${standing.lastAt}`);
  const more = standingAlarms(frame).length - 1;
  if (isRealTrip(permit)) {
    const followed = (permit.followers || []).length;
    return { cls: permit.acknowledged ? "f-trip" : "f-trip unack", mark: "T", far: words, beside: ["first-out", ...(followed ? [`${followed} followed`] : [])] };
  }
  if (top && top.priority !== "N") {
    return { cls: `${PRIORITY_CLASS[top.priority]} ${isUnacknowledged(top) ? "unack" : ""}`.trim(), mark: top.priority, far: words, beside: more > 0 ? [`and ${more} more`] : [], since: `since ${clock(top.since_utc_s, frame.utc_offset_s)}` };
  }
  if (onlyResetMissing(permit)) return { cls: "f-act", mark: "act", far: "Press reset", beside: ["at the rig,", "then let go"] };
  if (top) return { cls: isUnacknowledged(top) ? "unack" : "", mark: "N", far: words, beside: more > 0 ? [`and ${more} more`] : [], since: `since ${clock(top.since_utc_s, frame.utc_offset_s)}` };
  return { cls: "quiet", mark: "none", far: "No alarm", beside: [] };
}

// Seconds into the stage; a trip ended it there.
export function stageElapsed(frame) {
  const run = frame.run, permit = frame.permit || {};
  if (isRealTrip(permit) && run.t_stage_start_rig_s !== null && run.t_stage_start_rig_s !== undefined) {
    return Math.max(0, permit.first_out.t_rig_s - run.t_stage_start_rig_s);
  }
  return run.stage_elapsed_s || 0;
}

// Beyond this share of the planned load for this long it is another one; a weight being hung takes three seconds to count.
const OFF_PLAN_SHARE = 0.3, OFF_PLAN_MS = 4000;
let offPlanSince_ms = null;

// The load that hangs there where it is not the one planned for this stage, after a trip in mid run say; else null.
export function offPlan(frame) {
  const run = frame?.run, load = frame?.channels?.normal_load_n, planned_n = run?.stage ? run.loads_n?.[run.stage - 1] : null;
  const known = planned_n && load?.quality === "good" && load.value !== null && !isRealTrip(frame.permit);
  if (!known || Math.abs(load.value - planned_n) <= OFF_PLAN_SHARE * planned_n) { offPlanSince_ms = null; return null; }
  offPlanSince_ms ??= performance.now();
  return performance.now() - offPlanSince_ms > OFF_PLAN_MS ? { measured: short(Math.round(load.value)), planned: short(planned_n) } : null;
}

export function runFact(frame, standing) {
  const run = frame?.run;
  if (!frame) return demoted("stage", "not known yet");
  const name = !run ? "no run" : run.stage ? `stage ${run.stage}` : run.kind === "setup" ? "setup run" : "before stage 1";
  if (standing.blind) return demoted("stage", `last ${name}`, `at ${standing.lastAt}`);
  if (!run) return { cls: "quiet", mark: "stage", far: "No run", beside: [] };
  const kept = run.interrupted ? ["interrupted"] : [];
  if (isRealTrip(frame.permit)) {
    if (run.stage) return { cls: "", mark: "stage", far: `Stage ${run.stage}`, light: mmss(stageElapsed(frame)), beside: ["into dwell", "at the trip"] };
    return { cls: "", mark: "stage", far: run.kind === "setup" ? "Setup run" : "No stage", beside: ["open"] };
  }
  if (!run.stage) {
    const since = frame.t_wall_utc_s - run.opened_utc_s;
    if (run.kind === "setup") return { cls: "", mark: "stage", far: "Setup", light: mmss(since), beside: ["never compared"] };
    return { cls: "", mark: "stage", far: "Run open", openFor: mmss(since), beside: [`for ${mmss(since)},`, "before stage 1"] };
  }
  const off = offPlan(frame);
  if (off) return { cls: "", mark: "stage", far: `Stage ${run.stage}`, light: mmss(stageElapsed(frame)), beside: [`at ${off.measured}\u00a0N,`, `plan ${off.planned}\u00a0N`] };
  const left = (run.dwell_s ?? NaN) - stageElapsed(frame), stages = (run.loads_n || []).length;
  if (Number.isNaN(left)) return { cls: "", mark: "stage", far: `Stage ${run.stage}`, light: mmss(stageElapsed(frame)), beside: ["so far", ...kept] };
  const next = run.stage < stages ? [`weight ${run.stage + 1}`] : stages ? ["end of run"] : ["next weight"];
  if (left < 0) return { cls: "", mark: "stage", far: `Stage ${run.stage}`, light: `+${mmss(-left)}`, beside: ["over, now", ...next] };
  return { cls: "", mark: "stage", far: `Stage ${run.stage}`, light: mmss(left), beside: ["left, then", ...next] };
}

// What a channel shows: kind is live, zero, uncertain, bad, stale, nodata, undefined
export function reading(name, frame, standing, lastGood) {
  const channel = frame?.channels?.[name];
  if (!channel) return { kind: "nodata", text: "not fitted", why: "no channel" };
  const digits = channel.digits ?? 2, unit = channel.unit || "";
  const last = lastGood?.[name];
  const lastWords = last ? `last ${fixed(last.value, digits)} at ${clock(last.t_wall_utc_s, frame.utc_offset_s)}` : "no value yet";
  if (standing.blind || standing.silent_rig) return { kind: "stale", text: DASHES, unit, why: lastWords };
  if (channel.quality === "bad" || channel.value === null || channel.value === undefined) {
    if (channel.reason === "never received") return { kind: "nodata", text: "not fitted", why: "never received" };
    if (channel.derived && channel.reason === "missing") return { kind: "undefined", text: DASHES, unit, why: whyUndefined(frame) };
    if (channel.reason === "too old" || channel.reason === "missing") return { kind: "stale", text: DASHES, unit, why: lastWords };
    return { kind: "bad", text: CROSSES, unit, why: channel.reason || "no reason given" };
  }
  const text = fixed(channel.value, digits);
  if (channel.quality === "uncertain") return { kind: "uncertain", text, unit, why: `uncertain: ${channel.reason}` };
  return { kind: Number(text.replace("−", "-")) === 0 ? "zero" : "live", text, unit, why: "" };
}

function whyUndefined(frame) {
  const speed = frame.channels.ring_speed_rpm;
  if (speed && speed.quality !== "bad" && Math.abs(speed.value) < 1) return "ring stopped";
  return "no load, or no force";
}

export function distance(channel, shown) {
  if (shown.kind === "zero") return { text: "measured zero", hot: false };
  if (channel.warn === null || channel.warn === undefined) {
    if (channel.trip === null || channel.trip === undefined) return { text: "no limit set", hot: false };
    return { text: `${fixed(Math.abs(channel.trip - channel.value), channel.digits)} ${channel.value <= channel.trip ? "below" : "above"} trip`, hot: channel.value > channel.trip };
  }
  const d = channel.warn - channel.value;
  return { text: `${fixed(Math.abs(d), channel.digits)} ${d >= 0 ? "below" : "above"} warning`, hot: d < 0 || d < 0.1 * Math.abs(channel.warn) };
}

// The one value for five metres: friction while it runs, "does it still turn" after a trip.
export function mainChannel(frame) {
  const names = Object.keys(frame?.channels || {});
  const order = isRealTrip(frame?.permit)
    ? ["ring_speed_rpm", "motor_current_a", "friction_coefficient"]
    : ["friction_coefficient", "friction_force_n", "motor_current_a"];
  return order.find((name) => names.includes(name)) || names[0] || null;
}

export function dataFact(frame, standing) {
  const last = [standing.silent_rig && standing.state === "live" ? "rig box silent" : "last sample", standing.lastAt];
  if (standing.state === "waiting") return { cls: "quiet", mark: "wait", far: "Connecting", beside: [] };
  if (standing.state === "lost") return { cls: "f-void lostrow", mark: "lost", far: "LOST", light: age(standing.age_s), beside: frame ? last : [] };
  if (standing.state === "stale") return { cls: "f-void", mark: "stale", far: "STALE", light: frame ? age(standing.age_s) : "", beside: frame ? last : ["no sample yet"] };
  if (standing.silent_rig) return { cls: "f-void", mark: "stale", far: "STALE", light: age(standing.age_s), beside: last };
  const store = storeShort(frame), beside = store ? [store] : [];
  if (frame.simulated) return { cls: "", mark: "sim", far: "SIMULATED", beside };
  return { cls: "quiet", mark: "pulse", far: "Live", light: age(standing.age_s), beside };
}

// More than this waits only where the disk does not keep up: a power cut would take it.
const UNSAFE_S = 1.5;

export function storeShort(frame) {
  if (storeWords(frame)) return "not recording";
  const queue_s = frame?.store?.queue_s;
  return queue_s > UNSAFE_S ? `${fixed(queue_s, 0)} s not yet on disk` : "";
}

export function storeWords(frame) {
  const store = frame?.store;
  if (!store) return "";
  if (store.error) return `Not recording: ${store.error}`;
  return frame.run && store.recording === false ? "Not recording this run." : "";
}

// The sentences for who has walked up: [strong, rest].
export function nearWords(frame, standing) {
  if (standing.state === "lost" || standing.state === "waiting") return ["", ""];
  if (standing.state === "stale") return ["The core is silent.", "If it has stopped, the permit has lapsed. Look at the rig."];
  const store = storeWords(frame), permit = frame.permit || {}, top = standingAlarms(frame)[0];
  if (isRealTrip(permit)) return [permit.first_out.says, `Permit ${permitVerb(permit.first_out)}. Let the ring stop. Look at the rig before reset.`];
  if (standing.silent_rig) return ["The rig box is silent.", "Values are not current. Look at the rig."];
  if (store) return [store, "What is shown is live, but is not kept."];
  if (top && top.priority !== "N") return [top.says, top.action || ""];
  if (onlyResetMissing(permit)) return ["Press and release reset at the rig.", "It acts when you let go. It does not start the motor."];
  const unmet = (permit.needs || []).find((need) => !need.met);
  if (permit.state === "tripped" && unmet) return ["Next, before the permit:", unmet.says];
  return null;
}

export function lubricantWords(run) {
  if (!run) return "no run is open";
  if (run.kind === "setup") return "setup run";
  const rate = run.treat_rate_percent ? ` + ${String(Number(run.treat_rate_percent.toFixed(2)))}${NBSP}%${NBSP}v/v` : "";
  return `${run.lubricant || "lubricant not named"}${rate}`;
}

export const stageCount = (run) => plural((run?.loads_n || []).length, "stage");
