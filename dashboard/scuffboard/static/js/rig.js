// Hands at the simulated rig. It talks to the simulator alone: nothing here can reach a real rig.
import { byId, h, put, setText } from "./dom.js";
import { deskPage } from "./desk.js";

const page = deskPage("rig");

async function ask(body) {
  try {
    const answer = await (await fetch("/rig/do", { method: "POST", cache: "no-store", headers: { "Content-Type": "application/json", "X-Scuffboard": "1" }, body: JSON.stringify(body) })).json();
    setText(byId("told"), answer.says || (answer.ok === false ? "Refused." : "Done."));
  } catch { setText(byId("told"), "The page server does not answer."); }
  look();
}

async function look() {
  let state = {};
  try { state = await (await fetch("/rig/status", { cache: "no-store" })).json(); } catch { state = { ok: false, says: "The page server does not answer." }; }
  const shown = Object.entries(state).filter(([name, v]) => !["ok", "scenarios", "says"].includes(name) && (typeof v !== "object" || v === null));
  put(byId("state"), JSON.stringify([shown, state.says]), () => (shown.length ? shown.map(([name, v]) => h("div", {}, h("dt", {}, label(name)), h("dd", {}, h("b", {}, word(v))))) : [h("div", {}, h("dt", {}, "Simulated rig"), h("dd", {}, state.says || "no state given"))]));
  const names = (state.scenarios || []).map((s) => (typeof s === "string" ? s : s.name));
  if (names.length) put(byId("scenario"), names.join("|"), () => names.map((n) => h("option", { value: n }, n.replaceAll("_", " "))));
}

const NAMES = { t_rig_s: "time of the rig box", node_permit: "permit at the rig box", node_cause: "cause at the rig box", lease_block_mono_s: "last lease, clock of this computer", speed: "times real time", speed_reached: "times real time, reached" };
const UNITS = { hz: "Hz", s: "s", ms: "ms", rpm: "r/min" };

// A key of the simulator as words with its unit: permit_off_t_s reads "permit off at, s".
function label(key) {
  const unit = UNITS[key.split("_").at(-1)];
  const words = NAMES[key] || (unit ? key.slice(0, key.lastIndexOf("_")) : key).replaceAll("_", " ").replace(/ t$/, " at");
  return unit ? `${words}, ${unit}` : words;
}

const word = (v) => (v === true ? "yes" : v === false ? "no" : typeof v === "number" ? String(Math.round(v * 1000) / 1000) : v === null ? "–" : String(v).replaceAll("_", " "));

for (const button of document.querySelectorAll("[data-do]")) {
  button.addEventListener("click", () => {
    const body = { do: button.dataset.do };
    if (button.dataset.on) body.on = button.dataset.on === "true";
    ask(body);
  });
}
byId("next").addEventListener("submit", (event) => {
  event.preventDefault();
  ask({ do: "scenario", name: byId("scenario").value, seed: byId("seed").valueAsNumber || 0 });
});
setInterval(look, 1000);
look();
page.start();
