"use strict";
// Mark the field: what is marked, what is chosen, and what the desk says of it. marks_view.js draws.

const get = (id) => document.getElementById(id);
const view = new View(get("view"), get("loupe"));
const spots = [...document.querySelectorAll(".spot")];
const wordsOf = Object.fromEntries(spots.map((spot) => [spot.dataset.point, spot.getAttribute("aria-label")]));
const ORDER = ["plate_tip", "plate_left", "plate_right", "plate_front_left", "plate_front_right", "left_box_outer_back",
  "left_box_outer_front", "right_box_outer_back", "right_box_outer_front"]; // nine clicks tell enough

const keyOf = (mark) => mark.point === null || (mark.at_m && mark.point !== "tee_base") ? `at_m ${mark.at_m}` : mark.point;
let marks = new Map(); // key: {point, at_m, pixel, sd_px}; sd_px only where the pixel was measured, not clicked
let chosen = null; // name of the point that the next click places
let selected = null; // key of the mark that arrow keys move
let offer = []; // marks proposed, not taken yet
let answer = null; // what the desk said of the marks
let version = "";
let savedAs = "[]";
let past = [], future = [];

const asSent = ({ point, at_m, pixel, sd_px }) => ({ point, at_m: at_m ?? null, pixel, sd_px: sd_px ?? null });
const sent = () => [...marks.values()].map(asSent);
const nameOf = (mark) => wordsOf[mark.point] || `place ${mark.at_m.map((each) => each.toFixed(2)).join(", ")} m`;

// One step of undo is the whole of the marks: there are twenty at most.
function change(edit) {
  past.push(JSON.stringify([...marks]));
  future = [];
  edit();
  changed();
}

function step(from, to) {
  if (!from.length) return;
  to.push(JSON.stringify([...marks]));
  marks = new Map(JSON.parse(from.pop()));
  if (!marks.has(selected)) selected = null;
  changed();
}

function changed() { desk.say(get("saved"), ""); choose(nextPoint()); refresh(); solveSoon(); }

function nextPoint() {
  if (chosen && !marks.has(chosen)) return chosen;
  return ORDER.find((name) => !marks.has(name)) || spots.map((spot) => spot.dataset.point).find((name) => !marks.has(name)) || null;
}

function choose(name) {
  chosen = name;
  for (const spot of spots) {
    const here = spot.dataset.point === name;
    spot.setAttribute("aria-checked", String(here));
    spot.tabIndex = here || (!name && spot === spots[0]) ? 0 : -1;
    spot.classList.toggle("done", marks.has(spot.dataset.point));
    spot.classList.toggle("here", here);
  }
  get("chosen").textContent = name ? wordsOf[name] : "all points are marked";
}

// Show everything as it stands.
function refresh() {
  const misses = Object.fromEntries((answer?.misses || []).map((each) => [each.name, each]));
  const missOf = (mark) => misses[mark.point] || misses[`at_m [${(mark.at_m || []).map((each) => +each.toPrecision(6)).join(", ")}]`];
  view.marks = [
    ...offer.map((mark) => ({ pixel: mark.pixel, kind: "offer" })),
    ...[...marks].map(([key, mark]) => ({ key, pixel: mark.pixel, kind: "mark", selected: key === selected, wrong: missOf(mark)?.used === false })),
  ];
  view.look = selected && marks.has(selected) ? marks.get(selected).pixel : null;
  view.draw();
  const rows = [...marks].map(([key, mark]) => {
    const row = document.createElement("tr"), name = document.createElement("th"), button = document.createElement("button");
    const place = document.createElement("td"), miss = document.createElement("td"), said = missOf(mark);
    button.className = "plain"; button.textContent = nameOf(mark); button.dataset.key = key;
    name.scope = "row"; name.append(button);
    place.className = miss.className = "number";
    place.textContent = mark.pixel.map((each) => each.toFixed(1)).join(", ");
    miss.textContent = said ? (said.used ? said.px.toFixed(1) : `left out (${said.px.toFixed(0)})`) : "–";
    if (said && !said.used) miss.classList.add("bad");
    if (key === selected) row.className = "selected";
    row.append(name, place, miss);
    return row;
  });
  const focused = document.activeElement?.dataset?.key;
  get("list").tBodies[0].replaceChildren(...rows);
  if (focused) document.querySelector(`button[data-key="${CSS.escape(focused)}"]`)?.focus();
  get("list").hidden = !marks.size;
  get("undo").disabled = !past.length;
  get("redo").disabled = !future.length;
  get("remove").disabled = !selected;
  get("save").disabled = JSON.stringify(sent()) === savedAs;
  get("choose").hidden = offer.length > 0;
  get("acts").hidden = offer.length > 0;
  get("find").hidden = !answer?.ok || offer.length > 0;
  for (const button of document.querySelectorAll("[data-nudge]")) button.disabled = !selected;
}

