// What can be drawn over a photo, by mouse, by finger and by keyboard alike: a
// box, four corners, a line and an outline. Each is given the picture's place
// (a .picture whose SVG counts in pixels of the photo) and calls change as it is
// drawn. Handles are buttons: Tab reaches them and the arrow keys move them.

import { h, s, path, clamp, say, bounds, round, arrows } from "./dom.js";

// at is where an event lies, in pixels of the photo.
function at(picture, size, event) {
  const r = picture.getBoundingClientRect();
  return [clamp((event.clientX - r.left) / r.width * size.w, 0, size.w), clamp((event.clientY - r.top) / r.height * size.h, 0, size.h)];
}

// glass is a magnifier that follows a handle, so that a finger hides nothing.
function glass(picture, size) {
  const canvas = h("canvas", { width: 176, height: 176 });
  const place = h("div", { class: "glass", hidden: true, "aria-hidden": "true" }, canvas);
  picture.append(place);
  return {
    show(point) {
      const image = picture.querySelector("img");
      if (!image || !image.complete || !image.naturalWidth) return;
      place.hidden = false;
      const k = image.naturalWidth / size.w, across = 44;
      const c = canvas.getContext("2d");
      c.imageSmoothingEnabled = false;
      c.fillStyle = "#8b8b8b";
      c.fillRect(0, 0, 176, 176);
      c.drawImage(image, point[0] * k - across / 2, point[1] * k - across / 2, across, across, 0, 0, 176, 176);
      for (const [colour, width] of [["#fff", 5], ["#0f0f0f", 2]]) {
        c.strokeStyle = colour; c.lineWidth = width;
        c.beginPath(); c.moveTo(88, 60); c.lineTo(88, 116); c.moveTo(60, 88); c.lineTo(116, 88); c.stroke();
      }
      const x = point[0] / size.w, y = point[1] / size.h;
      place.style.left = x < .5 ? "calc(100% - 188px)" : "4px";
      place.style.top = y < .5 ? "calc(100% - 188px)" : "4px";
    },
    hide() { place.hidden = true; },
  };
}

// handle is a point that can be moved. A key moves it by a two-hundredth of the
// photo, with Shift by a pixel.
function handle(picture, size, name, get, set, done, look = {}) {
  const b = h("button", { type: "button", class: "handle " + (look.class || ""), "aria-label": name, "data-key": "h-" + name });
  const lens = look.lens;
  b.addEventListener("pointerdown", (e) => {
    e.preventDefault(); e.stopPropagation(); b.focus(); b.setPointerCapture(e.pointerId);
    const start = at(picture, size, e), from = get();
    const move = (e) => { const p = at(picture, size, e); set([from[0] + p[0] - start[0], from[1] + p[1] - start[1]]); if (lens) lens.show(get()); };
    const up = () => { b.removeEventListener("pointermove", move); if (lens) lens.hide(); done(); };
    b.addEventListener("pointermove", move);
    b.addEventListener("pointerup", up, { once: true });
    b.addEventListener("pointercancel", up, { once: true });
  });
  b.addEventListener("keydown", (e) => {
    const d = arrows[e.key];
    if (!d) return;
    e.preventDefault(); e.stopPropagation();
    const step = e.shiftKey ? 1 : Math.max(1, Math.round(Math.max(size.w, size.h) / 200)), p = get();
    set([p[0] + d[0] * step, p[1] + d[1] * step]);
    if (lens) lens.show(get());
    say(name + " at " + Math.round(get()[0]) + ", " + Math.round(get()[1]));
    done();
  });
  b.addEventListener("blur", () => lens && lens.hide());
  picture.append(b);
  return { place() { const p = get(); b.style.left = p[0] / size.w * 100 + "%"; b.style.top = p[1] / size.h * 100 + "%"; }, b };
}

function layer(picture, ...nodes) {
  const g = s("g", {}, nodes);
  picture.querySelector("svg").append(g);
  return g;
}

