(ms) => new Promise((done) => {
  let sum = 0;
  new PerformanceObserver((list) => { for (const e of list.getEntries()) sum += e.value; }).observe({ type: "layout-shift" });
  setTimeout(() => done(sum), ms);
})
