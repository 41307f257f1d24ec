"use strict";
// Stills: which picture of which swing is open, what is drawn on it, and what of that is kept. stills_picture.js draws.

const at = (id) => document.getElementById(id);
const canvas = at("still");
const NAMES = { arrow: "Arrow", line: "Line", words: "Words" };

let swing = null; // what the desk last said of the open swing
let k = 0; // the picture shown
let drafts = new Map(); // by clip and time: { swing, time, marks, view, past, saved }
let version = "";
let tool = "arrow", selected = -1;
let cross = null, from = null; // by keys: where the cross is, where a line begins
let editing = null; // the words being typed: { before }
let lifted = ""; // the marks before one is dragged

const asKept = (draft) => JSON.stringify([draft.marks, draft.marks.length ? draft.view : null]);
const isChanged = (draft) => asKept(draft) !== draft.saved;
const changedOnes = () => [...drafts.values()].filter(isChanged);
const here = () => (swing ? drafts.get(`${swing.clip} ${swing.times[k]}`) : null);
const marks = () => here()?.marks || [];

const picture = canvas && new StillPicture(canvas, lookOf(canvas.parentElement.dataset), {
  marks, tool: () => tool, selected: () => selected, cross: () => cross,
  address: (frame) => `${desk.base}/stills/frame?swing=${encodeURIComponent(swing.swing)}&k=${frame}`,
  lost: (frame) => desk.say(at("said"), `The picture ${swing.when[frame]} cannot be read.`, "bad"),
  viewed: () => { if (here()) { here().view = picture.whole(); refresh(); } },
  drawn: (a, b) => add({ kind: tool, points: [a, b].map(rounded), words: "" }),
  tapped: (place, hit) => {
    if (hit) { select(hit.index); if (tool === "words" && marks()[hit.index].kind === "words") edit(); return; }
    if (tool === "words") addWords(place);
    else if (tool === "move") select(-1);
    else desk.say(at("said"), "Drag from where it begins to where it ends.");
  },
  picked: (hit) => { finish(); lifted = JSON.stringify(marks()); select(hit.index); },
  dragged: ({ index, corner }, du, dv) => shift(marks()[index], corner, du, dv),
  dropped: () => { here().marks.forEach((mark) => { mark.points = mark.points.map(rounded); }); remember(lifted); },
});

function lookOf({ letters, stroke, lineLetters }) { return { letters: +letters, stroke: +stroke, lineLetters: +lineLetters }; }
function rounded(place) { return place.map((each) => Math.round(each * 10) / 10); }

function shift(mark, corner, du, dv) { // a whole mark stays whole at the picture's edge
  const moved = mark.points.map(([u, v], i) => (corner === null || corner === i ? [u + du, v + dv] : [u, v]));
  const off = [0, 1].map((axis) => {
    const all = moved.filter((_, i) => corner === null || corner === i).map((each) => each[axis]);
    return Math.max(0, -Math.min(...all)) - Math.max(0, Math.max(...all) - (picture.size[axis] - 1));
  });
  mark.points = moved.map((each, i) => (corner === null || corner === i ? [each[0] + off[0], each[1] + off[1]] : each));
}

// Every change of the marks goes through here, so that it can be undone.
function remember(before) {
  if (before === JSON.stringify(marks())) return;
  here().past.push(before);
  here().view = picture.whole();
  desk.say(at("said"), "Not kept yet.");
  refresh();
}

function change(edit) {
  finish();
  const before = JSON.stringify(marks());
  edit();
  remember(before);
}

function add(mark) {
  if (!here()) return;
  change(() => { here().marks.push(mark); selected = here().marks.length - 1; });
}

function undo() {
  finish();
  const draft = here();
  if (!draft?.past.length) return;
  draft.marks = JSON.parse(draft.past.pop());
  selected = -1;
  desk.say(at("said"), isChanged(draft) ? "Not kept yet." : "As kept.");
  refresh();
}

function remove() {
  if (editing) { at("words").value = ""; marks()[selected].words = ""; finish(); return; }
  if (selected >= 0) change(() => { here().marks.splice(selected, 1); selected = -1; });
}

function select(index) { finish(); selected = index; refresh(); }

// Words: placed, then typed; a note left empty goes.
function addWords(place) {
  if (!here()) return;
  finish();
  const before = JSON.stringify(marks());
  here().marks.push({ kind: "words", points: [rounded(place)], words: "" });
  selected = marks().length - 1;
  edit(before);
}

function edit(before = JSON.stringify(marks())) {
  editing = { before };
  at("words").value = marks()[selected].words;
  at("words-form").hidden = false;
  at("words").focus();
  refresh();
}