function select(key) { selected = key; refresh(); }

// The camera is solved anew after every change, the newest only.
let timer = 0, turn = 0;
function solveSoon() { clearTimeout(timer); timer = setTimeout(solve, 60); }

async function solve() {
  const mine = ++turn;
  const asked = offer.length && !marks.size ? offer.map((mark) => ({ ...mark, at_m: null })) : sent();
  let said;
  try { said = await desk.ask("marks/solve", "POST", { marks: asked }); }
  catch (error) { said = { ok: false, words: error.message }; }
  if (mine !== turn) return;
  answer = said;
  view.lines = said.lines || [];
  get("stands").textContent = said.ok ? `${said.words} Marks miss by ${said.rms_px.toFixed(1)} px (root mean square); ${said.lens}.` : "";
  desk.say(get("said"), said.ok ? "" : said.words, marks.size >= 4 && !said.ok ? "bad" : "");
  get("warnings").replaceChildren(...(said.warnings || []).map((words) => { const line = document.createElement("li"); line.textContent = words; return line; }));
  get("accuracy").hidden = !said.accuracy;
  get("acc-words").textContent = said.hit || "";
  get("acc").replaceChildren(...(said.accuracy || []).map((each) => {
    const row = document.createElement("tr"), name = document.createElement("th");
    name.scope = "row"; name.textContent = each.words;
    row.append(name);
    for (const value of [each.speed_mph, each.launch_deg, each.spray_deg]) {
      const cell = document.createElement("td");
      cell.className = "number"; cell.textContent = value === null ? "not seen" : `± ${value.toFixed(1)}`;
      row.append(cell);
    }
    return row;
  }));
  refresh();
}

// A click places the chosen point; the desk then moves it to the chalk's corner where one is clear.
async function place(pixel) {
  if (!chosen) { desk.say(get("said"), "All points are marked; choose one in the drawing to mark it anew."); return; }
  const point = chosen, before = sent().filter((mark) => mark.point !== point);
  const raw = pixel.map((each) => Math.round(each * 100) / 100);
  change(() => { marks.set(point, { point, at_m: null, pixel: raw }); selected = point; chosen = null; });
  desk.say(get("clicked"), "");
  try {
    const found = await desk.ask("marks/refine", "POST", { marks: before, point, pixel: raw });
    if (!marks.has(point) || String(marks.get(point).pixel) !== String(raw)) return; // moved or undone meanwhile
    if (!found.pixel) { desk.say(get("clicked"), "No clear chalk corner is near: the mark stays where you clicked."); return; }
    const moved = Math.hypot(found.pixel[0] - raw[0], found.pixel[1] - raw[1]);
    if (moved < 0.05) return;
    change(() => marks.set(point, asSent({ point, ...found })));
    desk.say(get("clicked"), `Moved ${moved.toFixed(1)} px to the chalk's corner; Undo puts it back where you clicked.`);
  } catch (error) { desk.say(get("clicked"), error.message, "bad"); }
}

function nudge(du, dv, by) {
  if (!selected) return;
  const mark = marks.get(selected);
  const pixel = [mark.pixel[0] + du * by, mark.pixel[1] + dv * by].map((each) => Math.round(each * 100) / 100);
  change(() => marks.set(selected, { ...mark, pixel, sd_px: null }));
}

function remove() { if (selected) change(() => { marks.delete(selected); chosen = wordsOf[selected] ? selected : chosen; selected = null; }); }

// Proposals: shown, taken by one button, never by themselves.
async function propose(path, body) {
  try {
    const started = past.length;
    const found = await desk.ask(path, "POST", body);
    if (past.length !== started) { desk.say(get("said"), ""); return; } // the person went on meanwhile
    showOffer(found.marks, found.words);
  } catch (error) { desk.say(get("said"), error.message, "bad"); }
}

