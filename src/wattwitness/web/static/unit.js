/* What another question would change is said as the form is filled, before it is kept. */
import { send, wordsOf } from "./app.js";

const form = document.getElementById("question"), would = document.getElementById("would");
let last = 0;

form.addEventListener("change", async () => {
  const asked = ++last;
  const says = await send(form.dataset.would, wordsOf(form)).then((words) => words.says, (error) => `${error.what} ${error.hint}`);
  if (asked === last) { would.textContent = says; }
});
