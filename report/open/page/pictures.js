// Pictures of cloth for the page: cut-outs of the photos, and the value line.

import { h, s, path, bounds, count } from "./dom.js";

export const photoURL = (p, view = "colour") => "photo/" + p.id + "/" + view + "?" + (p.stamp || "");

let clips = 0;

// chip is a piece cut out of its photo.
export function chip(photo, piece, grey = false) {
  const b = bounds(piece.outline), id = "clip" + (clips = (clips + 1) % 100000);
  if (!photo || !photo.width) return s("svg", { class: "chip", "aria-hidden": "true" });
  return s("svg", { class: "chip", viewBox: [b.x, b.y, Math.max(b.w, 1), Math.max(b.h, 1)].join(" "), "aria-hidden": "true" },
    s("clipPath", { id }, s("path", { d: path(piece.outline) })),
    s("image", { href: photoURL(photo, grey ? "grey" : "colour"), width: photo.width, height: photo.height, preserveAspectRatio: "none", "clip-path": "url(#" + id + ")" }),
    s("path", { class: "rim", d: path(piece.outline) }));
}

const grey = (l) => {
  const y = l > 8 ? ((l + 16) / 116) ** 3 : l / 903.3;
  const v = Math.round(255 * (y <= .0031308 ? 12.92 * y : 1.055 * y ** (1 / 2.4) - .055));
  return "rgb(" + v + "," + v + "," + v + ")";
};

// valueLine is the scale of lightness from 100 to 0, with every cloth hung from
// it: its cut-out, its grey twin under it, its uncertainty as a thin bar.
export function valueLine(state, photoOf) {
  const cloths = state.pieces.filter((p) => !p.doubtful).sort((a, b) => b.lightness - a.lightness);
  if (!cloths.length) return null;
  const W = Math.min(Math.max(document.documentElement.clientWidth - 24, 320), 1200), size = W < 600 ? 34 : 46, x = (l) => (100 - l) / 100 * W;
  // Where they crowd they hang below each other.
  const rows = [];
  const hung = cloths.map((p) => {
    const at = Math.min(Math.max(x(p.lightness), size / 2), W - size / 2);
    let row = rows.findIndex((end) => end <= at - size / 2 - 2);
    if (row < 0) row = rows.push(0) - 1;
    rows[row] = at + size / 2;
    return { p, at, row };
  });
  const step = size + 58, top = 62, H = top + rows.length * step + 6;
  const svg = s("svg", { class: "line", viewBox: "0 0 " + W + " " + H, role: "img",
    "aria-label": "The value line: " + count(cloths.length, "cloth", "cloths") + " on a scale of lightness, from white on the left to black on the right." });
  for (let i = 0; i < 100; i += 2) svg.append(s("rect", { x: x(i + 2), y: 26, width: W / 50 + 1, height: 24, fill: grey(i + 1) }));
  for (let l = 0; l <= 100; l += 20) svg.append(s("text", { x: Math.min(Math.max(x(l), 16), W - 10), y: 18, "text-anchor": "middle" }, String(l)));
  for (const cut of state.cuts || []) svg.append(s("path", { d: "M" + x(cut) + " 22V" + H, stroke: "#fff", "stroke-width": 6 }), s("path", { d: "M" + x(cut) + " 22V" + H, stroke: "#0f0f0f", "stroke-width": 3 }));
  for (const { p, at, row } of hung) {
    const y = top + row * step, photo = photoOf(p.photo), b = bounds(p.outline), id = "clip" + (clips = (clips + 1) % 100000);
    svg.append(s("path", { d: "M" + x(Math.min(100, p.lightness + p.uncertainty)) + " " + (y - 4) + "H" + x(Math.max(0, p.lightness - p.uncertainty)), stroke: "#0f0f0f", "stroke-width": 2 }));
    if (photo && photo.width) {
      svg.append(s("svg", { x: at - size / 2, y, width: size, height: size, viewBox: [b.x, b.y, Math.max(b.w, 1), Math.max(b.h, 1)].join(" "), preserveAspectRatio: "xMidYMid slice" },
        s("clipPath", { id }, s("path", { d: path(p.outline) })),
        s("image", { href: photoURL(photo), width: photo.width, height: photo.height, preserveAspectRatio: "none", "clip-path": "url(#" + id + ")" }), s("path", { class: "rim", d: path(p.outline) })));
    }
    svg.append(s("rect", { x: at - size / 2, y: y + size + 1, width: size, height: 20, fill: p.grey }));
    svg.append(s("text", { x: at, y: y + size + 40, "text-anchor": "middle", "font-weight": 700 }, p.id));
  }
  return svg;
}

// piles are the rows of cut-outs, light to dark; where nothing can be compared, one row
// in the order of the numbers.
export function piles(state, photoOf, choose) {
  const compared = state.pieces.some((p) => p.pile);
  return (compared ? [["light", "Lights"], ["medium", "Mediums"], ["dark", "Darks"]] : [[undefined, "As measured"]]).map(([key, name]) => {
    const cloths = state.pieces.filter((p) => p.pile === key && !p.doubtful);
    if (compared) cloths.sort((a, b) => b.lightness - a.lightness);
    if (!cloths.length) return null;
    return h("div", { class: "pile" }, h("h3", {}, name + " (" + cloths.length + ")"),
      h("ul", { class: "cutouts" }, cloths.map((p) => h("li", {},
        h("button", { type: "button", class: "cut", "aria-label": p.says + " Show it in its photo.", "data-key": "cut" + p.id, onclick: () => choose(p) },
          chip(photoOf(p.photo), p), h("span", { class: "disc", "aria-hidden": "true" }, p.id + (p.swing ? " ?" : "")))))));
  });
}