function showOffer(found, words) {
  offer = found;
  const sentence = words ? words[0].toUpperCase() + words.slice(1).replace(/\.?$/, ".") : "";
  get("offer").hidden = !found.length;
  get("offer-words").textContent = sentence;
  get("take").textContent = `Take these ${found.length}`;
  desk.say(get("said"), found.length ? "" : sentence);
  if (found.length) showPlate(found.map((mark) => mark.pixel));
  refresh();
  if (found.length && !marks.size) solveSoon();
}

get("take").addEventListener("click", () => {
  const taken = offer;
  offer = [];
  get("offer").hidden = true;
  change(() => { for (const mark of taken) marks.set(mark.point, asSent(mark)); selected = null; chosen = null; });
});
get("refuse").addEventListener("click", () => { offer = []; get("offer").hidden = true; changed(); });
get("find").addEventListener("click", () => propose("marks/others", { marks: sent() }));

async function save() {
  const now = sent();
  try {
    const said = await desk.ask("marks", "PUT", { marks: now, version });
    version = said.version;
    savedAs = JSON.stringify(now);
    desk.say(get("saved"), "Saved in lesson.toml.", "good");
  } catch (error) { desk.say(get("saved"), error.message, "bad"); }
  refresh();
}

function showPlate(pixels) {
  if (!pixels.length) return;
  const low = [0, 1].map((axis) => Math.min(...pixels.map((each) => each[axis])));
  const high = [0, 1].map((axis) => Math.max(...pixels.map((each) => each[axis])));
  const room = [0, 1].map((axis) => 30 + 0.15 * (high[axis] - low[axis]));
  view.show([[low[0] - room[0], low[1] - room[1]], [high[0] + room[0], high[1] + room[1]]]);
}

function nearPlate() {
  const near = Object.entries(answer?.points || {}).filter(([name]) => /^(plate|left_box|right_box)_/.test(name)).map(([, pixel]) => pixel);
  const own = [...marks.values()].filter((mark) => /^(plate|left_box|right_box)_/.test(mark.point || "")).map((mark) => mark.pixel);
  if (near.length || own.length) showPlate(near.length ? near : own); else view.zoom(2);
}

// Pointers: one places, drags a mark or moves the picture; two pinch.
const pointers = new Map();
let drag = null;
const placeOf = (event) => { const box = view.canvas.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };

view.canvas.addEventListener("pointerdown", (event) => {
  if (event.button || !view.image) return;
  view.canvas.setPointerCapture(event.pointerId);
  const at = placeOf(event);
  pointers.set(event.pointerId, at);
  const mark = pointers.size === 1 ? view.markAt(at, event.pointerType === "touch" ? 22 : 11) : null;
  drag = pointers.size === 1 ? { start: at, last: at, mark, far: false, before: JSON.stringify([...marks]) } : null;
});

view.canvas.addEventListener("pointermove", (event) => {
  if (!view.image) return;
  const at = placeOf(event);
  if (pointers.size === 2 && pointers.has(event.pointerId)) {
    const other = [...pointers].find(([id]) => id !== event.pointerId)[1], was = pointers.get(event.pointerId);
    const apart = (a, b) => Math.max(Math.hypot(a[0] - b[0], a[1] - b[1]), 1);
    view.zoom(apart(at, other) / apart(was, other), [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2]);
    view.pan((at[0] - was[0]) / 2, (at[1] - was[1]) / 2);
    pointers.set(event.pointerId, at);
    return;
  }
  view.look = view.toPicture(at);
  if (!drag) { view.draw(); return; }
  drag.far = drag.far || Math.hypot(at[0] - drag.start[0], at[1] - drag.start[1]) > (event.pointerType === "touch" ? 9 : 4);
  if (drag.far && drag.mark) {
    const mark = marks.get(drag.mark.key);
    const [du, dv] = [(at[0] - drag.last[0]) / view.scale, (at[1] - drag.last[1]) / view.scale];
    marks.set(drag.mark.key, { ...mark, sd_px: null, pixel: [mark.pixel[0] + du, mark.pixel[1] + dv].map((each) => Math.round(each * 100) / 100) });
    selected = drag.mark.key;
    refresh();
    solveSoon();
  } else if (drag.far) view.pan(at[0] - drag.last[0], at[1] - drag.last[1]);
  drag.last = at;
  view.draw();
});

