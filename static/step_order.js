// The order of steps, moved without leaving the page. Without this file each button posts.

/** Let the ↑ and ↓ of a list of steps move them in the page, and remember the order. */
export function attach(form) {
  const state = form.querySelector("[data-state]");
  const list = form.querySelector("ol");
  let sending = Promise.resolve();

  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-move]");
    if (!button || event.defaultPrevented) return;
    event.preventDefault();
    const step = button.closest("[data-step]");
    const other = button.dataset.move === "earlier" ? step.previousElementSibling : step.nextElementSibling;
    if (button.dataset.move === "earlier") list.insertBefore(step, other);
    else list.insertBefore(other, step);
    settle(list);
    (button.disabled ? step.querySelector("[data-move]:not(:disabled)") : button)?.focus();
    step.scrollIntoView({ block: "nearest" });
    sending = sending.then(() => send(form, state));
  });
}

/** The ends of what can be moved, for nothing passes the first or last step; where a stage begins. */
function settle(list) {
  for (const step of list.children)
    step.classList.toggle("begins", step.previousElementSibling?.dataset.stage !== step.dataset.stage);
  const movable = [...list.children].filter((step) => step.querySelector("[data-move]"));
  movable.forEach((step, i) => {
    step.querySelector("[data-move=earlier]").disabled = i === 0;
    step.querySelector("[data-move=later]").disabled = i === movable.length - 1;
  });
}

async function send(form, state) {
  const body = new URLSearchParams(new FormData(form));
  body.set("do", "order");
  try {
    const reply = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" } });
    if (!reply.ok) throw new Error(reply.statusText);
    const { own, advice } = await reply.json();
    for (const said of document.querySelectorAll("[data-order]")) said.hidden = (said.dataset.order === "own") !== own;
    form.querySelector("[data-advice]").innerHTML = advice;
    state.textContent = "Order remembered.";
    form.querySelector("[data-reset]").disabled = !own;
  } catch {
    state.textContent = "Not remembered: the laptop does not answer. Move a step again once it does.";
  }
}

for (const form of document.querySelectorAll("form[data-step-order]")) attach(form);
