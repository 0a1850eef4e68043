(ms) => new Promise((done) => {
  // visibility of the alarm mark's solid layer and of the words beside it, once a drawn picture
  const seen = [], begun = performance.now();
  (function look() {
    const solid = document.querySelector("#cause .mark .solid"), words = document.querySelector("#cause .far");
    seen.push([getComputedStyle(solid).visibility, getComputedStyle(words).visibility]);
    if (performance.now() - begun < ms) requestAnimationFrame(look); else done(seen);
  })();
})