function finish() {
  if (!editing) return;
  const { before } = editing;
  editing = null;
  const draft = here();
  draft.marks.forEach((mark) => { mark.words = mark.words.trim().split(/\s+/).join(" "); });
  draft.marks = draft.marks.filter((mark) => mark.kind !== "words" || mark.words);
  if (selected >= draft.marks.length) selected = -1;
  at("words-form").hidden = true;
  remember(before);
  refresh();
}

function choose(name) {
  finish();
  tool = name;
  cross = from = picture.trace = null;
  for (const button of document.querySelectorAll(".tool")) button.setAttribute("aria-pressed", String(button.dataset.tool === name));
  canvas.classList.toggle("moving", name === "move");
  refresh();
}

function refresh() {
  const draft = here();
  at("undo").disabled = !draft?.past.length;
  at("delete").disabled = selected < 0;
  at("keep").disabled = !changedOnes().length;
  at("no-marks").hidden = marks().length > 0;
  const held = document.activeElement?.dataset?.mark;
  at("marks").replaceChildren(...marks().map((mark, index) => {
    const item = document.createElement("li"), button = document.createElement("button");
    button.type = "button";
    button.className = "small";
    button.dataset.mark = index;
    button.textContent = mark.kind === "words" ? `“${mark.words}”` : NAMES[mark.kind];
    button.setAttribute("aria-pressed", String(index === selected));
    item.append(button);
    return item;
  }));
  if (held !== undefined) document.querySelector(`[data-mark="${held}"]`)?.focus();
  const words = marks().length ? ` ${marks().length} drawn on it.` : "";
  at("when").textContent = swing ? `${swing.title}, ${swing.when[k]}.${words}` : "";
  picture.draw();
}

// Which swing, which picture.
async function open(name, time = null) {
  finish();
  try {
    const said = await desk.ask(`stills/one?swing=${encodeURIComponent(name)}`);
    take(said);
    picture.open(said.size, said.times.length);
    picture.see(said.view);
    at("swing").value = name;
    at("slide").max = said.times.length - 1;
    show(time === null ? said.begins : nearest(said.times, time));
    desk.say(at("said"), "");
  } catch (error) {
    swing = null;
    picture.count = 0;
    refresh();
    desk.say(at("said"), error.message, "bad");
  }
}

function nearest(times, time) {
  return times.reduce((best, each, index) => (Math.abs(each - time) < Math.abs(times[best] - time) ? index : best), 0);
}

function take(said) {
  swing = said;
  if (!changedOnes().length) { version = said.version; drafts = new Map(); }
  for (const time of said.times) {
    const key = `${said.clip} ${time}`;
    if (drafts.has(key)) continue;
    const kept = said.stills.find((each) => Math.abs(each.time - time) < 0.002);
    const draft = { swing: said.swing, clip: said.clip, time, marks: kept ? kept.marks : [], view: kept ? kept.view : null, past: [] };
    drafts.set(key, { ...draft, saved: asKept(draft) });
  }
}

function show(frame) {
  if (!swing) return;
  finish();
  k = Math.min(Math.max(frame, 0), swing.times.length - 1);
  selected = -1;
  cross = from = null;
  at("slide").value = k;
  at("slide").setAttribute("aria-valuetext", swing.when[k]);
  if (here().marks.length) picture.see(here().view); else here().view = picture.whole();
  picture.show(k);
  refresh();
}

// Keeping: all pictures that were drawn on since.
async function keep() {
  finish();
  at("keep").disabled = true;
  try {
    for (const draft of changedOnes()) {
      const sent = asKept(draft); // drawing may go on meanwhile
      const view = draft.view || picture.whole();
      const answer = await desk.ask("stills/keep", "PUT", { version, swing: draft.swing, time: draft.time, view, marks: draft.marks });
      version = answer.version;
      draft.saved = sent;
    }
    desk.say(at("said"), "Kept. It stands in the page once that is made anew, under Review.", "good");
    await list();
  } catch (error) {
    desk.say(at("said"), error.status === 409 ? `${error.message}: load the page anew and draw it again.` : error.message, "bad");
  }
  refresh();
}

async function list() {
  const said = await desk.ask("stills/kept");
  at("no-stills").hidden = said.stills.length > 0;
  at("stills").replaceChildren(...said.stills.map((each) => {
    const figure = document.createElement("figure"), caption = document.createElement("figcaption");
    caption.textContent = each.trouble || each.title;
    if (!each.trouble) figure.append(thumbnail(each, said.version));
    const bar = document.createElement("div"), name = each.title || "this still";
    bar.className = "bar";
    if (!each.trouble) bar.append(small("Open", name, async () => { await open(each.swing, each.time); canvas.focus(); }));
    bar.append(small("Take out", name, () => drop(each, said.version)));
    figure.append(caption, bar);
    return figure;
  }));
}

