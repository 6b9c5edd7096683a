/* Files on their way in: dropped or chosen, each sent by itself, told of, cancelled, and sent again after a failure. */
import { ask, follow, renewToken, send, tell, tellWrong, tokenNow } from "./app.js";

const AT_ONCE = 3;
const TRIES = 3;
const ANNOUNCED_AT_ONCE = 200;
const ASK_AGAIN_MS = 700;

const room = document.getElementById("add");
const list = document.getElementById("list");
const part = (name) => room.querySelector(`[data-do="${name}"]`);
const jobs = new Map();
let batch = room.dataset.batch;
let total = 0;
let back = null;

const row = (id) => document.getElementById(`file-${id}`);
const rows = (state) => [...list.children].filter((one) => !state || one.dataset.state === state);

function put(id, html) {
  const holder = document.createElement("template");
  holder.innerHTML = html;
  const made = holder.content.firstElementChild;
  const there = row(id);
  if (!there) { list.append(made); return; }
  const focused = there.contains(document.activeElement);
  there.replaceWith(made);
  if (focused) { made.querySelector("button")?.focus(); }
}

/* What was dropped or chosen: files with the folders that they were in. */
async function dropped(items) {
  // All must be taken at once: the list is empty as soon as the first is waited for.
  const taken = [...items].filter((item) => item.kind === "file")
    .map((item) => ({ entry: item.webkitGetAsEntry?.(), file: item.getAsFile() }));
  const entries = taken.map((one) => one.entry).filter(Boolean);
  const found = taken.filter((one) => !one.entry && one.file).map((one) => ({ file: one.file, folder: "" }));
  for (const entry of entries) { await walk(entry, "", found); }
  return found;
}

async function walk(entry, folder, found) {
  if (entry.isFile) {
    found.push({ file: await new Promise((resolve, reject) => { entry.file(resolve, reject); }), folder });
    return;
  }
  const reader = entry.createReader();
  const inside = folder ? `${folder}/${entry.name}` : entry.name;
  for (;;) {
    const some = await new Promise((resolve, reject) => { reader.readEntries(resolve, reject); });
    if (!some.length) { return; }
    for (const one of some) { await walk(one, inside, found); }
  }
}

const chosen = (files) => [...files].map((file) =>
  ({ file, folder: file.webkitRelativePath.split("/").slice(0, -1).join("/") }));

/* Tell the program what is coming, then send what it expects. */
async function add(found) {
  const wanted = found.filter(({ file }) => !file.name.startsWith("."));
  if (!wanted.length) { tell("No file was found in what was chosen."); return; }
  document.getElementById("wrong").replaceChildren();
  try {
    if (!batch) {
      batch = (await send("/add/begin")).batch;
      history.replaceState(null, "", `/add/${batch}`);
    }
    document.getElementById("files-room").hidden = false;
    document.getElementById("missing")?.remove();
    for (let start = 0; start < wanted.length; start += ANNOUNCED_AT_ONCE) {
      await announce(wanted.slice(start, start + ANNOUNCED_AT_ONCE));
    }
  } catch (error) {
    tellWrong(error);
  }
  show();
}

async function announce(some) {
  const files = some.map(({ file, folder }) => ({ name: file.name, folder, size: file.size }));
  const { answers } = await send(`/add/${batch}/announce`, { files });
  answers.forEach((answer, number) => {
    if (answer.error) { refused(some[number].file.name, answer.error); return; }
    put(answer.file, answer.row);
    jobs.set(answer.file, { id: answer.file, file: some[number].file, state: "waiting", tries: 0, sent: 0 });
    total += 1;
  });
  pump();
}

/* A file that was not taken: it has no place in the program, only a line on this page. */
function refused(name, error) {
  const line = document.createElement("li");
  line.className = "file wrong-file";
  line.dataset.state = "refused";
  const named = Object.assign(document.createElement("p"), { className: "name", textContent: name });
  const why = Object.assign(document.createElement("p"), { className: "wrong", textContent: `${error.what} ${error.hint}` });
  line.append(named, why);
  list.append(line);
}

