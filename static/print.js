// A button that prints the page; without this file it stays hidden and the browser's menu prints.

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}
