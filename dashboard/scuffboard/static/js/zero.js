// Zeroing a sensor: offered only while the motor has no permit; the core refuses it unless the ring is at rest too,
// and where the zero would be too far off. Its sentence stays on the page until the next one.
import { byId, h, put, setText } from "./dom.js";
import { drawer } from "./bench_acts.js";
import { isRealTrip, reading } from "./facts.js";

// where unloaded means zero
const UNITS = ["N", "A"];

export function zeroing(page) {
  const button = byId("zero"), host = byId("zeros"), told = byId("zero-told"), now = new Map();
  const show = drawer("zero", "zero-form", async () => false);

  async function take(name, label, pressed) {
    pressed.disabled = true;
    const { says } = await page.command("tare", { channel: name });
    pressed.disabled = false;
    setText(told, says.replaceAll(name, label.toLowerCase()).replace(/-(?=\d)/g, "−"));
  }

  function choice(name, channel) {
    const value = h("span", { class: "second" });
    now.set(name, value);
    return h("button", { class: "btn", type: "button", onclick: (e) => take(name, channel.label, e.currentTarget) }, h("span", {}, h("b", {}, channel.label), value));
  }

  return (frame, standing, lastGood) => {
    const may = !!frame && !standing.blind && !standing.silent_rig && frame.permit?.state === "tripped" && (frame.permit.acknowledged || !isRealTrip(frame.permit));
    button.hidden = !may;
    if (!may) { if (!byId("zero-form").hidden) show(false); return; }
    const names = Object.keys(frame.channels).filter((name) => UNITS.includes(frame.channels[name].unit) && !frame.channels[name].derived);
    if (put(host, names.join("|"), () => { now.clear(); return names.map((name) => choice(name, frame.channels[name])); })) setText(told, "");
    for (const name of names) {
      const shown = reading(name, frame, standing, lastGood);
      setText(now.get(name), `now ${shown.text}\u00a0${shown.unit || ""}`);
    }
  };
}
