// @ts-check
// Shows what a measured bar would do to this screen, before it is kept.

import { applyScale } from "./scale.js";

applyScale();
for (const form of document.querySelectorAll("form[data-phone-size]")) attach(/** @type {HTMLFormElement} */ (form));

/** @param {HTMLFormElement} form */
function attach(form) {
  const field = /** @type {HTMLInputElement} */ (form.elements.namedItem("measured"));
  const says = document.querySelector("[data-phone-size-says]");
  const barPx = Number(form.dataset.barPx);
  field.addEventListener("change", () => {
    const mm = Number(field.value.trim().replace(",", ".").replace(/\s*mm$/, ""));
    const perPx = mm / barPx;
    if (!(perPx >= 0.08 && perPx <= 0.6)) return;
    applyScale(perPx);
    if (says) says.textContent = `Like this, with a pixel of ${perPx.toFixed(3)} mm. Keep it if the text looks right.`;
  });
}
