"use strict";
// Look through the swings: the table and the chart point at each other; a swing opens in the frame viewer, and each
// correction is kept and measured with at once.

const at = (id) => document.getElementById(id);
const NUDGE_PX = 0.5, WIDER = 1.05;

let swing = null; // what the desk last said of the open swing
let hand = new Map(); // by frame: { time, u, v, d }, u null where no ball is
let word = { contact: null, miss: false, excluded: "" };
let k = 0; // the frame shown
let past = []; // what was by hand before each change
let before = null; // the numbers before the last change
let placing = false;
let sending = null, waiting = false, nudged = null;

const whole = () => swing !== null && swing.swing === null; // a clip from end to end, to find a swing in it
const byFrame = (rows) => new Map(rows.map((row) => [row.k, row]));
const copy = () => ({ hand: new Map([...hand].map(([frame, row]) => [frame, { ...row }])), word: { ...word } });

const picture = new Picture(at("swing-canvas"), {
  address: (frame, half) =>
    `${desk.base}/swings/frame?${whole() ? "clip" : "swing"}=${encodeURIComponent(swing.swing ?? swing.clip)}&k=${frame}${half ? "&size=half" : ""}`,
  ball: (frame) => ballAt(frame),
  ghost: (frame) => (hand.has(frame) ? foundAt(frame) : null),
  expected: (frame) => (swing && swing.path.find((each) => each.k === frame)) || null,
  marks: () => ({ path: swing ? swing.path : [], found: swing ? programs() : [], hand: [...hand.values()] }),
  moved: (frame, u, v) => {
    if (!picture.held.kept) { picture.held.kept = true; keep(); }
    const ball = ballAt(frame);
    hand.set(frame, { k: frame, time: timeOf(frame), u, v, d: ball.d });
    describe();
  },
  dropped: () => save(),
  placing: () => placing,
  placed: (u, v) => { setBall(u, v); setPlacing(false); },
  panned: () => setFollowing(false),
  lost: (frame) => desk.say(at("said"), `The picture at ${swing.times[frame].toFixed(3)} s cannot be read.`, "bad"),
});

function programs() { return swing.found.filter((row) => row.by !== "hand"); }

function foundAt(frame) {
  const rows = programs().filter((row) => row.k === frame);
  return rows.find((row) => row.used) || rows[0] || null;
}

function ballAt(frame) { // as it counts: a person's word first
  if (!swing) return null;
  const said = hand.get(frame);
  if (said) return said.u === null ? null : { ...said, by: "hand", used: true };
  return foundAt(frame);
}

function timeOf(frame) { return hand.has(frame) ? hand.get(frame).time : swing.times[frame]; }

function widthAt(frame) { // a first guess
  const near = [...hand.values()].filter((row) => row.u !== null).sort((a, b) => Math.abs(a.k - frame) - Math.abs(b.k - frame));
  const path = swing.path.find((each) => each.k === frame);
  return (foundAt(frame) || path || near[0] || { d: swing.usual }).d;
}

// One swing.

async function openSwing(name, keepPlace = false) {
  if (sending && !keepPlace) await sending;
  try {
    const said = await desk.ask(`swings/one?swing=${encodeURIComponent(name)}`);
    const same = keepPlace && swing && swing.swing === name;
    begin(said, same ? k : said.begins);
  } catch (error) { cannotOpen(name, error); }
}

async function openClip(name) {
  if (sending) await sending;
  try {
    begin(await desk.ask(`swings/clip?clip=${encodeURIComponent(name)}`), 0);
    desk.say(at("said"), "Step to the frame in which bat meets ball, then choose “Contact here”: the swing is added, and its ball can be set.");
  } catch (error) { cannotOpen(name, error); }
}

function begin(said, frame) {
  take(said);
  past = [];
  before = null;
  desk.say(at("said"), "");
  at("again").hidden = at("reload").hidden = true;
  at("viewer").hidden = false;
  picture.open(said.size, said.times.length);
  at("slide").max = said.times.length - 1;
  setPlacing(false);
  show(frame);
  numbers();
  markRow();
  at("viewer").scrollIntoView({ block: "start" });
  at("swing-canvas").focus({ preventScroll: true });
}

