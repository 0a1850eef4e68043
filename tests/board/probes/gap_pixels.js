([index, from, to]) => {
  // counts pixels of the trace's colour between two shares of a plot's width
  const plot = document.querySelectorAll("#plots .u-over")[index].getBoundingClientRect();
  const canvas = document.querySelectorAll("#plots canvas")[index], own = canvas.getBoundingClientRect(), k = canvas.width / own.width;
  const x0 = Math.round((plot.left - own.left + plot.width * from) * k), x1 = Math.round((plot.left - own.left + plot.width * to) * k);
  const data = canvas.getContext("2d").getImageData(x0, Math.round((plot.top - own.top) * k), x1 - x0, Math.round(plot.height * k)).data;
  const want = getComputedStyle(document.documentElement).getPropertyValue("--trace").trim().match(/[0-9a-f]{2}/gi).map((h) => parseInt(h, 16));
  let n = 0;
  for (let i = 0; i < data.length; i += 4) if (want.every((v, j) => Math.abs(data[i + j] - v) < 12)) n += 1;
  return n;
}
