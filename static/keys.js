// Fingers: the page's own large keys, a keyboard, a pedal, calipers that type.

const FRACTION_END = /\/(16|32|64)$/;

/** What one key makes of what stands in the field. A fraction key closes a fraction. */
export function pressed(text, key) {
  // The blank behind whole inches is not seen, so it goes with the figure before it.
  if (key === "rub") return text.replace(/(\/(16|32|64)|. ?)$/, "");
  if (FRACTION_END.test(text)) return text;
  if (key === "whole") return /^\d+$/.test(text) ? `${text} ` : text;
  if (key.startsWith("/")) return /(^|\s)\d+$/.test(text) ? text + key : text;
  if (key === "." && /[.,\s]/.test(text)) return text;
  return text.length < 12 ? text + key : text;
}

/** Attach the keys on the page to whatever field `current()` names. */
export function attachKeypad(pad, current) {
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("button")?.dataset.key;
    const field = current();
    if (!key || !field) return;
    field.value = pressed(field.value, key);
    navigator.vibrate?.(10);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

/**
 * Real keys: Enter, arrows and page keys step (a pedal types these); a digit goes where a reading
 * is expected. `field()` is the reading field in view or null, `press`, `back` and `digit` act;
 * where the page `scrolls()`, all keys are the browser's own.
 */
export function attachKeyboard({ scrolls, field, press, back, digit }) {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || scrolls()) return;
    const inField = event.target === field();
    const busy = event.target.closest?.("input, select, textarea, button, a, summary") && !inField;
    const editing = inField && event.target.value !== "";
    const act = actionOf(event.key, { inField, busy, editing });
    if (!act) return;
    event.preventDefault();
    if (event.repeat) return; // a pedal or key held down steps once
    ({ press, back, digit })[act](event.key);
  });
}

function actionOf(key, { inField, busy, editing }) {
  if (key === "Enter") return busy ? null : "press";
  if (key === "PageDown" || (key === "ArrowRight" && !editing && !busy)) return "press";
  if (key === "PageUp" || (key === "ArrowLeft" && !editing && !busy)) return "back";
  return /^[0-9.,]$/.test(key) && !inField && !busy ? "digit" : null;
}