function cannotOpen(name, error) {
  at("viewer").hidden = false;
  swing = null;
  at("viewer-name").textContent = name;
  desk.say(at("said"), error.message, "bad");
}

function take(said) {
  swing = said;
  hand = byFrame(said.hand);
  word = whole() ? { contact: null, miss: false, excluded: "" } : { contact: said.contact.hand, miss: said.miss, excluded: said.excluded };
  at("viewer-name").textContent = whole() ? `The clip ${said.words}` : `${said.number}. ${said.swing}`;
  at("reason").value = word.excluded;
  at("remove").hidden = !said.added;
  at("to-stills").hidden = whole();
  at("to-stills").href = `${desk.base}/stills?swing=${encodeURIComponent(said.swing)}`;
}

function closeSwing() {
  const row = document.querySelector("#rows tr.now button.open");
  at("viewer").hidden = true;
  swing = null;
  markRow();
  row?.focus();
}

function neighbour(step) {
  const buttons = [...document.querySelectorAll("#rows button.open")];
  const next = buttons[buttons.indexOf(document.querySelector("#rows tr.now button.open")) + step];
  if (next) openRow(next);
}

function show(frame) {
  if (!swing || !swing.times.length) return;
  k = Math.min(Math.max(frame, 0), swing.times.length - 1);
  at("slide").value = k;
  picture.show(k);
  describe();
}

function describeClip() {
  at("frame-words").textContent = `Frame ${k + 1} of ${swing.times.length}, ${swing.times[k].toFixed(3)} s into the clip`;
  at("swing-canvas").setAttribute("aria-label", `The clip ${swing.words}. ${at("frame-words").textContent}`);
  at("contact").textContent = "Contact here";
}

function describe() {
  for (const id of ["set", "take-out", "put-back", "thinner", "wider", "miss", "reason", "exclude", "undo", "take-back", "follow", "to-contact"]) {
    at(id).disabled = whole();
  }
  at("contact").disabled = false;
  at("contact").classList.toggle("main", whole());
  if (whole()) { describeClip(); return; }
  const ball = ballAt(k), found = foundAt(k), said = hand.get(k);
  const contact = word.contact ?? swing.contact.found;
  const off = Math.round(1000 * (swing.times[k] - contact));
  let words = "no ball seen";
  if (said && said.u === null) words = "no ball, by hand";
  else if (said) {
    const left = swing.found.find((row) => row.by === "hand" && row.k === k && !row.used);
    words = left ? "ball by hand, off the flight" : "ball by hand";
  } else if (ball) words = ball.used ? "ball found" : `seen, not used: ${found.why || "off the flight"}`;
  at("frame-words").textContent =
    `Frame ${k + 1} of ${swing.times.length}, ${Math.abs(off)} ms ${off < 0 ? "before" : "after"} contact: ${words}`;
  at("swing-canvas").setAttribute("aria-label", `${swing.swing}. ${at("frame-words").textContent}`);
  at("take-out").disabled = !ball;
  at("put-back").disabled = !said;
  at("thinner").disabled = at("wider").disabled = !ball;
  at("undo").disabled = !past.length;
  at("take-back").disabled = !hand.size && word.contact === null && !word.miss && !word.excluded;
  at("miss").setAttribute("aria-pressed", String(word.miss));
  const isContact = word.contact !== null && Math.abs(word.contact - swing.times[k]) < 1e-4;
  at("contact").textContent = isContact && !swing.added ? "Contact as found" : "Contact here";
  at("contact").disabled = word.miss || (isContact && swing.added);
  at("exclude").textContent = word.excluded ? "Count it again" : "Leave out";
}

function numbers() {
  if (whole()) { at("numbers").replaceChildren(); at("why").textContent = ""; return; }
  const rows = swing.said.numbers.map(([name, now], i) => {
    const row = document.createElement("tr");
    const cell = (kind, text) => { const one = document.createElement(kind); one.textContent = text; row.append(one); return one; };
    cell("th", name).scope = "row";
    const was = before ? before.numbers[i][1] : "";
    cell("td", now).classList.toggle("changed", before !== null && was !== now);
    cell("td", was);
    return row;
  });
  at("numbers").replaceChildren(...rows);
  const words = [swing.said.reason, ...swing.said.warnings, ...(swing.excluded ? [`Left out: ${swing.excluded}`] : [])];
  at("why").textContent = words.filter(Boolean).map((each) => each[0].toUpperCase() + each.slice(1)).join(". ");
}

