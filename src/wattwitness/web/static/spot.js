/* Readings noted live: a clock that runs, whose time stands in a row once its watts are typed. Nobody types who rides. */
const button = document.querySelector("[data-clock]");
const says = document.querySelector("[data-clock-says]");
const body = document.getElementById(button.dataset.clock);
let began = 0;

const two = (number) => String(number).padStart(2, "0");

function now() {
  const seconds = Math.floor((performance.now() - began) / 1000);
  return `${Math.floor(seconds / 60)}:${two(seconds % 60)}`;
}

function show() { says.textContent = `The clock is at ${now()}. The time of a row is written when its first value is typed.`; }

button.addEventListener("click", () => {
  began = performance.now();
  button.textContent = "Start the clock again from 0:00";
  says.removeAttribute("aria-live");
  show();
  const free = [...body.rows].find((row) => !row.querySelector('[name^="at."]').value);
  free?.querySelector('[name^="shows_w."]').focus();
});

body.addEventListener("input", (event) => {
  const at = event.target.closest("tr").querySelector('[name^="at."]');
  if (began && event.target !== at && !at.value) { at.value = now(); }
});

setInterval(() => { if (began) { show(); } }, 1000);
