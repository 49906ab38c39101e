// The fingers' side of a board: a handle over every knot, to be dragged, sized and nudged.

const NUDGE_MM = 5;
const SLOP_PX = 6; // less than this is a tap and no drag
const TREMBLE_PX = 12; // more than this, put down on bare wood, is no tap
const ROLLS_MS = 100; // so soon after the page moved a finger stops it and means nothing else
const TAP_PX = 44;

/** Handles over the two faces of a board; `of` says what there is and takes what is done. */
export function handles(form, of) {
  const faces = [...form.querySelectorAll("[data-face]")].map((figure) => ({
    side: figure.dataset.face,
    wood: figure.querySelector("[data-wood]"),
    layer: figure.querySelector("[data-handles]"),
  }));

  /** Pixels to the millimetre, as the drawing stands on the screen now. */
  const scale = (face) => face.wood.getBoundingClientRect().width / of.size().length;

  /** The frame lies on the knot; the handle about it is never smaller than a fingertip. */
  function place(handle, face, box) {
    const k = scale(face);
    const top = (face.side === "one" ? of.size().width - box.across - box.width : box.across) * k;
    const [wide, tall] = [Math.max(box.length * k, 4), Math.max(box.width * k, 4)];
    const [more, above] = [Math.max(0, TAP_PX - wide) / 2, Math.max(0, TAP_PX - tall) / 2];
    const lay = (element, left, top, width, height) =>
      Object.assign(element.style, { left: `${left}px`, top: `${top}px`, width: `${width}px`, height: `${height}px` });
    lay(handle, box.at * k - more, top - above, wide + 2 * more, tall + 2 * above);
    lay(handle.querySelector(".frame"), more, above, wide, tall);
  }

  let held = false; // a finger is on a handle: what the laptop answers meanwhile must not take it away

  function draw() {
    if (held) return;
    for (const face of faces) {
      const focused = document.activeElement?.dataset?.knotAt;
      if (!(scale(face) > 0)) continue;
      face.layer.replaceChildren(
        ...of.knots().flatMap((row, i) => {
          const box = of.box(row);
          if (box.face !== face.side && box.face !== "both") return [];
          if (![box.at, box.across, box.length, box.width].every(Number.isFinite)) return [];
          return [handle(face, row, i, box)];
        }),
      );
      if (focused) face.layer.querySelector(`[data-knot-at="${focused}"]`)?.focus({ preventScroll: true });
    }
  }

  function handle(face, row, i, box) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "handle";
    button.dataset.knotAt = `${face.side}-${i}`;
    button.setAttribute("aria-label", `${of.name(row)}: drag, or arrow keys`);
    button.setAttribute("aria-pressed", String(row === of.chosen()));
    const frame = document.createElement("span");
    frame.className = "frame";
    button.append(frame);
    place(button, face, box);
    drag(button, face, row, (dx, dy) => ({ ...box, at: box.at + dx, across: box.across + dy }), ["at", "across"]);
    button.addEventListener("keydown", (event) => keyed(event, row, box));
    if (row === of.chosen()) {
      const sizer = document.createElement("span");
      sizer.className = "sizer";
      sizer.dataset.sizer = "";
      // The corner at the lower right on the screen: on face one it moves the near side of the knot.
      const sized = (dx, dy) => {
        const grown = face.side === "one" ? -dy : dy;
        const width = Math.max(2, box.width + grown);
        return {
          ...box,
          length: Math.max(2, box.length + dx),
          width,
          across: face.side === "one" ? box.across + box.width - width : box.across,
        };
      };
      drag(sizer, face, row, sized, ["length", "width", "across"], button);
      frame.append(sizer);
    }
    return button;
  }

  function drag(grip, face, row, moved, fields, shown = grip) {
    grip.addEventListener("pointerdown", (event) => {
      event.stopPropagation();
      if (event.button || held) return;
      event.preventDefault();
      grip.setPointerCapture(event.pointerId);
      held = true;
      shown.focus({ preventScroll: true });
      const start = [event.clientX, event.clientY];
      const k = scale(face);
      let to = null;
      const move = (at) => {
        const [dx, dy] = [at.clientX - start[0], at.clientY - start[1]];
        if (!to && Math.hypot(dx, dy) < SLOP_PX) return;
        to = moved(dx / k, (face.side === "one" ? -dy : dy) / k);
        shown.classList.add("moving");
        place(shown, face, to);
      };
      grip.addEventListener("pointermove", move);
      // Lifted, taken over by the browser or taken away: it always ends with this.
      const end = () => {
        grip.removeEventListener("pointermove", move);
        held = false;
        if (to) of.move(row, Object.fromEntries(fields.map((field) => [field, to[field]])));
        if (row !== of.chosen()) of.choose(row);
        else if (!to) draw();
      };
      grip.addEventListener("lostpointercapture", end, { once: true });
    });
  }

  function keyed(event, row, box) {
    const step = event.shiftKey ? 1 : NUDGE_MM;
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[event.key];
    if (by) {
      event.preventDefault();
      of.move(row, { at: box.at + by[0], across: box.across + by[1] });
    } else if (event.key === "Delete" || event.key === "Backspace") of.remove(row);
    else if (event.key === "Enter" || event.key === " ") of.choose(row);
  }

  let scrolled = -Infinity;

  /**
   * A tap on bare wood, from finger down to finger up. A click would not do: the browser gives none
   * for a while after a drag that was lifted moving (it takes the touch for the end of a fling), and
   * it moves the click onto a handle that is near.
   */
  function taps(face) {
    let down = null;
    face.wood.addEventListener("pointerdown", (event) => {
      const still = event.timeStamp - scrolled > ROLLS_MS;
      down = null;
      if (!event.isPrimary || event.button || !still) return;
      face.wood.setPointerCapture(event.pointerId);
      down = { x: event.clientX, y: event.clientY, rect: face.wood.getBoundingClientRect() };
    });
    face.wood.addEventListener("pointercancel", () => (down = null)); // the page scrolls under it
    face.wood.addEventListener("pointerup", (event) => {
      const from = down;
      down = null;
      if (!from || Math.hypot(event.clientX - from.x, event.clientY - from.y) > TREMBLE_PX) return;
      requestAnimationFrame(() => lifted(from)); // by then a slow page knows how far it has scrolled
    });
    function lifted({ x, y, rect }) {
      const now = face.wood.getBoundingClientRect();
      if (Math.hypot(now.left - rect.left, now.top - rect.top) > 1) return;
      const k = scale(face);
      const below = (y - rect.top) / k;
      of.tap(face.side, (x - rect.left) / k, face.side === "one" ? of.size().width - below : below);
    }
  }

  faces.forEach(taps);
  addEventListener("scroll", (event) => (scrolled = event.timeStamp), { capture: true, passive: true });
  addEventListener("resize", draw);
  return { draw };
}
