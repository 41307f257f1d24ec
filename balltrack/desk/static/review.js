"use strict";
// Review: saves the coach's words, section by section as they changed, and has the page made.

const said = document.getElementById("said");
const made = document.getElementById("made");
const list = document.getElementById("drills");
const forms = [...document.querySelectorAll("form.words")];

const drills = () => [...list.children].map((each) => Object.fromEntries(
  [...each.querySelectorAll("[name]")].map((field) => [field.name, field.value])));
const textsOf = (form) => Object.fromEntries(
  [...form.elements].filter((each) => each.name && !list.contains(each)).map((each) => [each.name, each.value]));
const stateOf = (form) => JSON.stringify([textsOf(form), form.id === "plan" ? drills() : null]);
const isChanged = (form) => stateOf(form) !== form.dataset.before;
for (const form of forms) form.dataset.before = stateOf(form);

async function save() {
  const changed = forms.filter(isChanged);
  if (!changed.length) { desk.say(said, "Nothing to save: all is as in lesson.toml.", "good"); return true; }
  const sent = changed.map(stateOf); // typing may go on while it is saved
  const changes = changed.map((form) => ({
    section: JSON.parse(form.dataset.section), version: form.dataset.version, texts: textsOf(form),
    ...(form.id === "plan" ? { drills: drills() } : {}),
  }));
  try {
    const answer = await desk.ask("words", "PUT", { changes });
    changed.forEach((form, k) => { form.dataset.version = answer.versions[k][1]; form.dataset.before = sent[k]; });
    desk.say(said, "Saved in lesson.toml.", "good");
    return true;
  } catch (error) {
    desk.say(said, error.status === 422 ? `Not saved: ${error.message}` : error.message, "bad");
    said.scrollIntoView({ block: "center" });
    return false;
  }
}

async function make() {
  if (!(await save())) return;
  const button = document.getElementById("make");
  button.disabled = true;
  desk.say(made, document.getElementById("films").checked ? "Filming the swings; this takes minutes." : "Making the page.");
  try {
    const answer = await desk.ask("take-home/make", "POST", { clips: document.getElementById("films").checked });
    document.getElementById("to-page").hidden = false;
    document.getElementById("to-pdf").hidden = !answer.pdf;
    desk.say(made, ["The page is made.", ...answer.notices].join("\n"), answer.notices.length ? "warn" : "good");
  } catch (error) {
    desk.say(made, error.message, "bad");
  } finally {
    button.disabled = false;
  }
}

document.getElementById("save").addEventListener("click", save);
document.getElementById("make").addEventListener("click", make);
document.getElementById("add-drill").addEventListener("click", () => {
  list.append(document.getElementById("new-drill").content.cloneNode(true));
  list.lastElementChild.querySelector("input").focus();
});
list.addEventListener("click", (event) => {
  if (!event.target.classList.contains("remove")) return;
  event.target.closest("li").remove();
  desk.say(said, "Not saved yet.");
});
for (const form of forms) {
  form.addEventListener("submit", (event) => { event.preventDefault(); save(); });
  form.addEventListener("input", () => desk.say(said, "Not saved yet."));
}
window.addEventListener("beforeunload", (event) => { if (forms.some(isChanged)) event.preventDefault(); });
