// How near each kind of scuffing evidence is to its limit: six cells, grey whatever they show. Weight alone
// says that something is near; colour belongs to the warning itself, which has its card.
import { h, put, svg } from "./dom.js";
import { hatch } from "./climb.js";
import { DASHES, fixed, short } from "./format.js";

const KINDS = [
  { names: ["friction_rise_ratio", "torque_rise_ratio"], unit: "×", digits: 2, channels: ["friction_force_n", "motor_current_a"], says: "times usual" },
  { names: ["burst_count"], unit: "", digits: 0, channels: ["friction_force_n", "motor_current_a"], says: "short friction bursts" },
  { names: ["once_per_turn_ratio"], unit: "×", digits: 1, channels: ["ring_speed_rpm"], says: "times the usual swing once a turn" },
  { names: ["sound_change_db"], unit: "dB", digits: 1, channels: ["sound_level_db"], says: "dB from usual" },
  { names: ["unrest_ratio"], unit: "×", digits: 1, channels: ["friction_force_n", "motor_current_a"], says: "times usual" },
  { names: ["pin_heating_k_s"], unit: "K/s", digits: 2, channels: ["pin_temperature_degc"], says: "K/s above usual" },
];
const WORDS = { friction_rise_ratio: "Friction", torque_rise_ratio: "Torque", burst_count: "Bursts", once_per_turn_ratio: "Per turn", sound_change_db: "Sound", unrest_ratio: "Unrest", pin_heating_k_s: "Heating" };
const CLOSE = 0.7, LIMIT_X = 100, BAR_W = 150, BAR_H = 8;

// A channel that is there and gives nothing to be believed is another thing than none.
const absent = (frame, channels) => (channels.some((name) => frame.channels?.[name] && frame.channels[name].reason !== "never received") ? "no value" : "no channel");

// One cell a kind: what it is called, what it shows, where its bar ends; `share` is null where nothing is known.
export function signs(frame, standing) {
  return KINDS.map((kind) => {
    const row = (frame.nearness || []).find((near) => kind.names.includes(near.name)), name = row?.name ?? kind.names[0];
    const made = { name, word: WORDS[name], unit: kind.unit, limit: "", share: null, close: false };
    if (standing.blind || standing.silent_rig || row?.state === "stale") return { ...made, state: "stale", text: DASHES, says: `${WORDS[name]}: no current value` };
    if (!row) return { ...made, state: "blind", text: absent(frame, kind.channels), says: `${WORDS[name]}: ${absent(frame, kind.channels)}` };
    if (row.value === null) return { ...made, state: "unknown", text: row.state, says: `${WORDS[name]}: ${row.state}` };
    const text = fixed(row.value, kind.digits), limit = short(Number(row.limit.toFixed(kind.digits)));
    return { ...made, state: "known", text, limit, share: row.share, close: row.share >= CLOSE, says: `${WORDS[name]}: ${text} ${kind.says}, counts from ${limit}` };
  });
}

function bar(sign) {
  const id = `sign-${sign.name}`, box = { width: BAR_W, height: BAR_H };
  const inside = sign.state === "stale" ? [svg("defs", {}, hatch(id)), svg("rect", { ...box, fill: `url(#${id})` })]
    : sign.state === "blind" ? [svg("rect", { class: "nochan", x: 1, y: 1, width: BAR_W - 2, height: BAR_H - 2 })]
    : [svg("rect", { class: "bar-well", ...box }), svg("rect", { class: "bar-fill", width: Math.min(BAR_W, Math.round(LIMIT_X * (sign.share ?? 0))), height: BAR_H }), svg("path", { class: "bar-limit", d: `M${LIMIT_X} 0V${BAR_H}` })];
  return svg("svg", { class: "signbar spark", viewBox: `0 0 ${BAR_W} ${BAR_H}`, preserveAspectRatio: "none", "aria-hidden": "true" }, inside);
}

const cell = (sign) => h("li", { class: `sign ${sign.state}${sign.close ? " close" : ""}`, "data-sign": sign.name },
  h("span", { class: "sr" }, sign.says),
  h("span", { class: "what", "aria-hidden": "true" }, sign.word, sign.unit ? h("i", {}, ` ${sign.unit}`) : null),
  h("span", { class: "how", "aria-hidden": "true" }, h("b", {}, sign.text), sign.limit ? [" ", h("small", {}, `of ${sign.limit}`)] : null), bar(sign));

// Draws them into a list; hidden where no run is open, the server is not heard, or the core knows nothing of nearness.
export function drawSigns(host, frame, standing) {
  host.hidden = !frame.run || standing.state === "lost" || !frame.nearness;
  if (host.hidden) return;
  const made = signs(frame, standing);
  put(host.querySelector("ul"), JSON.stringify(made.map(({ share, ...rest }) => [rest, share === null ? null : Math.round(50 * share)])), () => made.map(cell));
}
