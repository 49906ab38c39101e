// Runs on every page; nothing depends on it. What waits on this phone is sent and counted here.
import { keepTrying, listen, refused, setAside, takeBack, waiting } from "./outbox.js";

const banner = document.querySelector("[data-waiting]");
const aside = document.querySelector("[data-aside]");
const panel = Object.assign(document.createElement("section"), { className: "handed stack", hidden: true });
panel.dataset.handedBack = "";
panel.setAttribute("role", "alert");

async function show({ waiting: held, refused: back }) {
  banner.hidden = !held.length;
  banner.textContent = held.length ? `${count(held.length)} on this phone; ${held.length > 1 ? "they go" : "it goes"} over when the laptop answers.` : "";
  const put = aside ? await setAside() : [];
  if (!back.length && !put.length) return void (panel.hidden = true);
  const { showAside, showHandedBack } = await import("./handed_back.js");
  showHandedBack(panel, await refused());
  if (aside) showAside(aside, put);
}

const count = (n) => (n === 1 ? "1 tap is kept" : `${n} taps are kept`);

if (banner && "indexedDB" in globalThis) {
  document.querySelector("main").prepend(panel);
  listen(show);
  takeBack()
    .then(() => Promise.all([waiting(), refused()]))
    .then(([held, back]) => show({ waiting: held, refused: back }))
    .then(keepTrying)
    .catch(() => {});
}
