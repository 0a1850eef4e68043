// Has the record of one run checked, and says what came of it.
import { byId, h, put, say } from "./dom.js";

function words(got) {
  if (!got.checked) return [h("p", { class: "strong" }, got.says)];
  const counted = h("p", { class: "hint" }, got.counted);
  if (got.sound) return [h("p", { class: "strong" }, got.says), counted];
  return [h("p", { class: "strong" }, got.says), h("ul", {}, got.findings.map((text) => h("li", {}, text))), counted];
}

export function verifying(name) {
  const button = byId("verify");
  if (!button) return;
  button.addEventListener("click", async () => {
    button.disabled = true;
    put(byId("verified"), "busy", () => [h("p", { class: "hint" }, "Reading every stored byte …")]);
    let got;
    try { got = await (await fetch(`/runs/${encodeURIComponent(name)}/verify`, { cache: "no-store", headers: { Accept: "application/json" } })).json(); } catch { got = { checked: false, says: "Not verified: the page server does not answer." }; }
    button.disabled = false;
    put(byId("verified"), `${got.says}|${got.counted}|${performance.now()}`, () => words(got));
    say(got.says, got.checked && !got.sound);
  });
}