// box draws and moves a rectangle [x, y, w, h].
export function box(picture, size, start, change) {
  let v = start || [size.w * .4, size.h * .4, size.w * .2, size.h * .2];
  const edge = s("path", { class: "edge" }), mark = s("path", { class: "mark" });
  layer(picture, edge, mark);
  picture.classList.add("busy-drawing");
  const tidy = () => {
    v = [Math.min(v[0], v[0] + v[2]), Math.min(v[1], v[1] + v[3]), Math.abs(v[2]), Math.abs(v[3])];
    v = [clamp(v[0], 0, size.w - 1), clamp(v[1], 0, size.h - 1), v[2], v[3]];
    v = [v[0], v[1], clamp(v[2], 1, size.w - v[0]), clamp(v[3], 1, size.h - v[1])].map(Math.round);
  };
  const draw = () => {
    const d = path([[v[0], v[1]], [v[0] + v[2], v[1]], [v[0] + v[2], v[1] + v[3]], [v[0], v[1] + v[3]]]);
    edge.setAttribute("d", d); mark.setAttribute("d", d);
    handles.forEach((k) => k.place());
    change(v);
  };
  const done = () => { tidy(); draw(); };
  const lens = glass(picture, size);
  const handles = [
    handle(picture, size, "Middle of the box", () => [v[0] + v[2] / 2, v[1] + v[3] / 2], (p) => {
      v = [clamp(p[0] - v[2] / 2, 0, size.w - v[2]), clamp(p[1] - v[3] / 2, 0, size.h - v[3]), v[2], v[3]]; draw();
    }, done),
    handle(picture, size, "Upper left corner of the box", () => [v[0], v[1]], (p) => { v = [p[0], p[1], v[0] + v[2] - p[0], v[1] + v[3] - p[1]]; draw(); }, done, { class: "square upper", lens }),
    handle(picture, size, "Lower right corner of the box", () => [v[0] + v[2], v[1] + v[3]], (p) => { v = [v[0], v[1], p[0] - v[0], p[1] - v[1]]; draw(); }, done, { class: "square lower", lens }),
  ];
  picture.addEventListener("pointerdown", (e) => {
    if (e.target.closest(".handle")) return;
    e.preventDefault(); picture.setPointerCapture(e.pointerId);
    const a = at(picture, size, e);
    const move = (e) => { const b = at(picture, size, e); v = [a[0], a[1], b[0] - a[0], b[1] - a[1]]; draw(); };
    picture.addEventListener("pointermove", move);
    const up = () => { picture.removeEventListener("pointermove", move); done(); };
    picture.addEventListener("pointerup", up, { once: true });
    picture.addEventListener("pointercancel", up, { once: true });
  });
  tidy(); draw();
  handles[0].b.focus({ preventScroll: true });
  return { value: () => v };
}