const inState = (state) => [...jobs.values()].filter((job) => job.state === state);

function pump() {
  for (const job of inState("waiting").slice(0, Math.max(0, AT_ONCE - inState("sending").length))) { sendOne(job); }
  show();
}

async function sendOne(job) {
  job.state = "sending";
  job.tries += 1;
  job.stop = new AbortController();
  say(job, "");
  try {
    const answer = await upload(job);
    jobs.delete(job.id);
    put(answer.file, answer.row);
    readNext();
  } catch (error) {
    await failed(job, error);
  }
  pump();
}

/* The body as it is, with its progress, which fetch does not tell. */
function upload(job) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("PUT", `/add/files/${batch}?file=${job.id}`);
    request.setRequestHeader("x-wattwitness-token", tokenNow());
    request.setRequestHeader("accept", "application/json");
    request.setRequestHeader("content-type", "application/octet-stream");
    request.responseType = "json";
    request.upload.addEventListener("progress", (event) => progressed(job, event.loaded, event.total));
    request.addEventListener("load", () => {
      if (request.response?.file) { resolve(request.response); } else { reject(request.response?.error ?? { slug: "no_answer" }); }
    });
    request.addEventListener("error", () => reject({ slug: "no_answer" }));
    request.addEventListener("abort", () => reject({ slug: "stopped" }));
    job.stop.signal.addEventListener("abort", () => request.abort());
    request.send(job.file);
  });
}

function progressed(job, sent, size) {
  job.sent = size ? sent / size : 1;
  const bar = row(job.id)?.querySelector("progress");
  if (bar) { bar.hidden = false; bar.value = job.sent; }
  overall();
}

async function failed(job, error) {
  if (error.slug === "stopped") { return; }
  if (error.slug === "no_answer" && await unreadable(job.file)) {
    fail(job, "It was changed, moved or locked while it was being sent. Choose it again when nothing is writing to it.");
    return;
  }
  if (["no_answer", "stale_page"].includes(error.slug) && job.tries < TRIES) {
    job.state = "paused";
    say(job, "The program does not answer; it is asked again.");
    await answering();
    if (job.state === "paused") { job.state = "waiting"; }
    return;
  }
  if (error.slug === "no_answer") { fail(job, "It could not be sent. Send it again, or choose it again."); return; }
  fail(job, `${error.what} ${error.hint}`);
}

function fail(job, text) {
  job.state = "failed";
  say(job, text);
}

function say(job, text) {
  const there = row(job.id);
  if (!there) { return; }
  there.querySelector(".trouble").textContent = text;
  const state = { sending: "being sent", waiting: "waits", paused: "waits", failed: "not here" }[job.state];
  if (state) { there.querySelector(".state").textContent = state; }
  there.querySelector("progress").hidden = job.state !== "sending";
}

const unreadable = async (file) => file.slice(0, 1).arrayBuffer().then(() => false, () => true);

/* Wait until the program is there again, perhaps started anew, and take up its new token: the files chosen stay. */
function answering() {
  back ??= (async () => {
    for (;;) {
      try {
        await ask(`/add/${batch}/here`);
        await renewToken();
        break;
      } catch (error) {
        if (error.slug !== "no_answer") { break; }
        await new Promise((resolve) => { setTimeout(resolve, ASK_AGAIN_MS); });
      }
    }
    back = null;
  })();
  return back;
}

/* Files that are here are read one after another. */
let reading = false;
async function readNext() {
  if (reading) { return; }
  reading = true;
  for (let next = rows("unread")[0]; next; next = rows("unread")[0]) {
    const id = next.dataset.file;
    try {
      put(id, (await send(`/add/${batch}/read/${id}`)).row);
    } catch (error) {
      if (error.slug === "no_answer") { await answering(); continue; }
      if (error.slug === "unknown_name") { next.remove(); continue; }
      next.dataset.state = "gone";
      next.querySelector(".trouble").textContent = `${error.what} ${error.hint}`;
    }
    show();
  }
  reading = false;
}

