// The whole board above its two faces: which part of it they show, and a tap to bring another there.

/** Keep the frame on the whole board where the faces stand; it is there only while they slide. */
export function overview(form) {
  const strip = form.querySelector("[data-overview]");
  const frame = strip.querySelector("[data-frame]");
  const faces = form.querySelector("[data-faces]");

  function draw() {
    const { scrollLeft, scrollWidth, clientWidth } = faces;
    strip.hidden = scrollWidth <= clientWidth + 1;
    frame.hidden = false;
    frame.style.left = `${(100 * scrollLeft) / scrollWidth}%`;
    frame.style.width = `${(100 * clientWidth) / scrollWidth}%`;
  }

  function bring(event) {
    if (!event.buttons) return;
    const { left, width } = strip.getBoundingClientRect();
    faces.scrollLeft = ((event.clientX - left) / width) * faces.scrollWidth - faces.clientWidth / 2;
  }

  strip.addEventListener("pointerdown", bring);
  strip.addEventListener("pointermove", bring);
  faces.addEventListener("scroll", draw, { passive: true });
  addEventListener("resize", draw);
  return { draw };
}
