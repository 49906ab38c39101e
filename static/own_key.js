// A form's own key, made on this device whenever the page is shown, so that going back and typing
// something else is a new reading, and a form sent twice is one. Without this file the laptop's
// key in the form serves.
import { freshKey } from "./outbox.js";

addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-own-key]")) {
    form.elements.key.value = freshKey();
  }
});
