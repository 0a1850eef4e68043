() => Object.fromEntries([...document.querySelectorAll("section.head")].map((head) => [
  head.getAttribute("aria-label"),
  [head.className, head.querySelector(".val span").textContent, head.querySelector(".to").textContent],
]))