// Corrections. Each is kept as soon as it is made; while one is on its way the next waits, and only the last is sent.

function keep() { past.push(copy()); }

function setBall(u, v, d = ballAt(k)?.d ?? widthAt(k)) {
  keep();
  hand.set(k, { k, time: timeOf(k), u, v, d });
  changed();
}

function takeOut() {
  if (!ballAt(k)) return;
  keep();
  if (foundAt(k)) hand.set(k, { k, time: timeOf(k), u: null, v: null, d: null });
  else hand.delete(k);
  changed();
}

function putBack() {
  if (!hand.has(k)) return;
  keep();
  hand.delete(k);
  changed();
}

function nudge(u, v, wider = 1) { // many in a row are one change
  const ball = ballAt(k);
  if (!ball) return;
  if (nudged === null) keep();
  clearTimeout(nudged);
  const [x, y] = picture.within([ball.u + u, ball.v + v]);
  hand.set(k, { k, time: timeOf(k), u: x, v: y, d: Math.min(Math.max(ball.d * wider, 2), 400) });
  picture.draw();
  describe();
  nudged = setTimeout(() => { nudged = null; save(); }, 500);
}

function setWord(part) {
  if (whole()) return;
  keep();
  word = { ...word, ...part };
  changed();
}

function setContact() {
  const here = swing.times[k];
  if (whole()) { addSwing(here); return; }
  const same = word.contact !== null && Math.abs(word.contact - here) < 1e-4;
  setWord({ contact: same ? null : here, miss: false });
}

async function addSwing(contact) {
  const clip = swing;
  desk.say(at("said"), "Adding the swing …");
  try {
    const said = await desk.ask("swings/add", "PUT", { clip: clip.clip, version: clip.version, contact });
    if (swing !== clip) return;
    begin(said, said.begins);
    await drawTable();
    drawChart();
    desk.say(at("said"), "The swing is added. Now set its ball, in as many of the frames after contact as show it: “Set ball”, then tap it.", "good");
  } catch (error) { desk.say(at("said"), error.message, "bad"); }
}

async function removeSwing() {
  if (sending) await sending;
  const { clip, version } = swing;
  try {
    await desk.ask("swings/remove", "PUT", { swing: swing.swing, version });
    await drawTable();
    drawChart();
    await openClip(clip);
    desk.say(at("said"), "The swing is taken away, and what was set in it.", "good");
  } catch (error) { desk.say(at("said"), error.message, "bad"); }
}

function undo() {
  const last = past.pop();
  if (!last) return;
  hand = last.hand;
  word = last.word;
  at("reason").value = word.excluded;
  changed();
}

function takeBack() {
  if (whole()) return;
  keep();
  hand = new Map();
  word = { contact: null, miss: false, excluded: "" };
  at("reason").value = "";
  changed();
}

function changed() {
  picture.draw();
  describe();
  save();
}

function save() {
  if (sending) { waiting = true; return; }
  sending = send().finally(() => {
    sending = null;
    if (waiting) { waiting = false; save(); }
  });
}

async function send() {
  const now = swing;
  desk.say(at("said"), "Measuring with it …");
  at("again").hidden = at("reload").hidden = true;
  try {
    const said = await desk.ask("swings/correct", "PUT", {
      swing: now.swing, version: now.version, contact: word.contact, miss: word.miss, excluded: word.excluded,
      balls: [...hand.values()].map(({ time, u, v, d }) => ({ time, u, v, d })),
    });
    if (swing !== now) return;
    before = now.said;
    if (waiting) swing = { ...swing, version: said.version };
    else take(said);
    numbers();
    picture.draw();
    describe();
    desk.say(at("said"), swing.said.byHand.length ? `Kept. By hand: ${swing.said.byHand.join(", ")}.` : "Kept. Nothing is by hand.", "good");
    await drawTable();
    drawChart();
  } catch (error) {
    desk.say(at("said"), error.message, "bad");
    at("again").hidden = error.status === 409;
    at("reload").hidden = error.status !== 409;
    waiting = false;
  }
}

