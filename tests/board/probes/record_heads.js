() => {
  // window.shown: of every frame that was drawn its node time and the texts of the values: wall or bench
  const parse = JSON.parse;
  window.shown = [];
  const bench = () => [...document.querySelectorAll("section.head")].map((head) => [head.dataset.channel, head.querySelector(".val span").textContent]);
  const wall = () => [[document.getElementById("value").getAttribute("aria-label"), document.querySelector("#value .far").firstChild.textContent]];
  JSON.parse = (text, ...more) => {
    const made = parse(text, ...more);
    if (made && made.seq) queueMicrotask(() => window.shown.push([made.t_rig_s, Object.fromEntries(document.getElementById("wall") ? wall() : bench())]));
    return made;
  };
}
