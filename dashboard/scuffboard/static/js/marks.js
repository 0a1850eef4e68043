// Marks: every state as a shape with a letter, drawn in the colour of the text around it.
// Alarm marks have a solid and a hollow layer; flashing swaps them, so the shape never disappears.
import { svg } from "./dom.js";

const path = (d, cls) => svg("path", { class: cls, d });
const dot = (cx, cy, r, cls = "fill") => svg("circle", { class: cls, cx, cy, r });
const letter = (text, y = 70) => svg("text", { class: "letter", x: 50, y, "text-anchor": "middle" }, text);
const layers = (d, text, y) => [
  svg("g", { class: "solid" }, path(d, "fill"), svg("g", { class: "on-solid" }, letter(text, y))),
  svg("g", { class: "hollow" }, path(d, "stroke"), svg("g", { class: "on-hollow" }, letter(text, y))),
];
const contact = (arm) => [dot(50, 50, 42, "stroke"), path(arm, "stroke"), dot(30, 50, 9), dot(70, 50, 9)];

const SHAPES = {
  permitted: () => contact("M2 50H98"),
  tripped: () => contact("M2 50H27M73 50H98M30 50L66 18"),
  unknown: () => [dot(50, 50, 42, "stroke dash"), letter("?", 68)],
  watch: () => [path("M4 50Q50 4 96 50Q50 96 4 50Z", "stroke"), dot(50, 50, 12)],
  T: () => layers("M31 4H69L96 31V69L69 96H31L4 69V31Z", "T"),
  W: () => layers("M50 5L97 93H3Z", "W", 84),
  N: () => layers("M10 10H90V90H10Z", "N"),
  none: () => [path("M26 50H74", "stroke thin")],
  stale: () => [dot(50, 50, 42, "stroke dash"), letter("S")],
  lost: () => [path("M10 10L90 90M90 10L10 90", "stroke")],
  sim: () => [path("M8 8H92V92H8Z", "stroke dash"), letter("S")],
  ring: () => [dot(50, 50, 42, "stroke"), dot(50, 50, 10)],
  stage: () => [path("M4 92H34V64H64V36H94V8", "stroke")],
  held: () => [path("M12 52L40 80L90 20", "stroke")],
  open: () => [path("M14 14L86 86M86 14L14 86", "stroke")],
  wait: () => [dot(50, 50, 38, "stroke dash")],
  act: () => [path("M50 4L96 50L50 96L4 50Z", "fill"), svg("g", { class: "on-solid" }, letter("R", 69))],
  info: () => [dot(50, 50, 40, "stroke"), path("M50 46V72", "stroke"), dot(50, 30, 6)],
  stop: () => [path("M16 16H84V84H16Z", "fill")],
};

export function mark(name, cls = "") {
  const shape = SHAPES[name];
  const attributes = { class: `mark m-${name} ${cls}`, viewBox: "-4 -4 108 108", "aria-hidden": "true", focusable: "false" };
  return svg("svg", attributes, shape ? shape() : []);
}

// The pulse: four cells, one filled, moves one cell per frame received. It stands still when frames stop.
export function pulse(frames, dead = false) {
  const cells = [0, 1, 2, 3].map((i) => {
    const cls = dead ? "cell dead" : i === frames % 4 ? "cell on" : "cell";
    return svg("rect", { class: cls, x: i * 26, y: 30, width: 20, height: 40 });
  });
  return svg("svg", { class: "mark m-pulse", viewBox: "-4 -4 108 108", "aria-hidden": "true" }, cells);
}

// Puts the marks into what the server wrote.
export function hydrateMarks(root = document) {
  for (const node of root.querySelectorAll("[data-mark]")) {
    if (!node.querySelector("svg.mark")) node.prepend(mark(node.dataset.mark, node.dataset.cls));
  }
}
