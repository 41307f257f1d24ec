"use strict";
// Set up: saves what was typed, sends clips, starts measuring and shows how far it is.

const said = document.getElementById("said");
const forms = [...document.querySelectorAll("form.section")];

const textsOf = (form) => Object.fromEntries([...form.elements].filter((each) => each.name).map((each) => [each.name, each.value]));
for (const form of forms) form.dataset.before = JSON.stringify(textsOf(form));
const isChanged = (form) => "new" in form.dataset || JSON.stringify(textsOf(form)) !== form.dataset.before;

function showWrong(lines) {
  for (const entry of document.querySelectorAll(".entry")) {
    const mine = lines.filter((line) => `${line} `.startsWith(`${entry.dataset.entry} `) || line.startsWith(`${entry.dataset.entry}[`));
    const words = entry.querySelector(".wrong");
    const field = entry.querySelector("input, select");
    words.textContent = mine.map((line) => line.slice(entry.dataset.entry.length).trim()).join(" ");
    words.hidden = !mine.length;
    words.id = `${entry.dataset.entry}.wrong`;
    if (mine.length) { field.setAttribute("aria-invalid", "true"); field.setAttribute("aria-errormessage", words.id); }
    else { field.removeAttribute("aria-invalid"); field.removeAttribute("aria-errormessage"); }
  }
  document.querySelector("[aria-invalid]")?.focus();
}

async function save() {
  const changed = forms.filter(isChanged);
  if (!changed.length) { desk.say(said, "Nothing to save: all is as in lesson.toml.", "good"); return true; }
  const changes = changed.map((form) => ({
    section: JSON.parse(form.dataset.section), version: form.dataset.version, texts: textsOf(form),
  }));
  try {
    const answer = await desk.ask("settings", "PUT", { changes });
    for (const [section, version] of answer.versions) {
      const form = forms.find((each) => each.dataset.section === JSON.stringify(section) || JSON.parse(each.dataset.section).join("\n") === section.join("\n"));
      form.dataset.version = version;
      form.dataset.before = JSON.stringify(textsOf(form));
      delete form.dataset.new;
    }
    showWrong([]);
    desk.say(said, "Saved in lesson.toml.", "good");
    return true;
  } catch (error) {
    showWrong(error.status === 422 ? error.message.split("\n") : []);
    desk.say(said, error.status === 422 ? `Not saved: ${error.message}` : error.message, "bad");
    return false;
  }
}

document.getElementById("save").addEventListener("click", save);
document.getElementById("next").addEventListener("click", async (event) => {
  if (!forms.some(isChanged)) return;
  event.preventDefault();
  if (await save()) location.href = event.target.href;
});
for (const form of forms) {
  form.addEventListener("submit", (event) => { event.preventDefault(); save(); });
  form.addEventListener("input", () => desk.say(said, "Not saved yet.", ""));
}
window.addEventListener("beforeunload", (event) => {
  if (forms.some((form) => isChanged(form) && !("new" in form.dataset))) event.preventDefault();
});

// The size by hand only where the kind is "another".
const ball = document.getElementById("ball.kind");
function showBall() {
  for (const name of ["ball.circumference_in", "ball.weight_oz"]) {
    const input = document.getElementById(name);
    input.closest(".entry").hidden = ball.value !== "";
    if (ball.value !== "") input.value = "";
  }
}
ball.addEventListener("change", showBall);
showBall();

// Blocks and clips.
async function send(block, file, list) {
  const line = document.createElement("li");
  const bar = document.createElement("progress");
  const words = document.createElement("span");
  bar.max = 1; bar.value = 0;
  line.append(words, bar);
  list.append(line);
  words.textContent = file.name;
  return new Promise((done) => {
    const request = new XMLHttpRequest(); // fetch does not tell how far it has sent
    request.open("PUT", `${desk.base}/clips/${encodeURIComponent(block)}/${encodeURIComponent(file.name)}`);
    request.setRequestHeader("accept", "application/json");
    request.setRequestHeader("content-type", "application/octet-stream");
    request.upload.onprogress = (event) => { bar.value = event.loaded / Math.max(event.total, 1); };
    request.onloadend = () => {
      bar.remove();
      let answer = {};
      try { answer = JSON.parse(request.responseText); } catch { /* the words below say it */ }
      const good = request.status === 200;
      words.textContent = good ? `${file.name} is in.` : answer.error || `${file.name} could not be sent; is balltrack desk still running?`;
      line.className = good ? "good" : "bad";
      done(good);
    };
    request.send(file);
  });
}

async function sendAll(section, files) {
  const list = section.querySelector(".sending");
  let all = true;
  for (const file of files) all = (await send(section.dataset.block, file, list)) && all;
  if (all && files.length) reload();
}

async function reload() {
  if (!forms.some((form) => isChanged(form) && !("new" in form.dataset)) || await save()) location.reload();
}

for (const section of document.querySelectorAll("section.block")) {
  const drop = section.querySelector(".drop");
  const input = drop.querySelector("input");
  input.addEventListener("change", () => sendAll(section, [...input.files]));
  for (const name of ["dragenter", "dragover"]) {
    section.addEventListener(name, (event) => { event.preventDefault(); drop.classList.add("over"); });
  }
  section.addEventListener("dragleave", (event) => { if (!section.contains(event.relatedTarget)) drop.classList.remove("over"); });
  section.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    sendAll(section, [...event.dataTransfer.files]);
  });
}

async function addBlock(event, name, adopt) {
  event.preventDefault();
  try {
    await desk.ask("blocks", "POST", { name: name.trim(), adopt });
    reload();
  } catch (error) { desk.say(said, error.message, "bad"); alertNear(event.target, error.message); }
}

function alertNear(form, words) {
  let note = form.querySelector(".wrong");
  if (!note) { note = document.createElement("p"); note.className = "wrong"; note.setAttribute("role", "alert"); form.append(note); }
  note.textContent = words;
}

document.getElementById("new-block").addEventListener("submit", (event) => addBlock(event, event.target.elements.name.value, false));
document.getElementById("adopt")?.addEventListener("submit", (event) => addBlock(event, event.target.elements.block.value, true));

// Measuring.
const start = document.getElementById("start");
const cancel = document.getElementById("cancel");
const bar = document.getElementById("progress");
const jobSaid = document.getElementById("job-said");
let asked = 0;

function showJob(job) {
  const runs = job.state === "running" || job.state === "stopping";
  cancel.hidden = job.state !== "running";
  bar.hidden = !runs;
  start.hidden = runs;
  if (job.total) { bar.max = job.total; bar.value = job.done; } else { bar.removeAttribute("value"); }
  const count = job.total ? `${job.done} of ${job.total} clips. ` : "";
  desk.say(jobSaid, `${runs ? count : ""}${job.words || job.last}`, job.state === "failed" ? "bad" : job.state === "done" ? "good" : "");
  const finished = job.state === "done" || job.state === "stopped";
  document.getElementById("to-swings").hidden = !finished;
  document.getElementById("to-review").hidden = !finished;
  clearTimeout(asked);
  if (runs) asked = setTimeout(look, 700);
}

async function look(method = "GET") {
  try { showJob(await desk.ask("measure", method)); }
  catch (error) { desk.say(jobSaid, error.message, "bad"); asked = setTimeout(look, 3000); }
}

start.addEventListener("click", async () => { if (!forms.some(isChanged) || await save()) look("POST"); });
cancel.addEventListener("click", () => look("DELETE"));
look();
