// What this browser knows of its own glass, and the arcminutes that follow.
import { byId, h, put } from "./dom.js";
import { arcmin, glass, keepGlass, nearFont } from "./sizes.js";
import { deskPage } from "./desk.js";

const form = byId("glass");

function reach(font_units, needed, width_mm) {
  // the distance at which these letters still subtend what is needed
  let d = 0.2;
  while (arcmin(font_units, width_mm, 1920, d) > needed && d < 40) d += 0.05;
  return d - 0.05;
}

// without a description the near pages are drawn for 531 mm at 0.7 m, the bench for a 217 mm tablet at 0.5 m
function nearRow(width, distance) {
  const what = "Near pages, smallest text";
  if (!(width > 0 && distance > 0)) return [what, "0.7 m", arcmin(16, 531, 1920, 0.7), 16, "as drawn, on a picture 531 mm wide with 1920 px; describe this one to be sure"];
  const px = nearFont(width, distance, innerWidth), got = arcmin(px, width, innerWidth, distance);
  return [what, `${distance} m`, got, 16, got >= 16 ? `enough, at ${px.toFixed(1)} px` : "too small from there: come nearer, or take a larger screen"];
}

function show() {
  const width = form.elements.width_mm.valueAsNumber, distance = form.elements.distance_m.valueAsNumber;
  if (!(width > 0 && distance > 0)) return;
  const far = arcmin(160, width, 1920, distance), near = arcmin(36, width, 1920, 1.5), best = arcmin(176, width, 1920, distance);
  const rows = [
    ["Wall, the five lines", `${distance} m`, far, 22, far >= 22 ? "enough" : best >= 22 ? `${best.toFixed(1)}′ without the climb: the wall does this by itself` : `too small from there; enough up to ${reach(176, 22, width).toFixed(1)} m`],
    ["Wall, near strip and captions", "1.5 m", near, 16, near >= 16 ? "enough" : `too small from there; enough up to ${reach(36, 16, width).toFixed(1)} m`],
  ];
  rows.push(nearRow(form.elements.near_mm.valueAsNumber, form.elements.near_m.valueAsNumber));
  put(byId("minutes"), JSON.stringify(rows), () => rows.map(([what, at, got, need, says]) => h("tr", {}, h("td", {}, what), h("td", { class: "num" }, at), h("td", { class: "num" }, `${got.toFixed(1)}′`), h("td", { class: "num" }, `≥ ${need}′`), h("td", {}, says))));
}

const now = glass();
for (const name of ["width_mm", "distance_m", "near_mm", "near_m"]) form.elements[name].value = now[name] ?? "";
form.addEventListener("input", show);
form.addEventListener("submit", (event) => {
  event.preventDefault();
  const values = Object.fromEntries(["width_mm", "distance_m", "near_mm", "near_m"].map((n) => [n, form.elements[n].value === "" ? null : form.elements[n].valueAsNumber]));
  byId("kept").textContent = keepGlass(values) ? "Kept in this browser." : "This browser keeps nothing; use the address: ?width_mm=…&distance_m=…";
});
show();
deskPage("settings").start();
