// @ts-check
// Shows how large text would be on a measured screen, before it is kept. Only the line that says
// so changes its size: were the whole page to, the button would move away under the finger.

const NOMINAL_MM_PER_PX = 0.159; // what sizes are reckoned with where nothing was measured
const MM_PER_INCH = 25.4;
const LARGEST_PHONE_MM_PER_PX = 0.19; // above it, no phone: text is large enough as it is
const MOST_PERCENT = 150;

for (const form of document.querySelectorAll("form[data-phone-size]")) attach(/** @type {HTMLFormElement} */ (form));

/** @param {HTMLFormElement} form */
function attach(form) {
  const field = /** @type {HTMLInputElement} */ (form.elements.namedItem("measured"));
  const says = /** @type {HTMLElement | null} */ (document.querySelector("[data-phone-size-says]"));
  const barPx = Number(form.dataset.barPx);
  field.addEventListener("input", () => {
    const [, figure, said] = field.value.trim().match(/^([\d.,]+)\s*(mm|in|)$/) ?? [];
    const mm = Number(figure?.replace(",", ".")) * ((said || form.dataset.unit) === "in" ? MM_PER_INCH : 1);
    const perPx = mm / barPx;
    if (!says || !(perPx >= 0.08 && perPx <= 0.6)) return;
    says.style.fontSize = textSize(perPx);
    says.textContent = "Text would be this large. Keep it if that is right.";
  });
}

/**
 * How large text will be, as a share of the browser's own size: what the laptop makes of it too.
 * @param {number} mmPerPx mm to a CSS pixel
 */
function textSize(mmPerPx) {
  if (mmPerPx > LARGEST_PHONE_MM_PER_PX) return "";
  return `${Math.min((100 * NOMINAL_MM_PER_PX) / mmPerPx, MOST_PERCENT).toFixed(2)}%`;
}
