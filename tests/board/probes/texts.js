() => {
  // every visible text with its drawn size in px, and its contrast (WCAG 2.2, relative luminance) to what lies behind
  const linear = (v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
  const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const rgba = (text) => { const made = text.match(/[\d.]+/g).map(Number); return made.length < 4 ? [...made, 1] : made; };
  const behind = (e) => {
    for (; e; e = e.parentElement) {
      const colour = rgba(getComputedStyle(e).backgroundColor);
      if (colour[3] > 0.99) return colour;
    }
    return [255, 255, 255, 1];
  };
  const scale = (svg) => {
    if (!svg || !svg.viewBox.baseVal || !svg.viewBox.baseVal.width) return 1;
    const box = svg.getBoundingClientRect(), inner = svg.viewBox.baseVal;
    return Math.min(box.width / inner.width, box.height / inner.height);
  };
  const found = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node; (node = walk.nextNode());) {
    const e = node.parentElement, style = getComputedStyle(e), box = e.getBoundingClientRect(), svg = e.closest("svg");
    if (!node.data.trim() || style.visibility !== "visible" || style.display === "none" || !box.width || !box.height) continue;
    if (e.closest(".sr, .skip, script, style, noscript, .mark, sup, option")) continue;
    const ink = luminance(rgba(svg ? style.fill : style.color)), ground = luminance(behind(e));
    found.push({
      text: node.data.trim().slice(0, 40), px: parseFloat(style.fontSize) * scale(svg), far: !!e.closest(".far, .noconn b"),
      contrast: (Math.max(ink, ground) + 0.05) / (Math.min(ink, ground) + 0.05),
    });
  }
  return found;
}
