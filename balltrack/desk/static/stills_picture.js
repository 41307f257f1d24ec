"use strict";
// The still on its canvas, with what is drawn on it, as the page will show it; zoom, move, pointers.
// Places are pixels of the whole picture, u right, v down, the middle of the top left pixel at (0, 0).

const INK = "#ffb03b", DARK = "#101c22", LIGHT = "#fff4d6", PLATE = "rgba(16, 28, 34, .62)"; // of review/sheet.py
const MOST_ZOOM = 10, KEPT_PICTURES = 50;
const REACH = { touch: 22, mouse: 10 }; // screen pixels within which a mark can be taken hold of

class StillPicture {
  // hooks: marks(), selected(), cross(), tool(), address(k), lost(k), tapped(place, hit), drawn(from, to), picked(hit),
  // dragged(index, corner, du, dv), dropped(), viewed()
  constructor(canvas, look, hooks) {
    this.canvas = canvas;
    this.look = look;
    this.hooks = hooks;
    this.size = [16, 9];
    this.view = [0, 0, 16];
    this.k = 0;
    this.images = new Map();
    this.pointers = new Map();
    this.boxes = []; // where the words' plates are, in screen pixels
    this.trace = null; // what is being drawn
    new ResizeObserver(() => this.resize()).observe(canvas.parentElement);
    canvas.addEventListener("pointerdown", (event) => this.down(event));
    canvas.addEventListener("pointermove", (event) => this.move(event));
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => this.up(event));
    canvas.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(Math.exp(-Math.max(-60, Math.min(60, event.deltaY)) / 180), this.place(event));
    }, { passive: false });
  }

  open(size, count) {
    this.size = size;
    this.count = count;
    this.images.clear();
    this.resize();
  }

  resize() {
    const room = this.canvas.parentElement.clientWidth;
    if (!room) return;
    const high = Math.max(innerHeight * 0.68, 240), [w, h] = this.size;
    const width = Math.min(room, high * w / h);
    this.canvas.style.width = `${width}px`;
    this.canvas.style.height = `${width * h / w}px`;
    this.dense = devicePixelRatio || 1;
    this.canvas.width = Math.round(width * this.dense);
    this.canvas.height = Math.round(width * h / w * this.dense);
    this.room = [width, width * h / w];
    this.draw();
  }

  get scale() { return this.room[0] / this.view[2]; } // screen pixels a picture pixel
  get tall() { return this.view[2] * this.size[1] / this.size[0]; }
  get middle() { return [this.view[0] + this.view[2] / 2 - 0.5, this.view[1] + this.tall / 2 - 0.5]; }

  shown([u, v]) { return [(u + 0.5 - this.view[0]) * this.scale, (v + 0.5 - this.view[1]) * this.scale]; }

  onScreen(place) { // of the window
    const box = this.canvas.getBoundingClientRect(), [x, y] = this.shown(place);
    return { x: box.left + x, y: box.top + y };
  }

  place(event) {
    const box = this.canvas.getBoundingClientRect();
    return this.within([event.clientX - box.left, event.clientY - box.top].map((each, i) => each / this.scale + this.view[i] - 0.5));
  }

  within(place) { return place.map((each, i) => Math.min(Math.max(each, 0), this.size[i] - 1)); }

  // The part shown, for the file: even numbers, as a video's colours ask for.
  whole() {
    const even = (each) => 2 * Math.round(each / 2), floor = (each) => 2 * Math.floor(each / 2);
    const width = Math.min(even(this.view[2]), floor(this.size[0])), height = Math.min(even(this.tall), floor(this.size[1]));
    return [Math.min(even(this.view[0]), floor(this.size[0] - width)), Math.min(even(this.view[1]), floor(this.size[1] - height)), width, height];
  }

  see([left, top, width]) { this.view = [left, top, width]; this.hold(); }

  hold() {
    this.view[2] = Math.min(Math.max(this.view[2], this.size[0] / MOST_ZOOM), this.size[0]);
    this.view[0] = Math.min(Math.max(this.view[0], 0), this.size[0] - this.view[2]);
    this.view[1] = Math.min(Math.max(this.view[1], 0), this.size[1] - this.tall);
    this.draw();
  }

  zoom(factor, at = this.middle) {
    const before = this.view[2];
    this.view[2] = Math.min(Math.max(before / factor, this.size[0] / MOST_ZOOM), this.size[0]);
    const share = this.view[2] / before;
    for (const i of [0, 1]) this.view[i] = at[i] + 0.5 - (at[i] + 0.5 - this.view[i]) * share;
    this.hold();
    this.hooks.viewed();
  }

  pan(x, y) { this.view[0] -= x / this.scale; this.view[1] -= y / this.scale; this.hold(); this.hooks.viewed(); }

  show(k) {
    this.k = k;
    this.draw();
  }

  image(k) {
    if (!this.images.has(k)) {
      const image = new Image();
      image.onload = () => {
        if (k !== this.k) return;
        this.draw();
        for (const near of [k + 1, k - 1]) if (near >= 0 && near < this.count) this.image(near);
      };
      image.onerror = () => { this.images.delete(k); if (k === this.k) this.hooks.lost(k); };
      image.src = this.hooks.address(k);
      this.images.set(k, image);
      if (this.images.size > KEPT_PICTURES) this.images.delete(this.images.keys().next().value);
    }
    const image = this.images.get(k);
    return image.complete && image.naturalWidth ? image : null;
  }

  draw() {
    if (!this.count || !this.room) return;
    const pen = this.canvas.getContext("2d");
    pen.setTransform(this.dense, 0, 0, this.dense, 0, 0);
    pen.fillStyle = "#15201f";
    pen.fillRect(0, 0, ...this.room);
    const image = this.image(this.k);
    pen.imageSmoothingQuality = "high";
    if (image) pen.drawImage(image, this.view[0], this.view[1], this.view[2], this.tall, 0, 0, ...this.room);
    this.canvas.dataset.shown = image ? String(this.k) : "";
    pen.lineCap = pen.lineJoin = "round";
    const short = Math.min(...this.room);
    this.thick = Math.max(this.look.stroke * short, 1.2);
    this.em = Math.max(this.look.letters * short, 8);
    this.boxes = [];
    this.hooks.marks().forEach((mark, index) => this.drawMark(pen, mark, index));
    if (this.trace?.to) this.drawMark(pen, { kind: this.hooks.tool(), points: [this.trace.from, this.trace.to] }, -1);
    const cross = this.hooks.cross();
    if (cross) this.drawCross(pen, cross);
  }

  drawMark(pen, mark, index) {
    const points = mark.points.map((each) => this.shown(each));
    if (mark.kind === "words") this.drawWords(pen, mark.words, points[0], index);
    else for (const [colour, wide] of [[DARK, this.thick * 1.8], [INK, this.thick]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = Math.max(wide, 1);
      pen.beginPath();
      points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (mark.kind === "arrow") this.head(pen, ...points);
      pen.stroke();
    }
    if (index >= 0 && index === this.hooks.selected()) this.drawHold(pen, mark.kind === "words" ? [this.boxes[index]] : points.map(([x, y]) => [x - 5, y - 5, 10, 10]));
  }

  head(pen, [x0, y0], [x1, y1]) {
    const length = Math.hypot(x1 - x0, y1 - y0);
    if (length < 1) return;
    const [a, b] = [(x1 - x0) / length, (y1 - y0) / length], size = Math.min(7 * this.thick, length / 2);
    pen.moveTo(x1 - size * a - 0.55 * size * b, y1 - size * b + 0.55 * size * a);
    pen.lineTo(x1, y1);
    pen.lineTo(x1 - size * a + 0.55 * size * b, y1 - size * b - 0.55 * size * a);
  }

  drawWords(pen, words, [x, y], index) { // as review/lettering.py sets them
    const em = this.em, pad = 0.6 * em, tall = 1.164 * em, lines = wrapped(words || "…", this.look.lineLetters);
    pen.font = `bold ${em}px "DejaVu Sans", Verdana, sans-serif`;
    const width = Math.max(...lines.map((each) => pen.measureText(each).width)) + 2 * pad;
    const height = lines.length * tall + (lines.length - 1) * 0.28 * em + 1.4 * pad;
    const left = Math.max(Math.min(x, this.room[0] - width), 0), top = Math.max(Math.min(y, this.room[1] - height), 0);
    this.boxes[index] = [left, top, width, height];
    pen.fillStyle = PLATE;
    pen.beginPath();
    pen.roundRect(left, top, width, height, 0.45 * em);
    pen.fill();
    pen.fillStyle = LIGHT;
    pen.textBaseline = "alphabetic";
    lines.forEach((each, i) => pen.fillText(each, left + pad, top + 0.7 * pad + 0.93 * em + i * (tall + 0.28 * em)));
  }

  drawHold(pen, boxes) { // not in the page: shows what is selected
    for (const box of boxes) for (const [colour, wide] of [[DARK, 4], ["#fff", 2]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = wide;
      pen.strokeRect(...box);
    }
  }

  drawCross(pen, place) {
    const [x, y] = this.shown(place);
    for (const [colour, wide] of [[DARK, 4], ["#fff", 1.8]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = wide;
      pen.beginPath();
      for (const [a, b] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { pen.moveTo(x + 4 * a, y + 4 * b); pen.lineTo(x + 15 * a, y + 15 * b); }
      pen.stroke();
    }
  }

  // The mark under a pointer, and which of its ends; null where there is none.
  hit(event) {
    const box = this.canvas.getBoundingClientRect(), x = event.clientX - box.left, y = event.clientY - box.top;
    const reach = REACH[event.pointerType] || REACH.mouse, marks = this.hooks.marks();
    for (let index = marks.length - 1; index >= 0; index--) {
      if (marks[index].kind === "words") {
        const [left, top, width, height] = this.boxes[index] || [0, 0, 0, 0];
        if (x >= left && x <= left + width && y >= top && y <= top + height) return { index, corner: null };
        continue;
      }
      const ends = marks[index].points.map((each) => this.shown(each));
      const corner = ends.findIndex(([a, b]) => Math.hypot(a - x, b - y) < reach);
      if (corner >= 0) return { index, corner };
      const [[ax, ay], [bx, by]] = ends, length = (bx - ax) ** 2 + (by - ay) ** 2;
      const along = Math.min(Math.max(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length, 0), 1);
      if (Math.hypot(ax + along * (bx - ax) - x, ay + along * (by - ay) - y) < reach) return { index, corner: null };
    }
    return null;
  }

  // One pointer draws, or moves a mark or the picture; two zoom.
  down(event) {
    if (event.button || !this.count) return;
    event.preventDefault(); // else a finger's made-up mouse takes the focus from the words
    this.canvas.focus({ preventScroll: true });
    this.canvas.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, event);
    if (this.pointers.size > 1) { this.letGo(); return; }
    this.trace = { from: this.place(event), at: event, hit: this.hit(event), far: false };
    if (this.hooks.tool() === "move" && this.trace.hit) this.hooks.picked(this.trace.hit);
  }

  letGo() {
    if (this.trace?.far && this.trace.hit && this.hooks.tool() === "move") this.hooks.dropped();
    this.trace = null;
    this.draw();
  }

  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    if (this.pointers.size === 2) this.pinch(event);
    else if (this.trace) {
      const { at, hit } = this.trace, tool = this.hooks.tool();
      this.trace.far ||= Math.hypot(event.clientX - at.clientX, event.clientY - at.clientY) > (event.pointerType === "touch" ? 8 : 4);
      const step = [event.clientX - before.clientX, event.clientY - before.clientY];
      if (!this.trace.far) return; // the step counts once it is far enough
      if (tool === "move" && hit) this.hooks.dragged(hit, step[0] / this.scale, step[1] / this.scale);
      else if (tool === "move") this.pan(...step);
      else if (tool !== "words") this.trace.to = this.place(event);
      this.draw();
    }
    this.pointers.set(event.pointerId, event);
  }

  pinch(event) {
    const [other] = [...this.pointers.values()].filter((each) => each.pointerId !== event.pointerId);
    const before = this.pointers.get(event.pointerId);
    const apart = (a, b) => Math.max(Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY), 1);
    this.zoom(apart(event, other) / apart(before, other), this.place({ clientX: (event.clientX + other.clientX) / 2, clientY: (event.clientY + other.clientY) / 2 }));
    this.pan((event.clientX - before.clientX) / 2, (event.clientY - before.clientY) / 2);
  }

  up(event) {
    if (!this.pointers.delete(event.pointerId)) return;
    const done = this.trace, tool = this.hooks.tool();
    this.trace = null;
    if (done && event.type === "pointerup") {
      if (done.far && tool === "move") { if (done.hit) this.hooks.dropped(); }
      else if (done.far && tool !== "words") this.hooks.drawn(done.from, this.place(event));
      else this.hooks.tapped(done.from, done.hit);
    }
    this.draw();
  }
}

// Words in lines of so many letters, as Python's textwrap sets them.
function wrapped(words, most) {
  const lines = [];
  let line = "";
  for (let word of words.trim().split(/\s+/)) {
    for (;;) {
      const room = most - (line ? line.length + 1 : 0);
      if (word.length <= room) { line = line ? `${line} ${word}` : word; break; }
      if (word.length > most && room > 0) { line = line ? `${line} ${word.slice(0, room)}` : word.slice(0, room); word = word.slice(room); }
      lines.push(line);
      line = "";
    }
  }
  return [...lines, line];
}
