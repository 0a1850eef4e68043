() => {
  // window.tripSeen is when the wall first said TRIPPED, ms of the wall clock
  window.tripSeen = null;
  const look = () => {
    const tripped = document.querySelector("#permit .far").textContent === "TRIPPED";
    if (window.tripSeen === null && tripped) window.tripSeen = performance.timeOrigin + performance.now();
  };
  const all = { childList: true, subtree: true, attributes: true, characterData: true };
  new MutationObserver(look).observe(document.getElementById("permit"), all);
}
