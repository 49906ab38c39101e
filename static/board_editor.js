// Knots put on a board with a finger: tap to place, drag to move, its corner to size. What it gives
// is asked of the laptop after every change. Without this file the same form is filled in by hand.
import { handles } from "./board_handles.js";
import { overview } from "./board_overview.js";
import { memory } from "./undo.js";

const REST_MS = 250; // after the last change, before the plan is asked for
const NEW = { knot: [30, 20], check: [120, 4] }; // a first size in mm, to be dragged to the true one
const MM = 25.4;
const FIELDS = ["kind", "face", "at", "across", "length", "width", "depth", "tried"];

/** Make one board live. */
export function attach(form) {
  const part = (name) => form.querySelector(`[data-${name}]`);
  const [rows, list, answer, state, drawn] = ["rows", "list", "answer", "state", "drawn"].map(part);
  const template = part("row-template");
  let chosen = null;
  let blanks = [];
  let waiting = null;
  let asked = null;
  let serial = rows.children.length;

  form.classList.add("drawing-on");
  for (const hidden of form.querySelectorAll("[data-script]")) hidden.hidden = false;
  drawn.after(part("knots")); // the figures of the knot in hand lie under the drawing
  for (const blank of rows.querySelectorAll("[data-blank]")) blank.remove();

  const inches = () => form.elements.unit.value !== "mm";
  const cell = (row, field) => row.querySelector(`[name=knot_${field}]`);
  const knots = () => [...rows.querySelectorAll("[data-knot]")];
  const sized = (name) => form.querySelector(`[name=${name}]`).value;
  const size = () => ({ length: mm(sized("length")), width: mm(sized("width")) });

  /** What was typed, in millimetres; as far as a drawing needs it before the laptop has looked. */
  function mm(text) {
    const feet = /^\s*(\d+(?:[.,]\d+)?)\s*(?:['’′]|ft\b\.?|feet\b|foot\b)\s*-?\s*(.*)$/i.exec(text);
    if (feet) {
      const rest = feet[2].replace(/(?:in(?:ch(?:es)?)?\.?|["”″]|''|\s)+$/, "");
      return Number(feet[1].replace(",", ".")) * 12 * MM + (rest ? mm(`${rest} in`) : 0);
    }
    const said = /^\s*(?:(\d+(?:[.,]\d*)?|[.,]\d+)(?:\s+(\d+)\/(\d+))?|(\d+)\/(\d+))\s*(mm|cm|in|")?\s*$/.exec(text);
    if (!said) return NaN;
    const whole = said[1] ? Number(said[1].replace(",", ".")) : 0;
    const part = said[2] ? said[2] / said[3] : said[4] ? said[4] / said[5] : 0;
    const unit = said[6] ?? (inches() || part ? "in" : "mm");
    return (whole + part) * { mm: 1, cm: 10, in: MM, '"': MM }[unit];
  }

  const typed = (value) => (inches() ? String(Math.round((value / MM) * 100) / 100) : String(Math.round(value)));

  const box = (row) => {
    const [at, across, length, width] = ["at", "across", "length", "width"].map((f) => mm(cell(row, f).value || "0"));
    return { at, across, length, width, face: cell(row, "face").value };
  };

  function put(row, { at, across, length, width }) {
    const board = size();
    const clamp = (value, most) => Math.max(0, Math.min(value, most));
    if (length !== undefined) cell(row, "length").value = typed(Math.max(2, length));
    if (width !== undefined) cell(row, "width").value = typed(Math.max(2, width));
    if (at !== undefined) cell(row, "at").value = typed(clamp(at, board.length - 2));
    if (across !== undefined) cell(row, "across").value = typed(clamp(across, board.width - 2));
  }

  const fingers = handles(form, {
    knots,
    box,
    name: (row) => row.querySelector("[data-knot-name]").textContent,
    size,
    chosen: () => chosen,
    choose,
    move(row, to) {
      put(row, to);
      changed();
    },
    remove,
    tap(face, at, across) {
      const tool = form.elements.tool?.value;
      if (tool === "pin") pin(at, across);
      else if (tool) add(tool, face, at, across);
    },
  });

  const whole = overview(form);
  const past = memory(snapshot, restore, (back) => part("undo")?.toggleAttribute("disabled", !back));

  function snapshot() {
    return {
      knots: knots().map((row) => Object.fromEntries(FIELDS.map((f) => [f, cell(row, f).value]))),
      pins: [...form.querySelectorAll("[data-pin]")].map((row) =>
        [...row.querySelectorAll("input, select")].map((input) => input.value),
      ),
    };
  }

  function restore(state) {
    for (const row of knots()) row.remove();
    for (const knot of state.knots) {
      const row = newRow();
      for (const field of FIELDS) cell(row, field).value = knot[field];
    }
    const pins = [...form.querySelectorAll("[data-pin]")];
    pins.forEach((row, i) => {
      [...row.querySelectorAll("input, select")].forEach((input, j) => (input.value = state.pins[i]?.[j] ?? (j === 2 ? "0" : "")));
    });
    choose(null);
    ask();
  }

  function newRow() {
    const row = template.content.firstElementChild.cloneNode(true);
    row.innerHTML = row.innerHTML.replaceAll("kNEW-", `k${++serial}-`);
    for (const hidden of row.querySelectorAll("[data-script]")) hidden.hidden = false;
    rows.append(row);
    return row;
  }

  function add(kind, face, at, across) {
    const [length, width] = NEW[kind];
    const row = newRow();
    for (const field of FIELDS) cell(row, field).value = "";
    cell(row, "kind").value = kind;
    cell(row, "face").value = face;
    put(row, { at: at - length / 2, across: across - width / 2, length, width });
    choose(row);
    changed();
  }

  /** A knot whose figures are typed. */
  function addTyped() {
    const row = newRow();
    for (const field of FIELDS) cell(row, field).value = { kind: "knot", face: "one" }[field] ?? "";
    choose(row);
    cell(row, "at").focus();
  }

  function remove(row) {
    row.remove();
    choose(null);
    changed();
  }

  /** Pin the blank under the finger to its place, or let it go again. */
  function pin(at, across) {
    const blank = blanks.find((one) => inside(one.corners, at, across));
    if (!blank) return;
    const pins = [...form.querySelectorAll("[data-pin]")];
    const value = (row, name) => row.querySelector(`[name=pin_${name}]`);
    const near = (row) => Math.abs(mm(value(row, "at").value) - blank.at_mm) < 1 && Math.abs(mm(value(row, "across").value) - blank.across_mm) < 1;
    const there = pins.find(near);
    if (there) {
      value(there, "at").value = value(there, "across").value = "";
    } else {
      let free = pins.find((row) => !value(row, "at").value);
      if (!free) {
        free = pins[0].cloneNode(true);
        for (const input of free.querySelectorAll("[id]")) input.id += `-${pins.length + 1}`;
        for (const label of free.querySelectorAll("[for]")) label.htmlFor += `-${pins.length + 1}`;
        part("pins").append(free);
      }
      value(free, "at").value = exactly(blank.at_mm);
      value(free, "across").value = exactly(blank.across_mm);
      value(free, "need").value = String(blank.need);
    }
    changed();
  }

  function choose(row) {
    chosen = row;
    for (const one of knots()) one.classList.toggle("chosen", one === row);
    refresh();
  }

  /** The list of knots by name, and the handles on the faces. */
  function refresh() {
    const all = knots();
    all.forEach((row, i) => {
      const kind = cell(row, "kind").value === "check" ? "Check" : "Knot";
      row.querySelector("[data-knot-name]").textContent = `${kind} ${i + 1}`;
    });
    list.replaceChildren(
      ...all.map((row) => {
        const item = document.createElement("li");
        const button = document.createElement("button");
        button.type = "button";
        button.className = "button";
        button.textContent = row.querySelector("[data-knot-name]").textContent;
        button.setAttribute("aria-pressed", String(row === chosen));
        button.addEventListener("click", () => choose(row === chosen ? null : row));
        item.append(button);
        return item;
      }),
    );
    part("none").hidden = all.length > 0;
    fingers.draw();
  }

  function changed() {
    past.note();
    refresh();
    answer.classList.add("waits");
    clearTimeout(waiting);
    asked?.abort(); // what it would answer is the board of before
    waiting = setTimeout(ask, REST_MS);
  }

  async function ask() {
    clearTimeout(waiting);
    asked?.abort();
    asked = new AbortController();
    answer.classList.add("waits");
    const body = new FormData(form);
    body.delete("tool");
    try {
      const reply = await fetch("/stock/boards/draw", {
        method: "POST",
        body: new URLSearchParams(body),
        headers: { Accept: "application/json" },
        signal: asked.signal,
      });
      const found = await reply.json();
      if (!reply.ok) state.textContent = `${found.message} ${found.hint ?? ""}`;
      else show(found);
    } catch (trouble) {
      if (trouble.name !== "AbortError") state.textContent = "The laptop does not answer: the plan waits, and what you drew stays here.";
    }
  }

  function show(found) {
    if (found.one) {
      for (const figure of form.querySelectorAll("[data-face]")) {
        figure.querySelector("[data-picture]").innerHTML = found[figure.dataset.face];
      }
      part("ruler").innerHTML = found.ruler;
      part("whole").innerHTML = found.whole;
      drawn.removeAttribute("data-empty");
      whole.draw();
      answer.innerHTML = found.answer;
      part("gives").innerHTML = answer.querySelector("[data-many]")?.innerHTML ?? "";
      blanks = found.blanks;
      answer.classList.remove("waits");
    }
    const there = new Set();
    for (const { row, field, message, hint } of found.problems) {
      const place = form.querySelector(`[data-problem="${row}:${field}"]`);
      if (field === "sure") part("sure").hidden = false;
      if (!place || there.has(place) || (message.startsWith("This is still empty") && !form.elements.board_id.value)) continue;
      place.textContent = `${message} ${hint}`;
      there.add(place);
    }
    for (const place of form.querySelectorAll("[data-problem]")) {
      const typed = document.getElementById(place.id.replace(/-problem$/, ""));
      place.hidden = !there.has(place);
      if (place.hidden) typed?.removeAttribute("aria-invalid");
      else typed?.setAttribute("aria-invalid", "true");
      typed?.setAttribute("aria-describedby", place.id);
    }
    if (found.one) document.querySelector(".problems")?.remove();
    const lost = found.problems.filter(({ row, field }) => !form.querySelector(`[data-problem="${row}:${field}"]`));
    state.textContent = lost.length && !found.one ? `${lost[0].message} ${lost[0].hint}` : "";
    fingers.draw();
  }

  form.addEventListener("input", (event) => {
    if (event.target.name === "tool" || event.target.name === "pasted" || event.target.name === "note") return;
    changed();
  });
  form.addEventListener("change", (event) => {
    if (event.target.name === "pasted") changed();
    if (event.target.name === "tool") {
      part("hint").textContent = {
        knot: "Tap the face where a knot shows. Drag it to its place, its corner to its size.",
        check: "Tap where a check or shake runs, then drag its corner to its end.",
        pin: "Tap a blank to pin it to its place; tap it again to let it go.",
      }[event.target.value];
    }
  });
  form.addEventListener("click", (event) => {
    const row = event.target.closest("[data-knot]");
    if (event.target.matches("[data-remove]")) remove(row);
    if (event.target.matches("[data-done]")) choose(null);
    if (event.target.matches("[data-add]")) addTyped();
    if (event.target.matches("[data-undo]")) past.undo();
  });
  let saved = JSON.stringify(snapshot());
  form.addEventListener("submit", () => (saved = JSON.stringify(snapshot())));
  addEventListener("beforeunload", (event) => {
    if (JSON.stringify(snapshot()) !== saved) event.preventDefault();
  });

  refresh();
  whole.draw();
  ask();
}

/** A place as it can be typed and read again: finer than that no blank is off a knot. */
const exactly = (place) => `${Number(Math.max(0, place).toFixed(6))} mm`;

/** Whether a point lies in a figure whose corners go round one way. */
function inside(corners, x, y) {
  const turns = corners.map(([x0, y0], i) => {
    const [x1, y1] = corners[(i + 1) % corners.length];
    return (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0);
  });
  return turns.every((turn) => turn >= 0) || turns.every((turn) => turn <= 0);
}

for (const form of document.querySelectorAll("[data-board-form]")) attach(form);
