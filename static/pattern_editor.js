// The station table beside its drawing, kept alive: every change is drawn and checked at once.
// Without this file each button posts the form and the page comes back changed.
import { fill, read, showForm } from "./station_rows.js";
import { memory } from "./undo.js";

const REST_MS = 300; // after the last key, before the drawing follows

/** Make one station table live. */
export function attach(form) {
  const parts = {
    drawing: form.querySelector("[data-drawing]"),
    live: form.querySelector("[data-live]"),
    facts: form.querySelector("[data-facts]"),
    state: form.querySelector("[data-state]"),
    undo: form.querySelector("[data-undo]"),
    redo: form.querySelector("[data-redo]"),
  };
  let waiting = null;
  let asked = null;
  let turn = Promise.resolve();
  let saved = JSON.stringify(read(form));

  const past = memory(
    () => read(form),
    (table) => {
      fill(form, table);
      ask();
    },
    (back, forth) => {
      parts.undo.disabled = !back;
      parts.redo.disabled = !forth;
    },
  );

  // What stands wrong on a page that came back was tried; a cell still empty was not.
  for (const cell of form.querySelectorAll('[data-cell][aria-invalid="true"]')) cell.dataset.tried = "";

  form.classList.add("live-on");
  form.elements.before.value = "";
  parts.undo.disabled = true;
  parts.redo.hidden = false;

  form.addEventListener("input", (event) => {
    const row = event.target.closest("[data-row]");
    if (event.target.name === "form" && row) {
      delete row.querySelector("[name=through]").dataset.tried;
      showForm(row);
    } else if (event.target.dataset.cell) event.target.dataset.tried = "";
    past.note(event.target.id);
    clearTimeout(waiting);
    waiting = setTimeout(ask, REST_MS);
  });

  form.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.matches("[data-redo]")) inTurn(past.redo);
    const what = button.value;
    if (what.startsWith("save") || !what) return;
    event.preventDefault();
    inTurn(what === "undo" ? past.undo : () => change(what, button));
  });

  form.addEventListener("keydown", (event) => {
    const key = event.key.toLowerCase();
    if ((event.ctrlKey || event.metaKey) && !event.altKey && (key === "z" || key === "y")) {
      event.preventDefault();
      inTurn(key === "y" || event.shiftKey ? past.redo : past.undo);
    } else if (event.key === "Enter" && event.target.matches("input")) {
      event.preventDefault();
      following(form, event.target)?.focus();
    }
  });

  form.addEventListener("focusout", (event) => {
    const cell = event.target;
    if (!cell.matches("[data-cell]") || cell.name === "form" || "tried" in cell.dataset) return;
    cell.dataset.tried = "";
    if (!cell.value.trim()) ask();
  });

  form.addEventListener("submit", () => (saved = JSON.stringify(read(form))));
  addEventListener("beforeunload", (event) => {
    if (JSON.stringify(read(form)) !== saved) event.preventDefault();
  });

  /** Buttons pressed faster than the server answers are done one after another, none lost. */
  function inTurn(what) {
    turn = turn.then(what).catch((trouble) => console.error(trouble));
  }

  /** One of the buttons that change rows: the server says what the rows are then. */
  async function change(what, button) {
    asked?.abort();
    const reply = await send(what);
    if (!reply?.rows) return;
    fill(form, reply);
    past.note();
    show(reply);
    settleFocus(form, what, button);
  }

  async function ask() {
    clearTimeout(waiting);
    asked?.abort();
    asked = new AbortController();
    const reply = await send("", asked.signal);
    if (reply) show(reply);
  }

  async function send(what, signal) {
    const body = new FormData(form);
    body.delete("before");
    body.set("do", what);
    try {
      const reply = await fetch("/patterns/draw", {
        method: "POST",
        body: new URLSearchParams(body),
        headers: { Accept: "application/json" },
        signal,
      });
      const found = await reply.json();
      if (reply.ok) return found;
      parts.state.textContent = `${found.message} ${found.hint ?? ""}`;
    } catch (trouble) {
      if (trouble.name !== "AbortError")
        parts.state.textContent = "The laptop does not answer: the drawing waits, and what you typed stays here.";
    }
    return null;
  }

  function show(reply) {
    if (reply.drawing) parts.drawing.innerHTML = reply.drawing;
    if (reply.facts) parts.facts.innerHTML = reply.facts;
    parts.live.classList.toggle("behind", !reply.drawing);
    const [told, empty] = parted(form, reply.problems);
    parts.state.textContent = summary(reply.drawing, told, empty);
    form.querySelector("[data-problems]")?.remove();
    reply.after.forEach((html, i) => {
      const note = form.querySelector(`[data-after="${i + 1}"]`);
      if (note && note.innerHTML !== html) note.innerHTML = html;
    });
    showProblems(form, told);
  }
}

/** Problems to tell, and those of cells that nobody came to yet: these are only empty. */
function parted(form, problems) {
  const untried = ({ row, field }) => {
    const cell = form.querySelector(`[data-cell="${row}:${field}"]`);
    return cell !== null && !cell.value.trim() && !("tried" in cell.dataset);
  };
  return [problems.filter((problem) => !untried(problem)), problems.filter(untried)];
}

function summary(drawing, problems, empty) {
  if (!problems.length) {
    const rows = [...new Set(empty.filter((problem) => problem.row).map((problem) => problem.row))];
    return drawing || !rows.length ? "" : `The drawing waits for what is still empty in row ${rows.join(", ")}.`;
  }
  const first = problems[0];
  const where = first.row ? `Row ${first.row}: ` : "";
  const more = problems.length > 1 ? ` And ${problems.length - 1} more.` : "";
  const behind = drawing ? "" : " The drawing waits for that.";
  return `${where}${first.message}${more}${behind}`;
}

/** Each problem beside its cell; cells that are right again are cleared. */
function showProblems(form, problems) {
  const found = new Map(problems.map((problem) => [`${problem.row}:${problem.field}`, problem]));
  for (const place of form.querySelectorAll("[data-problem-of]")) {
    const problem = found.get(place.dataset.problemOf);
    const cell = form.querySelector(`[data-cell="${place.dataset.problemOf}"]`);
    const text = problem ? `${problem.message} ${problem.hint}`.trim() : "";
    if (place.textContent !== text) place.textContent = text;
    place.hidden = !problem;
    if (problem) {
      cell.setAttribute("aria-invalid", "true");
      cell.setAttribute("aria-describedby", place.id);
    } else {
      cell.removeAttribute("aria-invalid");
      cell.removeAttribute("aria-describedby");
    }
  }
}

/** After a button: to the new row's first cell, along with the row that moved, or stay. */
function settleFocus(form, what, button) {
  const [verb, where] = what.split(":");
  const rows = [...form.querySelectorAll("[data-row]")];
  const at = Number(where) - 1;
  if (verb === "add" || verb === "copy") return rows[at + 1]?.querySelector("[name=at]").focus();
  if (verb === "up" || verb === "down") {
    const row = rows[verb === "up" ? at - 1 : at + 1];
    return (row ?? rows[at])?.querySelector(`.${verb}`).focus();
  }
  if (verb === "delete") return rows[Math.min(at, rows.length - 1)]?.querySelector("[name=at]").focus();
  if (!button.disabled) button.focus();
  return undefined;
}

function following(form, input) {
  const cells = [...form.querySelectorAll("[data-cell]")].filter((cell) => cell.offsetParent !== null);
  return cells[cells.indexOf(input) + 1];
}

for (const form of document.querySelectorAll("form[data-pattern-editor]")) attach(form);
