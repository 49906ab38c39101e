// The rows of the station table: reading what is typed in them, and filling them in.

const CELLS = ["id", "at", "diameter", "name", "kind", "tolerance", "position_tolerance", "form", "through", "called"];

/** The whole table as it stands in the form: plain data, for undo. */
export function read(form) {
  return {
    unit: form.elements.unit.value,
    datum_end: form.elements.datum_end.value,
    name: form.elements.name_of_pattern.value,
    rows: [...form.querySelectorAll("[data-row]")].map((row) =>
      Object.fromEntries(CELLS.map((cell) => [cell, field(row, cell).value])),
    ),
  };
}

/** Put a table into the form, with as many rows as it has. What holds the focus keeps it. */
export function fill(form, table) {
  const list = form.querySelector("[data-rows]");
  while (list.children.length > table.rows.length) list.lastElementChild.remove();
  while (list.children.length < table.rows.length) list.append(blank(form, list.children.length + 1));
  table.rows.forEach((cells, i) => {
    for (const cell of CELLS) {
      const input = field(list.children[i], cell);
      if (input.value !== cells[cell]) input.value = cells[cell];
    }
    showForm(list.children[i]);
  });
  form.elements.datum_end.value = table.datum_end;
  if (table.name !== undefined) form.elements.name_of_pattern.value = table.name;
  setUnit(form, table.unit);
}

/** Show or hide the crown or root of a row, and call it by its name. */
export function showForm(row) {
  const form = field(row, "form").value;
  row.querySelector("[data-form]").dataset.form = form;
  row.querySelector(".cell-through label").textContent = form === "cove" ? "Root" : "Crown";
}

function setUnit(form, unit) {
  form.elements.unit.value = unit;
  for (const button of form.querySelectorAll("[data-unit]"))
    button.setAttribute("aria-pressed", String(button.dataset.unit === unit));
  // A phone's number pad has no slash, and inches need one.
  for (const cell of form.querySelectorAll("[data-row] input[inputmode]:not([name=name])"))
    cell.inputMode = unit === "mm" ? "decimal" : "text";
}

function blank(form, n) {
  const holder = document.createElement("template");
  holder.innerHTML = form.querySelector("[data-row-template]").innerHTML.replaceAll("__n__", String(n));
  return holder.content.firstElementChild;
}

const field = (row, name) => row.querySelector(`[name="${name}"]`);
