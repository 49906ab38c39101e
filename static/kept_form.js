// Forms that stay on the page until the laptop has what was typed; without this file they are plain
// ones. A form with a key of its own gets a fresh one whenever the page is shown and whenever what it
// says has changed, so that the same sent twice is one and something else is another.
import { freshKey } from "./outbox.js";

const TIMEOUT_MS = 8000;
const says = document.querySelector("script[data-away]").dataset;
const sent = new WeakMap();
const plain = new WeakSet();

addEventListener("pageshow", () => document.querySelectorAll("form[data-own-key]").forEach(renew));

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-keep]") || plain.has(form)) return;
  event.preventDefault();
  if (!form.hasAttribute("aria-busy")) send(form, event.submitter);
});

async function send(form, button) {
  renewIfChanged(form);
  form.setAttribute("aria-busy", "true");
  try {
    const reply = await fetch(form.getAttribute("action"), {
      method: "POST",
      body: saidBy(form, button),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
    if (reply.redirected) goTo(reply.url, form);
    else if (reply.status === 403 || reply.status >= 500) tell(form, says.trouble);
    else askPlainly(form, button);
  } catch {
    tell(form, says.away);
  } finally {
    form.removeAttribute("aria-busy");
  }
}

function saidBy(form, button) {
  const fields = new URLSearchParams(new FormData(form));
  if (button?.name) fields.append(button.name, button.value);
  return fields;
}

function renew(form) {
  form.elements.key.value = freshKey();
}

function renewIfChanged(form) {
  if (!form.matches("[data-own-key]")) return;
  const fields = saidBy(form);
  fields.delete("key");
  const now = fields.toString();
  if (sent.has(form) && sent.get(form) !== now) renew(form);
  sent.set(form, now);
}

/** Kept. Coming back here finds the form empty again. */
function goTo(url, form) {
  form.reset();
  const to = `${url}${form.dataset.keep ? "#" : ""}${form.dataset.keep}`;
  const isHere = url === location.href.split("#")[0];
  location.assign(to);
  if (isHere) location.reload();
}

/** Nothing was kept: the laptop's own page says why, beside the field. */
function askPlainly(form, button) {
  plain.add(form);
  form.requestSubmit(button);
}

function tell(form, text) {
  let line = form.querySelector("[data-told]");
  if (!line) {
    line = document.createElement("p");
    line.className = "problem";
    line.dataset.told = "";
    line.setAttribute("role", "alert");
    form.append(line);
  }
  line.textContent = text;
}
