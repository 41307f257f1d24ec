"use strict";
// The picture: where it is on the canvas, and what is drawn over it. Pixel (0, 0) is the centre of the top left pixel.

class View {
  constructor(canvas, loupe) {
    this.canvas = canvas;
    this.loupe = loupe;
    this.image = null;
    this.scale = 1; // css pixels per picture pixel
    this.left = 0; // css pixels from the canvas' left edge to the picture's
    this.top = 0;
    this.lines = [];
    this.marks = []; // {name, pixel, kind: "mark" | "offer", selected, wrong}
    this.look = null; // where the loupe looks, in picture pixels
    this.waiting = false;
    new ResizeObserver(() => this.resize()).observe(canvas);
  }

  get size() { return [this.image.naturalWidth, this.image.naturalHeight]; }
  get room() { return [this.canvas.clientWidth, this.canvas.clientHeight]; }

  toCanvas([u, v]) { return [(u + 0.5) * this.scale + this.left, (v + 0.5) * this.scale + this.top]; }
  toPicture([x, y]) { return [(x - this.left) / this.scale - 0.5, (y - this.top) / this.scale - 0.5]; }

  resize() {
    const ratio = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(this.canvas.clientWidth * ratio);
    this.canvas.height = Math.round(this.canvas.clientHeight * ratio);
    if (this.image && !this.moved) this.fit(); else this.draw();
  }

  least() { const [w, h] = this.room; const [iw, ih] = this.size; return Math.min(w / iw, h / ih); }

  fit() {
    const [w, h] = this.room; const [iw, ih] = this.size;
    this.scale = this.least();
    this.left = (w - iw * this.scale) / 2;
    this.top = (h - ih * this.scale) / 2;
    this.moved = false;
    this.draw();
  }

  // Show a box of the picture, [[left, top], [right, bottom]], as large as it fits.
  show([low, high]) {
    const [w, h] = this.room;
    const wide = Math.max(high[0] - low[0], 40), tall = Math.max(high[1] - low[1], 40);
    this.scale = Math.min(w / wide, h / tall, 24);
    this.left = w / 2 - ((low[0] + high[0]) / 2 + 0.5) * this.scale;
    this.top = h / 2 - ((low[1] + high[1]) / 2 + 0.5) * this.scale;
    this.moved = true;
    this.keep();
  }

  zoom(factor, at = [this.room[0] / 2, this.room[1] / 2]) {
    const fixed = this.toPicture(at);
    this.scale = Math.min(Math.max(this.scale * factor, this.least()), 32);
    const [x, y] = this.toCanvas(fixed);
    this.left += at[0] - x;
    this.top += at[1] - y;
    this.moved = this.scale > this.least() * 1.001;
    this.keep();
  }

  pan(dx, dy) { this.left += dx; this.top += dy; this.moved = true; this.keep(); }

  // Keep the picture on the canvas.
  keep() {
    const [w, h] = this.room; const [iw, ih] = this.size;
    const wide = iw * this.scale, tall = ih * this.scale;
    this.left = wide <= w ? (w - wide) / 2 : Math.min(0, Math.max(w - wide, this.left));
    this.top = tall <= h ? (h - tall) / 2 : Math.min(0, Math.max(h - tall, this.top));
    this.draw();
  }

  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.paint(); });
  }

  paint() {
    if (!this.image) return;
    const ratio = window.devicePixelRatio || 1;
    const pen = this.canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, ...this.room);
    pen.imageSmoothingEnabled = this.scale < 3;
    pen.imageSmoothingQuality = "high";
    pen.drawImage(this.image, this.left, this.top, this.size[0] * this.scale, this.size[1] * this.scale);
    for (const line of this.lines) this.paintLine(pen, line);
    for (const mark of this.marks) this.paintMark(pen, mark, this.toCanvas(mark.pixel));
    this.paintLoupe();
  }

  paintLine(pen, line) {
    const colour = { plate: "#ffe169", box: "#ffe169", foul: "#7fe3f0", base: "#ffe169", fence: "#7fe3f0", horizon: "#ffffff" }[line.kind];
    pen.beginPath();
    line.points_px.forEach((point, index) => { const [x, y] = this.toCanvas(point); if (index) pen.lineTo(x, y); else pen.moveTo(x, y); });
    pen.setLineDash(line.kind === "horizon" ? [9, 7] : []);
    pen.lineJoin = "round";
    pen.lineWidth = 3.4; pen.strokeStyle = "rgba(10, 25, 24, .5)"; pen.stroke();
    pen.lineWidth = 1.5; pen.strokeStyle = colour; pen.stroke();
    pen.setLineDash([]);
  }

  paintMark(pen, mark, [x, y]) {
    const colour = mark.wrong ? "#ff6b5e" : mark.kind === "offer" ? "#ffffff" : mark.selected ? "#ff9d2e" : "#4ff0a8";
    const far = mark.selected ? 13 : 9;
    pen.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { pen.moveTo(x + 3 * dx, y + 3 * dy); pen.lineTo(x + far * dx, y + far * dy); }
    if (mark.kind === "offer") pen.setLineDash([3, 2]);
    pen.moveTo(x + far * 0.72, y); pen.arc(x, y, far * 0.72, 0, 2 * Math.PI);
    pen.lineWidth = 3.6; pen.strokeStyle = "rgba(10, 25, 24, .65)"; pen.stroke();
    pen.lineWidth = 1.7; pen.strokeStyle = colour; pen.stroke();
    pen.setLineDash([]);
  }

  // The loupe shows the surroundings of a place eight times enlarged, in the corner away from it.
  paintLoupe() {
    const pen = this.loupe.getContext("2d"), side = this.loupe.width, times = 8;
    this.loupe.hidden = !this.look;
    if (!this.look) return;
    const [u, v] = this.look;
    const [x, y] = this.toCanvas(this.look);
    this.loupe.classList.toggle("other", x > this.room[0] / 2 && y < this.room[1] / 2);
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = "#1c2b2a"; pen.fillRect(0, 0, side, side);
    pen.imageSmoothingEnabled = false;
    const seen = side / times;
    pen.drawImage(this.image, u + 0.5 - seen / 2, v + 0.5 - seen / 2, seen, seen, 0, 0, side, side);
    pen.strokeStyle = "rgba(255, 157, 46, .95)"; pen.lineWidth = 1.2;
    pen.beginPath();
    pen.moveTo(side / 2, 0); pen.lineTo(side / 2, side / 2 - 6); pen.moveTo(side / 2, side / 2 + 6); pen.lineTo(side / 2, side);
    pen.moveTo(0, side / 2); pen.lineTo(side / 2 - 6, side / 2); pen.moveTo(side / 2 + 6, side / 2); pen.lineTo(side, side / 2);
    pen.stroke();
  }

  // The mark that is nearest to a place on the canvas, within reach of a finger or a mouse.
  markAt([x, y], reach) {
    let best = null, nearest = reach;
    for (const mark of this.marks) {
      if (mark.kind !== "mark") continue;
      const [mx, my] = this.toCanvas(mark.pixel);
      const away = Math.hypot(mx - x, my - y);
      if (away < nearest) { nearest = away; best = mark; }
    }
    return best;
  }
}
