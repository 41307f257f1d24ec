"use strict";
// The frame viewer's picture: one frame of a clip on a canvas, with the ball and its track over it; zoom, move, drag.
// Places are pixels of the frame, u right, v down, the middle of the top left pixel at (0, 0).

const FOUND = "#19a7b5", HAND = "#ff8c1a", UNUSED = "#aeb9b5", PATH = "#e8c400", HALO = "rgba(0, 0, 0, .65)";
const TOUCH = 22; // a ball can be taken hold of within so many pixels of the screen
const KEPT_PICTURES = 60, MOST_ZOOM = 24;

class Picture {
  // hooks: address(k, half), ball(k), marks(), moved(k, u, v), dropped(k), placed(u, v), placing()
  constructor(canvas, hooks) {
    this.canvas = canvas;
    this.hooks = hooks;
    this.pictures = new Map();
    this.pointers = new Map();
    this.size = [16, 9];
    this.k = 0;
    this.following = false;
    new ResizeObserver(() => this.resize()).observe(canvas.parentElement);
    addEventListener("resize", () => this.resize());
    canvas.addEventListener("pointerdown", (event) => this.down(event));
    canvas.addEventListener("pointermove", (event) => this.move(event));
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => this.up(event));
    canvas.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoomBy(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0016)), this.place(event));
    }, { passive: false });
  }

  open(size, count) {
    this.size = size;
    this.count = count;
    this.pictures.clear();
    this.zoom = 1;
    this.centre = [size[0] / 2, size[1] / 2];
    this.resize();
  }

  resize() {
    const width = this.canvas.parentElement.clientWidth;
    if (!width) return;
    const height = Math.min(width * this.size[1] / this.size[0], Math.max(innerHeight * 0.72, 220));
    const dense = devicePixelRatio || 1;
    this.canvas.style.height = `${height}px`;
    this.canvas.width = Math.round(width * dense);
    this.canvas.height = Math.round(height * dense);
    this.whole = Math.min(width / this.size[0], height / this.size[1]);
    this.dense = dense;
    this.draw();
  }

  get scale() { return this.whole * this.zoom; } // screen pixels a frame pixel

  show(k) {
    this.k = k;
    if (this.following) this.centreOn(this.hooks.ball(k) || this.hooks.expected(k));
    this.draw();
    if (this.picture(k)) this.fetchNear();
  }

  fetchNear() {
    for (const near of [this.k + 1, this.k - 1, this.k + 2]) if (near >= 0 && near < this.count) this.picture(near);
  }

  centreOn(place) {
    if (place) this.centre = [place.u, place.v];
    this.hold();
  }

  zoomBy(factor, at = this.centre) {
    const before = this.zoom;
    this.zoom = Math.min(Math.max(this.zoom * factor, 1), MOST_ZOOM);
    const share = 1 - before / this.zoom;
    this.centre = this.centre.map((c, i) => c + (at[i] - c) * share);
    this.hold();
    this.draw();
  }

  fit() {
    this.zoom = 1;
    this.hold();
    this.draw();
  }

  hold() { // the frame's edge does not come further in than the canvas's
    const seen = [this.canvas.width, this.canvas.height].map((pixels) => pixels / this.dense / this.scale);
    this.centre = this.centre.map((c, i) =>
      seen[i] >= this.size[i] ? this.size[i] / 2 : Math.min(Math.max(c, seen[i] / 2), this.size[i] - seen[i] / 2));
  }

  place(event) { // of the frame, under a pointer
    const box = this.canvas.getBoundingClientRect();
    return [event.clientX - box.left - box.width / 2, event.clientY - box.top - box.height / 2]
      .map((off, i) => this.centre[i] + off / this.scale);
  }

  onScreen(place) { // of the window, where a place of the frame is shown
    const box = this.canvas.getBoundingClientRect();
    return {
      x: box.left + box.width / 2 + (place.u - this.centre[0]) * this.scale,
      y: box.top + box.height / 2 + (place.v - this.centre[1]) * this.scale,
    };
  }

  picture(k) {
    const half = this.scale * this.dense < 0.55;
    const key = `${k}${half}`;
    if (!this.pictures.has(key)) {
      const image = new Image();
      image.onload = () => { if (k === this.k) { this.draw(); this.fetchNear(); } };
      image.onerror = () => { this.pictures.delete(key); if (k === this.k) this.hooks.lost(k); };
      image.src = this.hooks.address(k, half);
      this.pictures.set(key, image);
      if (this.pictures.size > KEPT_PICTURES) this.pictures.delete(this.pictures.keys().next().value);
    }
    const image = this.pictures.get(key);
    const other = this.pictures.get(`${k}${!half}`);
    return image.complete && image.naturalWidth ? image : other && other.complete && other.naturalWidth ? other : null;
  }

  draw() {
    if (!this.count || !this.whole) return;
    const pen = this.canvas.getContext("2d");
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = "#15201f";
    pen.fillRect(0, 0, this.canvas.width, this.canvas.height);
    const scale = this.scale * this.dense;
    pen.setTransform(scale, 0, 0, scale,
      this.canvas.width / 2 - this.centre[0] * scale, this.canvas.height / 2 - this.centre[1] * scale);
    const image = this.picture(this.k);
    pen.imageSmoothingEnabled = this.zoom * this.whole < 3;
    if (image) pen.drawImage(image, -0.5, -0.5, this.size[0], this.size[1]);
    this.canvas.dataset.shown = image ? String(this.k) : "";
    this.drawMarks(pen, 1 / this.scale);
  }

  drawMarks(pen, pixel) { // pixel: one of the screen, in those of the frame
    const { path, found, hand } = this.hooks.marks();
    const line = (colour, width, dash = []) => {
      pen.strokeStyle = colour;
      pen.lineWidth = width * pixel;
      pen.setLineDash(dash.map((each) => each * pixel));
    };
    for (const [colour, width] of [[HALO, 3], [PATH, 1.5]]) {
      line(colour, width);
      pen.beginPath();
      for (const each of path) pen.lineTo(each.u, each.v);
      pen.stroke();
    }
    for (const each of found) {
      if (each.k === this.k) continue;
      pen.fillStyle = each.used ? FOUND : UNUSED;
      pen.beginPath();
      pen.arc(each.u, each.v, (each.used ? 2.2 : 1.6) * pixel, 0, 7);
      pen.fill();
    }
    for (const each of hand) if (each.k !== this.k && each.u !== null) this.diamond(pen, each, 4 * pixel, line, true);
    this.drawBall(pen, pixel, line);
  }

  drawBall(pen, pixel, line) {
    const ball = this.hooks.ball(this.k);
    const ghost = this.hooks.ghost(this.k);
    const ring = (each, colour, dash) => {
      for (const [shade, width] of [[HALO, 3.6], [colour, 1.8]]) {
        line(shade, width, dash);
        pen.beginPath();
        pen.arc(each.u, each.v, Math.max(each.d / 2, 3 * pixel), 0, 7);
        pen.stroke();
      }
    };
    if (ghost) ring(ghost, UNUSED, [2, 4]);
    if (!ball) return;
    const colour = ball.by === "hand" ? HAND : ball.used ? FOUND : UNUSED;
    ring(ball, colour, ball.by === "hand" || ball.used ? [] : [3, 4]);
    line(colour, 1.3);
    pen.beginPath(); // a cross that leaves the ball's middle free
    const reach = Math.max(ball.d / 2, 3 * pixel);
    for (const [x, y] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      pen.moveTo(ball.u + x * (reach + 3 * pixel), ball.v + y * (reach + 3 * pixel));
      pen.lineTo(ball.u + x * (reach + 11 * pixel), ball.v + y * (reach + 11 * pixel));
    }
    pen.stroke();
    if (ball.by === "hand") this.diamond(pen, ball, 2.5 * pixel, line, false);
  }

  diamond(pen, at, reach, line, open) {
    pen.beginPath();
    for (const [x, y] of [[1, 0], [0, 1], [-1, 0], [0, -1]]) pen.lineTo(at.u + x * reach, at.v + y * reach);
    pen.closePath();
    line(HAND, 1.8);
    pen.fillStyle = HAND;
    if (open) pen.stroke(); else pen.fill();
  }

  // One pointer drags the ball or the picture; two zoom.
  down(event) {
    this.canvas.focus({ preventScroll: true });
    this.canvas.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, event);
    const place = this.place(event);
    this.held = null;
    if (this.pointers.size > 1) {
      this.tapping = false;
      return;
    }
    this.tapping = true;
    this.start = [event.clientX, event.clientY];
    const ball = this.hooks.ball(this.k);
    if (this.hooks.placing() || !ball) return;
    const near = Math.hypot(place[0] - ball.u, place[1] - ball.v);
    if (near < Math.max(ball.d / 2, TOUCH / this.scale)) {
      this.held = { off: [ball.u - place[0], ball.v - place[1]], moved: false };
      this.canvas.classList.add("holding");
    }
  }

  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    if (this.pointers.size === 2) this.pinch(event);
    else if (this.held) {
      if (!this.held.moved && Math.hypot(event.clientX - this.start[0], event.clientY - this.start[1]) < 2) return;
      this.held.moved = true;
      const place = this.place(event);
      this.hooks.moved(this.k, ...this.within([place[0] + this.held.off[0], place[1] + this.held.off[1]]));
      this.draw();
    } else {
      if (Math.hypot(event.clientX - this.start[0], event.clientY - this.start[1]) > 4) this.tapping = false;
      if (!this.tapping) {
        this.following = this.following && this.zoom === 1;
        this.hooks.panned();
        this.centre = this.centre.map((c, i) =>
          c - [event.clientX - before.clientX, event.clientY - before.clientY][i] / this.scale);
        this.hold();
        this.draw();
      }
    }
    this.pointers.set(event.pointerId, event);
  }

  within(place) { return place.map((each, i) => Math.min(Math.max(each, 0), this.size[i] - 1)); }

  pinch(event) {
    const [other] = [...this.pointers.values()].filter((each) => each.pointerId !== event.pointerId);
    const before = this.pointers.get(event.pointerId);
    const apart = (a, b) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
    const middle = { clientX: (event.clientX + other.clientX) / 2, clientY: (event.clientY + other.clientY) / 2 };
    this.zoomBy(apart(event, other) / Math.max(apart(before, other), 1), this.place(middle));
    this.centre = this.centre.map((c, i) =>
      c - [event.clientX - before.clientX, event.clientY - before.clientY][i] / 2 / this.scale);
    this.hold();
    this.draw();
  }

  up(event) {
    if (!this.pointers.delete(event.pointerId)) return;
    this.canvas.classList.remove("holding");
    const held = this.held;
    this.held = null;
    if (held && held.moved) this.hooks.dropped(this.k);
    else if (this.tapping && event.type === "pointerup" && this.hooks.placing()) {
      this.hooks.placed(...this.within(this.place(event)));
    }
    this.tapping = false;
  }
}
