// Beyond so many no name can be read on a wall any more; a hand can scroll.
const MOST = 100;
export const tilesInSight = (rigs) => (rigs <= MOST || matchMedia("(max-width: 720px)").matches ? rigs : MOST - 1);

// How many tiles stand side by side, so that all are in sight and their letters as large as can be.
const SHAPE = 2.1;          // a tile reads best about twice as wide as high: one long word
const FULL_UNITS = 215, SHORT_UNITS = 140;

// `level`: full (name, permit, alarm, run), short (alarm or run), least (one word).
export function gridOf(tiles, width_px, height_px, unit_px) {
  let best = { columns: 1, rows: 1, score: 0 };
  for (let columns = 1; columns <= Math.max(1, tiles); columns += 1) {
    const rows = Math.ceil(tiles / columns) || 1;
    const score = Math.min(width_px / columns / SHAPE, height_px / rows);
    if (score > best.score) best = { columns, rows, score };
  }
  const units = height_px / best.rows / unit_px;
  return { columns: best.columns, rows: best.rows, level: units >= FULL_UNITS ? "full" : units >= SHORT_UNITS ? "short" : "least" };
}