function lift(event) {
  pointers.delete(event.pointerId);
  const done = drag;
  drag = null;
  if (!done || event.type !== "pointerup") { refresh(); return; }
  if (done.far && done.mark) { past.push(done.before); future = []; changed(); }
  else if (!done.far && done.mark) select(done.mark.key);
  else if (!done.far && !offer.length) place(view.toPicture(done.start));
  else if (!done.far) desk.say(get("said"), "First take the marks that are shown, or refuse them.");
}
view.canvas.addEventListener("pointerup", lift);
view.canvas.addEventListener("pointercancel", lift);
view.canvas.addEventListener("pointerleave", () => { if (!drag) refresh(); });
view.canvas.addEventListener("wheel", (event) => {
  event.preventDefault();
  view.zoom(Math.exp(-Math.max(-60, Math.min(60, event.deltaY)) / 180), placeOf(event));
}, { passive: false });

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
view.canvas.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const arrow = ARROWS[event.key];
  if (arrow && selected) nudge(...arrow, event.shiftKey ? 1 : 0.1);
  else if (arrow) view.pan(-60 * arrow[0], -60 * arrow[1]);
  else if (event.key === "+" || event.key === "=") view.zoom(1.4);
  else if (event.key === "-") view.zoom(1 / 1.4);
  else if (event.key === "Delete" || event.key === "Backspace") remove();
  else if (event.key === "Escape") select(null);
  else if (event.key === "Enter" && !offer.length) place(view.toPicture([view.room[0] / 2, view.room[1] / 2]));
  else return;
  event.preventDefault();
});
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, textarea")) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) step(past, future);
  else if (key === "y" || (key === "z" && event.shiftKey)) step(future, past);
  else return;
  event.preventDefault();
});

for (const spot of spots) {
  const pick = () => {
    const name = spot.dataset.point;
    if (marks.has(name)) { select(name); chosen = name; }
    choose(name);
    view.canvas.focus({ preventScroll: true });
  };
  spot.addEventListener("click", pick);
  spot.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); pick(); return; }
    if (!ARROWS[event.key]) return;
    event.preventDefault();
    const on = event.key === "ArrowRight" || event.key === "ArrowDown" ? 1 : -1;
    const other = spots[(spots.indexOf(spot) + on + spots.length) % spots.length];
    choose(other.dataset.point);
    other.focus();
  });
}
get("list").addEventListener("click", (event) => {
  const key = event.target.dataset.key;
  if (!key) return;
  select(key);
  const [u, v] = marks.get(key).pixel;
  view.show([[u - 60, v - 40], [u + 60, v + 40]]);
});
for (const button of document.querySelectorAll("[data-nudge]")) {
  button.addEventListener("click", (event) => nudge(...button.dataset.nudge.split(" ").map(Number), event.shiftKey ? 1 : 0.1));
}
get("zoom-in").addEventListener("click", () => view.zoom(1.5));
get("zoom-out").addEventListener("click", () => view.zoom(1 / 1.5));
get("fit").addEventListener("click", () => view.fit());
get("to-plate").addEventListener("click", nearPlate);
get("undo").addEventListener("click", () => step(past, future));
get("redo").addEventListener("click", () => step(future, past));
get("remove").addEventListener("click", remove);
get("save").addEventListener("click", save);
window.addEventListener("beforeunload", (event) => { if (JSON.stringify(sent()) !== savedAs) event.preventDefault(); });

async function begin() {
  try {
    const held = await desk.ask("marks/held");
    version = held.version;
    for (const mark of held.marks) marks.set(keyOf(mark), mark);
    savedAs = JSON.stringify(sent());
    const image = new Image();
    image.src = `${desk.base}/marks/still.png`;
    await image.decode();
    view.image = image;
    get("stage").style.aspectRatio = `${image.naturalWidth} / ${image.naturalHeight}`;
    get("loading").hidden = true;
    view.resize();
    view.fit();
    if (held.other_size) desk.say(get("saved"), `The marks were made on a picture of ${held.other_size.join(" × ")}; this one is ${held.size.join(" × ")}. Mark it anew.`, "bad");
    changed();
    document.body.dataset.ready = "yes";
    if (!marks.size) { desk.say(get("said"), "Looking for plate and boxes …"); await propose("marks/propose", {}); }
  } catch (error) {
    get("loading").textContent = error.message || "The picture cannot be shown; load the page anew.";
    get("loading").hidden = false;
  }
  document.body.dataset.ready = "yes";
}
begin();
