// @ts-check
// The newest day stands at the right: boxes that scroll begin there.

for (const box of document.querySelectorAll("[data-latest]")) {
  box.scrollLeft = box.scrollWidth;
}