function setPlacing(on) {
  on = on && !whole();
  placing = on;
  at("set").setAttribute("aria-pressed", String(on));
  at("swing-canvas").classList.toggle("placing", on);
  if (on) desk.say(at("said"), "Tap the ball's middle in the picture; Enter puts it where the flight has it.");
}

function setFollowing(on) {
  picture.following = on;
  at("follow").setAttribute("aria-pressed", String(on));
  if (on) {
    if (picture.zoom < 2) picture.zoomBy(4 / picture.zoom);
    picture.show(k);
  }
}

function exclude() {
  if (whole()) return;
  const reason = at("reason").value.trim();
  if (word.excluded) { at("reason").value = ""; setWord({ excluded: "" }); }
  else if (reason) setWord({ excluded: reason });
  else { desk.say(at("said"), "Say in a few words why it does not count.", "warn"); at("reason").focus(); }
}

const KEYS = {
  ArrowLeft: () => show(k - 1), ArrowRight: () => show(k + 1), PageUp: () => show(k - 10), PageDown: () => show(k + 10),
  Home: () => show(toContact()), Delete: takeOut, Backspace: takeOut, r: putBack, c: setContact,
  m: () => setWord({ miss: !word.miss, contact: null }), x: () => at("reason").focus(),
  b: () => setPlacing(!placing), f: () => setFollowing(!picture.following),
  "[": () => nudge(0, 0, 1 / WIDER), "]": () => nudge(0, 0, WIDER),
  "+": () => picture.zoomBy(1.4), "=": () => picture.zoomBy(1.4), "-": () => picture.zoomBy(1 / 1.4), 0: () => picture.fit(),
  Enter: () => { if (placing) { const where = picture.hooks.expected(k) || { u: picture.centre[0], v: picture.centre[1] }; setBall(where.u, where.v); setPlacing(false); } },
  Escape: () => (placing ? setPlacing(false) : closeSwing()),
};
const NUDGES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function toContact() {
  if (whole()) return 0;
  const contact = word.contact ?? swing.contact.found;
  return swing.times.reduce((best, time, i) => (Math.abs(time - contact) < Math.abs(swing.times[best] - contact) ? i : best), 0);
}

at("viewer").addEventListener("keydown", (event) => {
  if (!swing || event.altKey || event.metaKey) return;
  const typing = event.target.matches("input:not([type=range])");
  if (event.ctrlKey) {
    if (event.key === "z" && !typing) { event.preventDefault(); undo(); }
    return;
  }
  if (typing) { if (event.key === "Escape") at("swing-canvas").focus(); return; }
  const onPicture = event.target === at("swing-canvas");
  if (event.shiftKey && NUDGES[event.key] && onPicture) {
    event.preventDefault();
    nudge(...NUDGES[event.key].map((step) => step * NUDGE_PX));
    return;
  }
  const ownKey = !onPicture && ["Enter", "Backspace", "ArrowLeft", "ArrowRight", "Home", "PageUp", "PageDown"].includes(event.key);
  const act = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (act && !ownKey) { event.preventDefault(); act(); }
});

for (const [id, act] of Object.entries({
  back: () => show(k - 1), next: () => show(k + 1), back10: () => show(k - 10), next10: () => show(k + 10),
  "to-contact": () => show(toContact()), smaller: () => picture.zoomBy(1 / 1.4), larger: () => picture.zoomBy(1.4),
  follow: () => setFollowing(!picture.following), set: () => setPlacing(!placing), "take-out": takeOut, "put-back": putBack,
  remove: removeSwing, thinner: () => nudge(0, 0, 1 / WIDER), wider: () => nudge(0, 0, WIDER), contact: setContact,
  miss: KEYS.m, undo, "take-back": takeBack, again: save, reload: () => { openSwing(swing.swing, true); drawTable(); },
  earlier: () => neighbour(-1), later: () => neighbour(1), close: closeSwing,
})) at(id).addEventListener("click", () => { if (swing || id === "close") act(); });
at("slide").addEventListener("input", () => show(Number(at("slide").value)));
at("missing")?.addEventListener("submit", (event) => { event.preventDefault(); openClip(at("missing-clip").value); });
at("exclude-form").addEventListener("submit", (event) => { event.preventDefault(); if (swing) exclude(); });

linkRows();
drawChart();
