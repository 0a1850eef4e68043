// Numbers and times as the screens write them.
const two = (x) => String(Math.floor(x)).padStart(2, "0");

export const DASHES = "–\u2009–";
export const CROSSES = "×\u2009×";
export const NBSP = "\u00a0";

// Minutes and seconds, m:ss; from an hour on h:mm:ss.
export function mmss(seconds) {
  const s = Math.max(0, Math.floor(seconds));
  return s < 3600 ? `${Math.floor(s / 60)}:${two(s % 60)}` : `${Math.floor(s / 3600)}:${two((s % 3600) / 60)}:${two(s % 60)}`;
}

// Time of day at the rig: the rig's own offset, never the browser's zone.
export function clock(t_utc_s, offset_s = 0) {
  if (t_utc_s === null || t_utc_s === undefined) return DASHES;
  const s = (((t_utc_s + offset_s) % 86400) + 86400) % 86400;
  return `${two(s / 3600)}:${two((s % 3600) / 60)}:${two(s % 60)}`;
}

export function offsetName(offset_s = 0) {
  const s = Math.abs(offset_s);
  return `UTC${offset_s < 0 ? "−" : "+"}${two(s / 3600)}:${two((s % 3600) / 60)}`;
}

// Fixed decimals, true minus sign; null stays null.
export function fixed(value, digits) {
  if (value === null || value === undefined || !Number.isFinite(value)) return null;
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

export function age(seconds) {
  if (seconds < 10) return `${Math.max(0, seconds).toFixed(1)} s`;
  if (seconds < 100) return `${seconds.toFixed(0)} s`;
  if (seconds < 6000) return `${Math.floor(seconds / 60)} min`;
  return `${Math.floor(seconds / 3600)} h`;
}

// A limit without the zeros that say nothing.
export const short = (value) => (value === null || value === undefined ? "" : String(Number(value.toFixed(3))).replace("-", "−"));

export const plural = (n, one, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;
