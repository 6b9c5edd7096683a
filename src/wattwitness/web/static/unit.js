/* What another question would change is said before it is kept. */
import { send, tellWrong, wordsOf } from "./app.js";

const form = document.getElementById("question"), would = document.getElementById("would");
document.getElementById("ask-would").addEventListener("click", async () => {
  would.textContent = "looking";
  try { would.textContent = (await send(form.dataset.would, wordsOf(form))).says; }
  catch (error) { would.textContent = ""; tellWrong(error); }
});
