/* What every page does alike: send what the tester asks, show what came of it, follow work that takes longer. */
let token = document.querySelector('meta[name="token"]').content;
const told = document.getElementById("told");
const wrong = document.getElementById("wrong");

const line = (text) => Object.assign(document.createElement("p"), { textContent: text });

export function tell(text) {
  told.replaceChildren(...(text ? [line(text)] : []));
}

/* What the program calls its fields means nothing to who reads. */
const OF_A_FIELD = /^[a-z]+(_[a-z]+)*(, [a-z]+(_[a-z]+)*)*$/;

export function tellWrong(error) {
  const where = error.where && !OF_A_FIELD.test(error.where) ? ` (${error.where})` : "";
  wrong.replaceChildren(line(`${error.what}${where} ${error.hint}`));
  wrong.scrollIntoView({ block: "nearest" });
}

const UNREACHABLE = { slug: "no_answer", what: "The program does not answer.", where: "",
  hint: "Start it again with “wattwitness serve”; what was kept before is there. Then do this once more." };

/* Send words as JSON, or a file as it is; give back what the program answers. Throws its error in words.
   After the program was started again the page goes on with its new token: what was typed stays. */
export async function send(path, body = {}, options = {}) {
  try { return await sendOnce(path, body, options); } catch (error) {
    if (error.slug !== "stale_page") { throw error; }
    await renewToken();
    return sendOnce(path, body, options);
  }
}

async function sendOnce(path, body, { method = "POST", signal } = {}) {
  const file = body instanceof Blob;
  const headers = { "x-wattwitness-token": token, "x-wattwitness-page": location.pathname, accept: "application/json",
    "content-type": file ? "application/octet-stream" : "application/json" };
  let response;
  try {
    response = await fetch(path, { method, headers, signal, body: file ? body : JSON.stringify(body) });
  } catch (problem) {
    if (problem.name === "AbortError") { throw problem; }
    throw UNREACHABLE;
  }
  return answered(response);
}

/* The token for requests of other kinds; anew after the program was started again, so that a page may go on. */
export const tokenNow = () => token;

export async function renewToken() {
  const text = await (await fetch(location.pathname, { headers: { accept: "text/html" } })).text();
  token = new DOMParser().parseFromString(text, "text/html").querySelector('meta[name="token"]')?.content ?? token;
}

/* Ask for data that changes nothing. */
export async function ask(path, { signal } = {}) {
  let response;
  try {
    response = await fetch(path, { headers: { accept: "application/json" }, signal });
  } catch (problem) {
    if (problem.name === "AbortError") { throw problem; }
    throw UNREACHABLE;
  }
  return answered(response);
}

async function answered(response) {
  const words = await response.json().catch(() => ({ error: UNREACHABLE }));
  if (words.error) { throw words.error; }
  return words;
}

/* A page that was left open says so when the bench has been changed from another one meanwhile. */
const elsewhere = document.getElementById("elsewhere");
let seen = document.querySelector('meta[name="state"]').content;

const stateNow = () => ask("/state").then((words) => words.state, () => null);

async function look() {
  if (document.hidden) { return; }
  const now = await stateNow();
  if (now) { elsewhere.hidden = now === seen; }
}

/* A form that holds what stands on the bench would put it in place of what another page has written since. */
async function stillSo() {
  const now = await stateNow();
  return !now || now === seen || confirm("Something on the bench was changed elsewhere since this page was loaded, perhaps what this form holds. Put what stands here in its place? To look first, cancel and load the page again.");
}

elsewhere.querySelector("button").addEventListener("click", () => { location.reload(); });
document.addEventListener("visibilitychange", look);
addEventListener("focus", look);

/* An answer says what to do: go to a page, follow a task, put a part into this page, or say a sentence. */
export async function follow(words, host) {
  if (words.into) {
    for (const [place, html] of Object.entries(words.into)) {
      const element = document.querySelector(place);
      element.innerHTML = html;
      ready(element);
    }
  }
  if (words.says) { tell(words.says); }
  if (!words.goes_to) { seen = await stateNow() ?? seen; }
  if (words.task) { await watch(words.task, host); }
  if (words.goes_to) { goTo(words); }
}

/* What a change concerns is said on the page that follows. */
const SAID = "said on the way";

function goTo({ goes_to: path, says }) {
  if (says) { sessionStorage.setItem(SAID, says); }
  const here = location.pathname + location.search;
  location.assign(path);
  if (path.split("#")[0] === here && path.includes("#")) { location.reload(); }
}

function sayWhatWasSaid() {
  const says = sessionStorage.getItem(SAID);
  sessionStorage.removeItem(SAID);
  if (says) { tell(says); }
}

