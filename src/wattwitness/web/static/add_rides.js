/* The rides as proposed: swapped, changed, one more, what is typed kept beside the files, and all kept on the bench. */
import { follow, send, tell, tellWrong } from "./app.js";

const room = document.getElementById("pairs");
const list = room.querySelector(".pair-list");
const batch = room.dataset.batch;
const sides = JSON.parse(room.dataset.sides);

const cards = () => [...list.querySelectorAll(".pair")];
const field = (card, name) => card.querySelector(`[name="${name}"]`);

/* All recordings are put into a list only when it is opened: 200 rides have 400 lists. */
function fill(select) {
  if (select.dataset.filled) { return; }
  select.dataset.filled = "1";
  const chosen = select.value;
  select.replaceChildren(new Option("choose a recording", ""), ...sides.map((side) => new Option(side.shown, side.key)));
  select.value = chosen;
}

function swap(card) {
  const [reference, unit] = [field(card, "reference"), field(card, "unit")];
  fill(reference);
  fill(unit);
  [reference.value, unit.value] = [unit.value, reference.value];
  match(card);
}

/* Two recordings chosen by hand are held against each other: a sentence, and a doubt where they do not match. */
async function match(card) {
  const words = { reference: field(card, "reference").value, unit: field(card, "unit").value };
  const chosen = `${words.reference} ${words.unit}`;
  card.dataset.chosen = chosen;
  const complete = words.reference && words.unit && words.reference !== words.unit;
  tellOf(card, complete ? "The two are being held against each other." : "", "");
  if (!complete) { return; }
  let found;
  try { found = await send(`/add/${batch}/match`, words); } catch (error) { found = { sentence: error.what, doubtful: true }; }
  if (card.dataset.chosen !== chosen) { return; }
  tellOf(card, found.doubtful ? "" : found.sentence, found.doubtful ? found.sentence : "");
  remember();
}

function tellOf(card, says, doubt) {
  card.querySelector(".says").textContent = says;
  const place = card.querySelector(".doubt");
  place.textContent = doubt;
  place.hidden = !doubt;
}

function rideOf(card) {
  const ride = { keep: field(card, "keep").checked, doubt: card.querySelector(".doubt").textContent,
    says: card.querySelector(".says").textContent };
  for (const one of card.querySelectorAll("select[name], input[name]:not([type=checkbox])")) { ride[one.name] = one.value; }
  return ride;
}

const words = () => ({ rides: cards().map(rideOf) });

let waits;
function remember() {
  clearTimeout(waits);
  waits = setTimeout(() => send(`/add/${batch}/remember`, words()).catch((error) => {
    if (error.slug !== "no_answer") { tellWrong(error); }
  }), 400);
}

async function keep(button) {
  clearTimeout(waits);
  document.getElementById("wrong").replaceChildren();
  button.disabled = true;
  try {
    await follow(await send(`/add/${batch}/keep`, words()), document.getElementById("keeping"));
  } catch (error) {
    tellWrong(error);
  } finally {
    button.disabled = false;
  }
}

function forAll() {
  let changed = 0;
  for (const card of cards().filter((one) => field(one, "keep").checked)) {
    changed += 1;
    for (const said of room.querySelectorAll("[data-all]")) {
      if (said.value.trim()) { field(card, said.dataset.all).value = said.value; }
    }
  }
  tell(`Put into ${changed} ${changed === 1 ? "ride" : "rides"}.`);
}

function further() {
  const card = document.getElementById("further").content.firstElementChild.cloneNode(true);
  list.append(card);
  field(card, "reference").focus();
}

const DO = { keep, further, all: forAll, "swap-all": () => cards().filter((one) => field(one, "keep").checked).forEach(swap),
  swap: (button) => swap(button.closest(".pair")) };

room.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  if (!button) { return; }
  DO[button.dataset.do](button);
  if (button.dataset.do !== "keep") { remember(); }
});
for (const kind of ["input", "change"]) { room.addEventListener(kind, remember); }
room.addEventListener("change", (event) => { if (event.target.matches("select[data-sides]")) { match(event.target.closest(".pair")); } });
for (const kind of ["focusin", "pointerdown"]) {
  room.addEventListener(kind, (event) => { if (event.target.matches("select[data-sides]")) { fill(event.target); } });
}