async function drop(each, seen) {
  finish();
  try {
    ({ version } = await desk.ask("stills/drop", "PUT", { version: seen, n: each.n }));
    const draft = drafts.get(`${each.clip} ${each.time}`);
    if (draft && !isChanged(draft)) { draft.past.push(JSON.stringify(draft.marks)); draft.marks = []; selected = -1; }
    if (draft) draft.saved = JSON.stringify([[], null]);
    desk.say(at("said"), draft ? "Taken out of the page; on its picture, Undo and Keep bring it back." : "Taken out of the page.");
    await list();
  } catch (error) { desk.say(at("said"), error.message, "bad"); }
  refresh();
}

function small(words, name, act) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "small";
  button.textContent = words;
  button.setAttribute("aria-label", `${words}: ${name}`);
  button.addEventListener("click", act);
  return button;
}

function thumbnail(each, seen) {
  const image = document.createElement("img");
  image.loading = "lazy";
  image.alt = each.words;
  image.src = `${desk.base}/stills/picture?n=${each.n}&v=${seen}`;
  return image;
}

// Keys on the picture.
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function arrowed([x, y], step) {
  const [du, dv] = [x * step / picture.scale, y * step / picture.scale];
  if (tool !== "move") {
    cross = picture.within([(cross || picture.middle)[0] + du, (cross || picture.middle)[1] + dv]);
    if (from) picture.trace = { from, to: cross };
    picture.draw();
  } else if (selected >= 0) change(() => { shift(marks()[selected], null, du, dv); marks()[selected].points = marks()[selected].points.map(rounded); });
  else picture.pan(-6 * x * step, -6 * y * step);
}

function setCross() {
  if (tool === "move") return;
  cross ||= picture.middle;
  if (tool === "words") { addWords(cross); return; }
  if (!from) { from = cross; desk.say(at("said"), "It begins here; go to where it ends, then Enter."); picture.draw(); return; }
  picture.trace = null;
  const begun = from;
  from = null;
  if (Math.hypot(cross[0] - begun[0], cross[1] - begun[1]) * picture.scale > 4) add({ kind: tool, points: [begun, cross].map(rounded), words: "" });
}

function key(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || !swing) return;
  if (ARROWS[event.key]) arrowed(ARROWS[event.key], event.shiftKey ? 1 : 10);
  else if (event.key === "Enter" || event.key === " ") setCross();
  else if (event.key === "Escape") { picture.trace = from = cross = null; select(-1); }
  else if (event.key === "Delete" || event.key === "Backspace") remove();
  else if (event.key === "PageUp") show(k - 1);
  else if (event.key === "PageDown") show(k + 1);
  else if (event.key === "Home") show(swing.begins);
  else if (event.key === "+" || event.key === "=") picture.zoom(1.3);
  else if (event.key === "-") picture.zoom(1 / 1.3);
  else return;
  event.preventDefault();
}

function listen() {
  canvas.addEventListener("keydown", key);
  canvas.addEventListener("blur", () => { cross = from = picture.trace = null; picture.draw(); });
  for (const button of document.querySelectorAll(".tool")) button.addEventListener("click", () => choose(button.dataset.tool));
  for (const [id, act] of Object.entries({
    undo, delete: remove, keep, back: () => show(k - 1), next: () => show(k + 1), "to-contact": () => show(swing?.begins ?? 0),
    smaller: () => picture.zoom(1 / 1.3), larger: () => picture.zoom(1.3),
  })) at(id).addEventListener("click", act);
  at("slide").addEventListener("input", () => show(+at("slide").value));
  at("swing").addEventListener("change", () => open(at("swing").value));
  at("words").addEventListener("input", () => { marks()[selected].words = at("words").value; refresh(); });
  at("words").addEventListener("blur", finish);
  at("words-form").addEventListener("submit", (event) => { event.preventDefault(); finish(); canvas.focus(); });
  at("marks").addEventListener("click", (event) => {
    if (event.target.dataset.mark === undefined) return;
    choose("move");
    select(+event.target.dataset.mark);
    if (marks()[selected].kind === "words") edit(); else canvas.focus();
  });
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.matches("input:not([type=range])")) return;
    undo();
    event.preventDefault();
  });
  window.addEventListener("beforeunload", (event) => { finish(); if (changedOnes().length) event.preventDefault(); });
}

if (canvas) {
  listen();
  choose(tool);
  const asked = new URLSearchParams(location.search).get("swing");
  const name = [...at("swing").options].some((each) => each.value === asked) ? asked : at("swing").value;
  open(name).then(list).catch((error) => desk.say(at("said"), error.message, "bad")).finally(() => { document.body.dataset.ready = "yes"; });
}
