/* Tables that are filled in row by row: a row more or less, by mouse or by keyboard, and rows pasted from a spreadsheet.

A body with data-rows holds rows; the template that it names holds an empty one, whose fields are called “name.N”. */
import { tell } from "/static/app.js";

const MOST_ROWS = 500;
const fieldsOf = (row) => [...row.querySelectorAll("input, select")];
let last = 0;

function numbered(body) {
  [...body.rows].forEach((row, place) => {
    row.querySelector(".row-number").textContent = String(place + 1);
    fieldsOf(row).forEach((field) => { field.ariaLabel = `${field.dataset.label}, row ${place + 1}`; });
    row.querySelector("[data-remove]").ariaLabel = `Take row ${place + 1} away`;
  });
}

/* A new row at the end; what stays the same from row to row is copied from the one before. */
function added(body) {
  if (body.rows.length >= MOST_ROWS) { tell(`More than ${MOST_ROWS} rows are not taken.`); return null; }
  const before = body.rows[body.rows.length - 1];
  const row = document.getElementById(body.dataset.rows).content.firstElementChild.cloneNode(true);
  last += 1;
  fieldsOf(row).forEach((field, place) => {
    field.name = field.name.replace(/\.N$/, `.${last}`);
    if (before && "same" in field.dataset) { field.value = fieldsOf(before)[place].value; }
  });
  body.append(row);
  numbered(body);
  return row;
}

const firstToFill = (row) => fieldsOf(row).find((field) => !("same" in field.dataset)) ?? fieldsOf(row)[0];

function onKey(event, body) {
  const row = event.target.closest("tr");
  if (!row || event.target.tagName !== "INPUT") { return; }
  const place = fieldsOf(row).indexOf(event.target);
  if (event.key === "Enter") {
    event.preventDefault();
    const next = row.nextElementSibling ?? added(body);
    if (next) { (row.nextElementSibling === next && place >= 0 && next !== body.lastElementChild ? fieldsOf(next)[place] : firstToFill(next)).focus(); }
  } else if (event.key === "ArrowDown" && row.nextElementSibling) {
    event.preventDefault();
    fieldsOf(row.nextElementSibling)[place].focus();
  } else if (event.key === "ArrowUp" && row.previousElementSibling) {
    event.preventDefault();
    fieldsOf(row.previousElementSibling)[place].focus();
  }
}

/* Cells that were copied from a spreadsheet go into as many fields, from the one with the focus on. */
function onPaste(event, body) {
  const text = event.clipboardData?.getData("text/plain") ?? "";
  if (!/[\t\n]/.test(text.trim())) { return; }
  event.preventDefault();
  let row = event.target.closest("tr");
  const from = fieldsOf(row).indexOf(event.target);
  for (const line of text.replace(/\r/g, "").replace(/\n+$/, "").split("\n")) {
    if (!row) { row = added(body); }
    if (!row) { return; }
    const fields = fieldsOf(row);
    line.split("\t").forEach((cell, place) => { if (fields[from + place]) { fields[from + place].value = cell.trim(); } });
    row = row.nextElementSibling;
  }
}

function remove(button, body) {
  const row = button.closest("tr");
  const near = row.nextElementSibling ?? row.previousElementSibling;
  row.remove();
  numbered(body);
  (near ? near.querySelector("[data-remove]") : document.querySelector(`[data-add="${body.id}"]`)).focus();
}

document.querySelectorAll("[data-rows]").forEach((body) => {
  last = Math.max(last, ...[...body.querySelectorAll("[name]")].map((field) => Number(field.name.split(".").pop()) || 0));
  numbered(body);
  body.addEventListener("keydown", (event) => onKey(event, body));
  body.addEventListener("paste", (event) => { if (event.target.closest("tr")) { onPaste(event, body); } });
  body.addEventListener("click", (event) => {
    const button = event.target.closest("[data-remove]");
    if (button) { remove(button, body); }
  });
});

/* One row more; or, with data-steps, a whole series: a row for each of those words in the field called “step”. */
function addedFor(button) {
  const body = document.getElementById(button.dataset.add);
  if (!button.dataset.steps) { return added(body); }
  const rows = button.dataset.steps.split(" ").map((step) => {
    const row = added(body);
    if (row) { row.querySelector('[name^="step."]').value = step; }
    return row;
  });
  return rows[0];
}

document.querySelectorAll("[data-add]").forEach((button) => {
  button.addEventListener("click", () => {
    const row = addedFor(button);
    if (row) { firstToFill(row).focus(); }
  });
});

/* A small text file that is chosen goes into the field that data-text-into names, and its name into data-name-into. */
document.querySelectorAll("input[data-text-into]").forEach((input) => {
  input.addEventListener("change", async () => {
    const [file] = input.files;
    if (!file) { return; }
    if (file.size > 900_000) { tell("This file is far too large for what is asked for here."); return; }
    document.getElementById(input.dataset.textInto).value = await file.text();
    if (input.dataset.nameInto) { document.getElementById(input.dataset.nameInto).value = file.name; }
  });
});

document.querySelectorAll("[data-print]").forEach((button) => { button.addEventListener("click", () => window.print()); });

/* What was asked for comes into view, and is where reading goes on, wherever on the page it stands. */
document.querySelectorAll("[data-comes-into-view]").forEach((place) => {
  new MutationObserver(() => { place.focus({ preventScroll: true }); place.scrollIntoView(); }).observe(place, { childList: true });
});
