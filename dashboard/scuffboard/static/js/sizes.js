// Type in arcminutes: how large a letter is drawn for a picture's width and a viewing distance.
// MA = 2·atan(cap_px · width_mm / width_px / (2·distance_mm)) · 60·180/π, cap_px = 0.740 · font_px.
export const CAP = 0.74;
const KEY = "scuffboard-glass";

export const arcmin = (font_px, width_mm, width_px, distance_m) =>
  2 * Math.atan((font_px * CAP * width_mm) / width_px / (2 * distance_m * 1000)) * (60 * 180) / Math.PI;

export const fontFor = (minutes, width_mm, width_px, distance_m) =>
  (2 * distance_m * 1000 * Math.tan((minutes / 120) * (Math.PI / 180)) * width_px) / width_mm / CAP;

// address first, then what this browser has been told of its own glass, then the server's setting
export function glass() {
  const asked = new URLSearchParams(location.search), server = document.documentElement.dataset;
  let kept = {};
  try { kept = JSON.parse(localStorage.getItem(KEY)) || {}; } catch { kept = {}; }
  const pick = (...values) => values.map(Number).find((v) => Number.isFinite(v) && v > 0);
  return {
    width_mm: pick(asked.get("width_mm"), kept.width_mm, server.widthMm, 531),
    distance_m: pick(asked.get("distance_m"), kept.distance_m, server.distanceM, 5),
    near_mm: pick(asked.get("near_mm"), kept.near_mm),
    near_m: pick(asked.get("near_m"), kept.near_m),
  };
}

export function keepGlass(values) {
  try { localStorage.setItem(KEY, JSON.stringify({ ...JSON.parse(localStorage.getItem(KEY) || "{}"), ...values })); return true; } catch { return false; }
}

const FAR_UNITS = 160, FAR_MOST = 176, NEEDED = 22.5;

// The wall keeps its drawn size wherever that gives 22.5'. Further away the climb gives its room to the letters.
export function wallSizes() {
  const { width_mm, distance_m } = glass();
  const needed = fontFor(NEEDED, width_mm, 1920, distance_m);
  const root = document.documentElement;
  root.style.setProperty("--far-units", String(Math.min(FAR_MOST, Math.max(FAR_UNITS, needed))));
  root.classList.toggle("from-afar", needed > FAR_UNITS * 1.01);
}

const NEAR_LEAST_PX = 14, NEAR_MOST_PX = 30, NEAR_NEEDED = 16.3;
export const nearFont = (near_mm, near_m, width_px) => Math.min(NEAR_MOST_PX, Math.max(NEAR_LEAST_PX, fontFor(NEAR_NEEDED, near_mm, width_px, near_m)));

// Near screens: the smallest text at 16.3' where the glass has been described; else the page's own size.
export function nearSizes() {
  const { near_mm, near_m } = glass();
  if (!near_mm || !near_m) return;
  document.documentElement.style.setProperty("--root-own", `${nearFont(near_mm, near_m, innerWidth).toFixed(2)}px`);
  document.documentElement.classList.add("own-size");
}
