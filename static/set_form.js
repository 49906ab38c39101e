// The form of a set's choices: a tolerance that is still ours follows the unit of the set.

/** Offer our own starting tolerances in the unit chosen; what the maker typed is never touched. */
export function attach(form) {
  const offered = [...form.querySelectorAll("[data-offer-mm]")];
  form.addEventListener("change", (event) => {
    if (event.target.name !== "unit") return;
    const [was, is] = event.target.value === "mm" ? ["offerIn", "offerMm"] : ["offerMm", "offerIn"];
    for (const input of offered) if (input.value.trim() === input.dataset[was]) input.value = input.dataset[is];
  });
}

for (const form of document.querySelectorAll("form[data-set-form]")) attach(form);