// plane takes the unit square to four corners (the homography of a plane; Hartley
// and Zisserman 2004, section 2.3).
function plane(c) {
  const [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = c;
  const dx1 = x1 - x2, dx2 = x3 - x2, dx3 = x0 - x1 + x2 - x3, dy1 = y1 - y2, dy2 = y3 - y2, dy3 = y0 - y1 + y2 - y3;
  const d = dx1 * dy2 - dx2 * dy1 || 1e-9;
  const g = (dx3 * dy2 - dx2 * dy3) / d, k = (dx1 * dy3 - dx3 * dy1) / d;
  const m = [x1 - x0 + g * x1, x3 - x0 + k * x3, x0, y1 - y0 + g * y1, y3 - y0 + k * y3, y0, g, k];
  return (u, v) => { const w = m[6] * u + m[7] * v + 1; return [(m[0] * u + m[1] * v + m[2]) / w, (m[3] * u + m[4] * v + m[5]) / w]; };
}

// gridLines are the seams of a top between four corners, as lines of two points.
function gridLines(corners, rows, cols, setting) {
  const to = plane(corners), lines = [];
  const add = (a, b) => lines.push([to(...a), to(...b)]);
  if (setting !== "on-point") {
    for (let i = 0; i <= rows; i++) add([0, i / rows], [1, i / rows]);
    for (let i = 0; i <= cols; i++) add([i / cols, 0], [i / cols, 1]);
    return lines;
  }
  // On point so many squares lie along the top and down the side that their
  // diagonals number one more than both together.
  const side = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  const aspect = (side(corners[0], corners[1]) + side(corners[3], corners[2])) / (side(corners[0], corners[3]) + side(corners[1], corners[2]));
  const all = Math.max(rows - 1, 2), m = clamp(Math.round(all * aspect / (1 + aspect)), 1, all - 1), n = all - m;
  add([0, 0], [1, 0]); add([1, 0], [1, 1]); add([1, 1], [0, 1]); add([0, 1], [0, 0]);
  for (let i = -n - m; i <= n + m; i++) {
    for (const slope of [1, -1]) {
      // u*m = slope * v*n + i + .5, cut to the square
      const ends = [];
      for (const v of [0, 1]) { const u = (slope * v * n + i + .5) / m; if (u >= 0 && u <= 1) ends.push([u, v]); }
      for (const u of [0, 1]) { const v = (u * m - i - .5) / (slope * n); if (v > 0 && v < 1) ends.push([u, v]); }
      if (ends.length > 1) add(ends[0], ends[1]);
    }
  }
  return lines;
}

// corners moves the four corners of a top, with its grid drawn as they move.
export function corners(picture, size, start, grid, change) {
  const c = start.map((p) => [...p]);
  const edge = s("path", { class: "edge" }), mark = s("path", { class: "mark" });
  layer(picture, edge, mark);
  const lens = glass(picture, size);
  const draw = () => {
    const { rows, cols, setting } = grid();
    const d = gridLines(c, rows, cols, setting).map((l) => path(l, false)).join("");
    edge.setAttribute("d", d); mark.setAttribute("d", d);
    handles.forEach((k) => k.place());
  };
  const handles = ["Top left corner", "Top right corner", "Bottom right corner", "Bottom left corner"].map((name, i) =>
    handle(picture, size, name, () => c[i], (p) => { c[i] = [clamp(p[0], 0, size.w), clamp(p[1], 0, size.h)]; draw(); },
      () => change(c.map((p) => p.map(round))), { lens }));
  draw();
  return { value: () => c.map((p) => p.map(round)) };
}

// line lays a line across a piece, from one side to the other.
export function line(picture, size, outline, centre) {
  const b = bounds(outline), long = b.w > b.h;
  const ends = long ? [[centre[0], centre[1] - b.h * .6], [centre[0], centre[1] + b.h * .6]] : [[centre[0] - b.w * .6, centre[1]], [centre[0] + b.w * .6, centre[1]]];
  const edge = s("path", { class: "edge" }), mark = s("path", { class: "mark" });
  layer(picture, edge, mark);
  const draw = () => { edge.setAttribute("d", path(ends, false)); mark.setAttribute("d", path(ends, false)); handles.forEach((k) => k.place()); };
  const handles = ["One end of the line", "Other end of the line"].map((name, i) =>
    handle(picture, size, name, () => ends[i], (p) => { ends[i] = [clamp(p[0], 0, size.w), clamp(p[1], 0, size.h)]; draw(); }, () => { }));
  for (const p of ends) { p[0] = clamp(p[0], 0, size.w); p[1] = clamp(p[1], 0, size.h); }
  draw();
  handles[0].b.focus({ preventScroll: true });
  return { value: () => ends.map((p) => p.map(round)) };
}

// outline is drawn by points: by pointing, or with a cross that the arrow keys
// move, the space bar putting a point down and Backspace taking the last away.
export function outline(picture, size, change, finish) {
  let points = [], cross = [size.w / 2, size.h / 2];
  const edge = s("path", { class: "edge" }), mark = s("path", { class: "mark" });
  layer(picture, edge, mark);
  picture.classList.add("busy-drawing");
  const dots = h("div", { "aria-hidden": "true" });
  picture.append(dots);
  const lens = glass(picture, size);
  const draw = () => {
    edge.setAttribute("d", points.length ? path(points, points.length > 2) : "");
    mark.setAttribute("d", points.length ? path(points, points.length > 2) : "");
    dots.replaceChildren(...points.map((p) => h("span", { class: "disc", style: { left: p[0] / size.w * 100 + "%", top: p[1] / size.h * 100 + "%", "min-width": "14px", height: "14px", padding: "0" } })));
    target.place();
    change(points);
  };
  const add = (p) => { points = [...points, p.map(round)]; say("Point " + points.length); draw(); };
  const target = handle(picture, size, "Cross for the next point", () => cross, (p) => { cross = [clamp(p[0], 0, size.w), clamp(p[1], 0, size.h)]; target.place(); }, () => { }, { class: "square", lens });
  target.b.addEventListener("keydown", (e) => {
    if (e.key === " ") { e.preventDefault(); add(cross); }
    if (e.key === "Backspace") { e.preventDefault(); points = points.slice(0, -1); say("The last point is taken away"); draw(); }
    if (e.key === "Enter" && points.length > 2) { e.preventDefault(); finish(points); }
  });
  target.b.addEventListener("click", (e) => e.preventDefault());
  picture.addEventListener("pointerdown", (e) => {
    if (e.target.closest(".handle")) return;
    e.preventDefault();
    add(at(picture, size, e));
  });
  draw();
  target.b.focus({ preventScroll: true });
  return { value: () => points };
}

// colourUnder is the mean light of a box of the picture that is shown: as a
// colour for the screen, and its L* (CIE 15), or null where it cannot be read.
export function colourUnder(picture, size, v) {
  const image = picture.querySelector("img");
  if (!image || !image.complete || !image.naturalWidth) return null;
  const k = image.naturalWidth / size.w;
  const w = clamp(Math.round(v[2] * k), 1, 400), n = clamp(Math.round(v[3] * k), 1, 400);
  const canvas = h("canvas", { width: w, height: n }), c = canvas.getContext("2d");
  c.drawImage(image, v[0] * k, v[1] * k, v[2] * k, v[3] * k, 0, 0, w, n);
  const px = c.getImageData(0, 0, w, n).data, sum = [0, 0, 0];
  const light = (x) => x <= 10.31475 ? x / 255 / 12.92 : ((x / 255 + .055) / 1.055) ** 2.4;
  const code = (x) => Math.round(255 * (x <= .0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - .055));
  for (let i = 0; i < px.length; i += 4) for (let j = 0; j < 3; j++) sum[j] += light(px[i + j]);
  const mean = sum.map((x) => x / (px.length / 4));
  const y = .2126 * mean[0] + .7152 * mean[1] + .0722 * mean[2];
  return { css: "rgb(" + mean.map(code).join(",") + ")", lightness: y > .008856 ? 116 * Math.cbrt(y) - 16 : 903.3 * y };
}
