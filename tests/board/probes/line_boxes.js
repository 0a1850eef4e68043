(ids) => ids.map((id) => {
  const box = document.getElementById(id).getBoundingClientRect();
  return [box.left, box.top, box.width, box.height];
})
