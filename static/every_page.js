// Runs on every page; nothing depends on it. What waits on this phone is sent and counted here.
import { listen, keepTrying, putAside, refused, waiting } from "./outbox.js";

const banner = document.querySelector("[data-waiting]");

function show({ waiting: held, refused: back }) {
  banner.hidden = !held.length && !back.length;
  banner.replaceChildren(
    ...(held.length ? [line(`${count(held.length)} on this phone, not yet sent.`)] : []),
    ...back.map(handedBack),
  );
}

function line(text) {
  const p = document.createElement("p");
  p.textContent = text;
  return p;
}

function handedBack({ order, label, reply }) {
  const p = line(`${label}: not taken. ${reply.message} ${reply.hint ?? ""} `);
  const button = document.createElement("button");
  button.className = "button";
  button.textContent = "Put it aside";
  button.addEventListener("click", () => putAside(order));
  p.append(button);
  return p;
}

const count = (n) => (n === 1 ? "1 tap is kept" : `${n} taps are kept`);

if (banner && "indexedDB" in globalThis) {
  listen(show);
  Promise.all([waiting(), refused()])
    .then(([held, back]) => show({ waiting: held, refused: back }))
    .then(keepTrying)
    .catch(() => {});
}
