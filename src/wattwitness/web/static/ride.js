/* A ride: its panels, a stretch that is asked about, the clock by hand, and the answer when it is there. */
import { ask, follow, send, tellAt, tellWrong } from "./app.js";
import { Panels, clock, secondsOf } from "./panels.js";

const page = document.getElementById("ride");
const base = page.dataset.ride;
const facts = JSON.parse(page.dataset.facts);
const find = (name) => page.querySelector(`[data-part="${name}"]`);
const speak = (text) => { find("spoken").textContent = text; };
const MINUS_SIGN = /\u2212/g;
let question = null, trial = null;

/* Panels are there before their lines: what has none stays hidden. */
const panels = new Panels(find("panels"), facts.panels, {
  onChoose: (stretch) => chooseStretch(stretch),
  onRead: (text) => { find("now").textContent = text; },
});

/* Numbers as they were recorded: a header in JSON, then the times and values of each line as 32-bit floats. */
async function lines(path) {
  const response = await fetch(path);
  if (!response.ok) { throw (await response.json()).error; }
  const bytes = await response.arrayBuffer();
  const size = new DataView(bytes).getUint32(0, true);
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, size)));
  let place = 4 + size + ((4 - (size % 4)) % 4);
  const taken = (count) => { const array = new Float32Array(bytes, place, count); place += 4 * count; return array; };
  return header.lines.map((line) => ({ ...line, time: taken(line.count), values: taken(line.count) }));
}

async function draw(path) {
  try {
    (await lines(path)).forEach((line) => panels.add(line.panel, line));
    if (!performance.getEntriesByName("first-panel").length) {
      requestAnimationFrame(() => requestAnimationFrame(() => performance.mark("first-panel")));
    }
  } catch (error) {
    tellWrong(error);
  }
}

async function answer() {
  try {
    const words = await ask(`${base}/answer`);
    await follow({ into: { "#whole-answer": words.html, "#places": words.places } });
    find("missing").textContent = words.missing.join(" ");
    find("missing").hidden = !words.missing.length;
    panels.spans = words.spans;
    words.offsets.forEach((offset, k) => startClock(k, offset));
    panels.redraw();
    await Promise.all(facts.units.map((unit, k) => (words.compared[k] ? draw(`${base}/difference/${k}`) : null)));
    wirePlaces(document.getElementById("whole-answer"));
    wirePlaces(document.getElementById("places"));
    page.dataset.ready = "yes";
  } catch (error) {
    document.getElementById("whole-answer").replaceChildren();
    tellWrong(error);
  }
}

function wirePlaces(root) {
  root.querySelectorAll("button[data-from]").forEach((button) => button.addEventListener("click", () => {
    const from = Number(button.dataset.from), to = Number(button.dataset.to);
    panels.choose({ from, to });
    panels.show(from, to);
    speak(`Panels show ${clock(from)} to ${clock(to)}`);
    if (!button.closest("#places")) { page.querySelector(".panels-room").scrollIntoView({ block: "start" }); }
  }));
}

/* The chosen stretch: its bias is asked for at once, the last question wins. */
async function chooseStretch(stretch) {
  const box = find("stretch");
  box.hidden = !stretch;
  if (!stretch) { return; }
  const { from, to } = stretch;
  find("from").value = clock(Math.max(from, 0));
  find("to").value = clock(to);
  find("stretch-says").textContent = "asking";
  question?.abort();
  question = new AbortController();
  try {
    const words = await ask(`${base}/stretch?from_s=${from}&to_s=${to}`, { signal: question.signal });
    find("stretch-says").textContent = words.says;
  } catch (error) {
    if (error.name !== "AbortError") { find("stretch-says").textContent = `${error.what} ${error.hint}`; }
  }
}

/* What stands in the fields is what is meant, whatever was chosen before; null, and said, where it is no stretch. */
function typedStretch() {
  const from = secondsOf(find("from").value), to = secondsOf(find("to").value);
  if (Number.isNaN(from) || Number.isNaN(to) || to <= from) {
    find("stretch-says").textContent = "Write both times as h:mm:ss, the later one second.";
    return null;
  }
  if (panels.chosen?.from !== from || panels.chosen?.to !== to) { panels.choose({ from, to }); }
  return panels.chosen;
}

async function change(path, words, form) {
  try { await follow(await send(path, words)); } catch (error) { if (form) { tellAt(form, error); } else { tellWrong(error); } }
}

page.querySelectorAll("[data-do]").forEach((button) => button.addEventListener("click", () => ({
  earlier: () => panels.pan(-0.4),
  later: () => panels.pan(0.4),
  closer: () => panels.zoom(0.5),
  wider: () => panels.zoom(2),
  whole: () => panels.showAll(),
  "to-stretch": () => { const meant = typedStretch(); if (meant) { panels.show(meant.from, meant.to); } },
  "no-stretch": () => panels.choose(null),
  "type-stretch": () => { find("stretch").hidden = false; find("from").focus(); },
})[button.dataset.do]()));
find("mean").addEventListener("change", (event) => panels.setMean(Number(event.target.value)));
find("ask-stretch").addEventListener("click", typedStretch);
find("leave-out").addEventListener("submit", (event) => {
  event.preventDefault();
  const meant = typedStretch();
  if (meant) { change(`${base}/leave-out`, { from_s: meant.from, to_s: meant.to, reason: find("reason").value }); }
});
find("panels").addEventListener("keydown", () => { if (panels.at !== null) { speak(`${clock(panels.at)}: ${panels.words()}`); } });

/* A clock by hand: the lines move at once, and what it would do to the bias follows. It starts where the answer is. */
function startClock(k, offset) {
  const form = page.querySelector(`form[data-clock="${k}"]`);
  const unit = facts.units[k], field = form.elements.offset_s, slide = form.elements.slide;
  const says = form.querySelector("output"), start = offset ?? unit.offset_s;
  if (unit.by_hand === null && offset !== null) { field.value = Math.round(offset * 100) / 100; }
  const tried = (value) => {
    panels.shift(k + 1, value - start);
    clearTimeout(trial);
    trial = setTimeout(async () => {
      try { says.textContent = (await ask(`${base}/trial/${form.dataset.clock}?offset_s=${value}`)).says; }
      catch (error) { says.textContent = `${error.what} ${error.hint}`; }
    }, 120);
  };
  field.addEventListener("input", () => {
    const value = Number(field.value.replace(MINUS_SIGN, "-").replace(",", "."));
    if (field.value.trim() && Number.isFinite(value)) { slide.value = value - start; tried(value); return; }
    clearTimeout(trial);
    says.textContent = field.value.trim() ? "That is no number of seconds: write one such as −3.5." : "";
  });
  slide.addEventListener("input", () => {
    const value = Math.round((start + Number(slide.value)) * 10) / 10;
    field.value = value;
    tried(value);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    change(`${base}/clock`, { ride: unit.ride, offset_s: field.value }, form);
  });
  form.querySelector("[data-found]").addEventListener("click", () => change(`${base}/clock`, { ride: unit.ride, offset_s: "" }));
}
page.ownerDocument.querySelector("a[href='#hand-clock']").addEventListener("click", () => { page.querySelector("#hand-clock details").open = true; });
/* One after the other, so that something is there to look at as soon as it can be. */
for (let k = 0; k <= facts.units.length; k += 1) { await draw(`${base}/lines/${k}`); }
await answer();