/* Show a task as it goes on, with a button that stops it. Resolves with its last state. */
export function watch(task, host = told) {
  const box = document.createElement("div");
  box.className = "task";
  const title = Object.assign(line(task.title), { className: "title" });
  const says = Object.assign(line(task.says), { className: "says" });
  const bar = Object.assign(document.createElement("progress"), { ariaLabel: task.title });
  const stop = Object.assign(document.createElement("button"), { type: "button", textContent: "Stop" });
  const actions = Object.assign(document.createElement("div"), { className: "actions" });
  actions.append(stop);
  box.append(title, bar, says, actions);
  host.replaceChildren(box);
  stop.addEventListener("click", () => {
    stop.disabled = true;
    says.textContent = "stopping";
    send(`/tasks/${task.name}/stop`).catch(tellWrong);
  });
  return new Promise((resolve) => {
    const events = new EventSource(`/tasks/${task.name}/events`);
    events.onmessage = (event) => {
      const now = JSON.parse(event.data);
      const parts = /(\d+) of (\d+)/.exec(now.says);
      says.textContent = now.says;
      if (parts) { bar.max = Number(parts[2]); bar.value = Number(parts[1]); }
      if (now.state === "running") { return; }
      events.close();
      if (now.state === "failed") {
        const form = host.closest("form");
        host.replaceChildren();
        if (form) { tellAt(form, now.error); } else { tellWrong(now.error); }
      }
      if (now.state === "stopped") { host.replaceChildren(line(now.says)); }
      if (now.state === "done") { bar.max = 1; bar.value = 1; if (now.leads_to) { location.assign(now.leads_to); } }
      resolve(now);
    };
    events.onerror = () => {
      // Closed: the program is there again and knows nothing of this task. The page itself tells what is kept.
      if (events.readyState === EventSource.CLOSED) { brokenOff(host, task.title); return; }
      says.textContent = "The program does not answer; it is asked again.";
    };
  });
}

/* The program was started again under a task. A form keeps what was typed; any other page shows what is kept. */
function brokenOff(host, title) {
  const says = `${title}: the program was started again and this was broken off. What was finished before is kept; begin it once more.`;
  const form = host.closest("form");
  if (!form) { sessionStorage.setItem(SAID, says); location.reload(); return; }
  host.replaceChildren(Object.assign(line(says), { className: "wrong" }));
  form.querySelectorAll("button").forEach((button) => { button.disabled = false; });
}

/* The fields of a form by their names. Numbers stay as typed: the program reads and checks them. */
export function wordsOf(form) {
  const words = {};
  for (const field of form.elements) {
    if (!field.name || field.disabled) { continue; }
    if (field.type === "checkbox") { words[field.name] = field.checked; }
    else if (field.type === "radio") { if (field.checked) { words[field.name] = field.value; } }
    else { words[field.name] = field.value; }
  }
  return words;
}

/* An error stands at the field that it names; where there is none of that name, above the page. */
export function tellAt(form, error) {
  const field = error.where && [...form.elements].find((one) => one.name === error.where && one.type !== "hidden");
  if (!field) { tellWrong(error); return; }
  const called = field.closest("label")?.firstChild.textContent.trim() ?? "";
  const says = Object.assign(line(`${called ? `${called}: ` : ""}${error.what} ${error.hint}`), { className: "wrong at-field", id: `wrong-at-${field.name}` });
  says.setAttribute("role", "alert");
  field.closest("details")?.setAttribute("open", "");
  const label = field.closest("label");
  if (label) { label.after(says); } else { field.after(says); }
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-errormessage", says.id);
  field.focus();
}

function forget(form) {
  wrong.replaceChildren();
  form.querySelectorAll(".at-field").forEach((one) => one.remove());
  form.querySelectorAll("[aria-invalid]").forEach((one) => {
    one.removeAttribute("aria-invalid");
    one.removeAttribute("aria-errormessage");
  });
}

async function submit(form) {
  const buttons = [...form.querySelectorAll("button")];
  const sure = form.dataset.sure;
  if (sure && !confirm(sure)) { return; }
  if (form.dataset.holds !== undefined && !await stillSo()) { return; }
  forget(form);
  buttons.forEach((button) => { button.disabled = true; });
  try {
    await follow(await send(form.dataset.send, wordsOf(form)), form.querySelector(".follow") ?? undefined);
  } catch (error) {
    buttons.forEach((button) => { button.disabled = false; });
    tellAt(form, error);
  } finally {
    buttons.forEach((button) => { button.disabled = false; });
  }
}

/* A table that is seen whole needs no word on how to see the rest. */
function fitting(root) {
  root.querySelectorAll(".wider").forEach((cue) => {
    const scroll = cue.nextElementSibling;
    new ResizeObserver(() => { cue.hidden = scroll.scrollWidth <= scroll.clientWidth; }).observe(scroll);
  });
}

/* Forms with data-send, buttons with data-post, and parts with data-load work wherever they stand. */
export function ready(root = document) {
  root.querySelectorAll("form[data-send]").forEach((form) => {
    form.addEventListener("submit", (event) => { event.preventDefault(); submit(form); });
  });
  root.querySelectorAll("button[data-post]").forEach((button) => {
    button.addEventListener("click", async () => {
      if (button.dataset.sure && !confirm(button.dataset.sure)) { return; }
      button.disabled = true;
      wrong.replaceChildren();
      try { await follow(await send(button.dataset.post)); } catch (error) { tellWrong(error); } finally { button.disabled = false; }
    });
  });
  root.querySelectorAll("[data-load]").forEach(async (element) => {
    try { await follow({ into: { [`#${element.id}`]: (await ask(element.dataset.load)).html } }); }
    catch (error) { element.replaceChildren(line(`${error.what} ${error.hint}`)); }
  });
  fitting(root);
  root.querySelectorAll("[data-task]").forEach((element) => { watch(JSON.parse(element.dataset.task), element); });
}

ready();
sayWhatWasSaid();