function overall() {
  const bar = document.getElementById("all");
  const left = [...jobs.values()].filter((job) => job.state !== "failed");
  bar.hidden = !left.length;
  bar.max = Math.max(1, total);
  bar.value = total - left.length + left.reduce((sum, job) => sum + (job.state === "sending" ? job.sent : 0), 0);
}

function show() {
  const busy = inState("waiting").length + inState("sending").length + inState("paused").length;
  const broken = inState("failed").length;
  const counts = [["read", "read"], ["unread", "being read"], ["wrong", "not used"], ["same", "here already"], ["awaited", "not here yet"],
    ["refused", "refused"]].map(([state, words]) => [rows(state).length, words]).filter(([count]) => count);
  document.getElementById("counted").textContent = counts.map(([count, words]) => `${count} ${words}`).join(", ");
  document.getElementById("sending-actions").hidden = !busy && !broken;
  part("stop").hidden = !busy;
  part("again").hidden = !broken;
  part("forget").hidden = Boolean(busy) || !rows("awaited").length;
  const recordings = [...list.children].reduce((sum, one) => sum + Number(one.dataset.recordings ?? 0), 0);
  part("pair").disabled = Boolean(busy) || rows("unread").length > 0 || !recordings;
  if (!busy) { total = broken; }
  overall();
}

async function out(ids) {
  for (const id of ids) { jobs.get(id)?.stop?.abort(); jobs.delete(id); }
  try {
    await send(`/add/${batch}/out`, { files: ids });
    ids.forEach((id) => row(id)?.remove());
    rows("same").forEach((one) => { one.dataset.state = "unread"; });
    readNext();
  } catch (error) {
    tellWrong(error);
  }
  pump();
}

function stop() {
  for (const job of [...jobs.values()].filter((one) => one.state !== "failed")) {
    job.stop?.abort();
    jobs.delete(job.id);
    job.state = "stopped";
    const there = row(job.id);
    there.querySelector(".state").textContent = "not here: stopped";
    there.querySelector("progress").hidden = true;
  }
  tell("Stopped. What had arrived is here; the rest can be taken out, or chosen again.");
  show();
  part("forget").focus();
}

async function pair() {
  try { await follow(await send(`/add/${batch}/pair`), document.getElementById("pairing")); } catch (error) { tellWrong(error); }
}

async function throwAway() {
  if (!batch) { location.assign("/add"); return; }
  if (!confirm("Throw these files away? Those on your own disk stay.")) { return; }
  stop();
  try { await follow(await send(`/add/${batch}/throw`)); } catch (error) { tellWrong(error); }
}

const DO = {
  files: () => document.getElementById("files").click(),
  folder: () => document.getElementById("folder").click(),
  stop,
  again: () => { inState("failed").forEach((job) => { job.state = "waiting"; job.tries = 0; }); pump(); },
  out: (button) => out([button.closest(".file").dataset.file]),
  forget: () => out(rows("awaited").map((one) => one.dataset.file)),
  pair,
  throw: throwAway,
};

room.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  if (button) { DO[button.dataset.do](button); }
});
for (const id of ["files", "folder"]) {
  const input = document.getElementById(id);
  input.addEventListener("change", () => { add(chosen(input.files)); input.value = ""; });
}

/* The whole window takes a drop: a file let fall beside the box must not open in place of the page. */
const drop = document.getElementById("drop");
window.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
window.addEventListener("dragleave", (event) => { if (!event.relatedTarget) { drop.classList.remove("over"); } });
window.addEventListener("drop", async (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  try { add(await dropped(event.dataTransfer.items)); } catch { tell("What was dropped cannot be read: choose the files instead."); }
});
window.addEventListener("beforeunload", (event) => { if (inState("sending").length + inState("waiting").length) { event.preventDefault(); } });

readNext();
show();
