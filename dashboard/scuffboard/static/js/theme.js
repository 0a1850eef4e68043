// Chooses day or night before the first picture: address, then this browser's choice, then the system's.
// A classic script in the head, so that no page ever flashes in the wrong theme.
(() => {
  const asked = new URLSearchParams(location.search).get("theme");
  let kept = null;
  try { kept = localStorage.getItem("scuffboard-theme"); } catch { kept = null; }
  const known = (name) => (name === "day" || name === "night" ? name : null);
  const system = matchMedia("(prefers-color-scheme: dark)").matches ? "night" : "day";
  document.documentElement.dataset.theme = known(asked) || known(kept) || system;
})();
