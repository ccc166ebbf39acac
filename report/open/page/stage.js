// The photo of scraps with what was found drawn over it, and the tools to put it
// right.

import { h, s, fill, say, path, middle, choice, button, count, capital, arrows, layered } from "./dom.js";
import { photoURL } from "./pictures.js";
import { cardTools, cardPanel, aboutCards } from "./card.js";
import * as draw from "./editors.js";

// picture is a photo with a layer that counts in its own pixels.
export const picture = (photo, view, alt) => layered(photoURL(photo, view), alt, photo, photo);

export function makeStage(app) {
  let tool = "touch", chosen = new Set(), editor = null, view = "colour", drawn = [];

  const reset = (t = "touch") => { tool = t; editor = null; drawn = []; };

  function act(kind, more = {}) {
    const step = { kind, photo: app.photo().id, pieces: [...chosen], ...more };
    chosen = new Set();
    reset();
    return app.step(step);
  }

  const pieces = () => app.state.pieces.filter((p) => p.photo === app.photo().id);

  function toggle(p) {
    if (chosen.has(p.id)) chosen.delete(p.id); else chosen.add(p.id);
    say((chosen.has(p.id) ? "Chosen: " : "No longer chosen: ") + p.says);
    render();
  }

  // The nearest piece in a direction: the arrow keys walk over the photo.
  function beside(p, d) {
    const from = middle(p.outline);
    let best = null, least = Infinity;
    for (const q of pieces()) {
      if (q === p) continue;
      const to = middle(q.outline), along = (to[0] - from[0]) * d[0] + (to[1] - from[1]) * d[1];
      const across = Math.abs((to[0] - from[0]) * d[1]) + Math.abs((to[1] - from[1]) * d[0]);
      if (along > 0 && along + 2 * across < least) { least = along + 2 * across; best = q; }
    }
    return best;
  }

  function pieceKeys(e, p) {
    const d = arrows[e.key];
    if (d) {
      e.preventDefault();
      const q = beside(p, d);
      if (q) document.querySelector('[data-key="piece' + CSS.escape(q.id) + '"]').focus();
    } else if (e.key === "Enter" || e.key === " ") { e.preventDefault(); toggle(p); }
  }

  function drawPieces(place, photo) {
    const svg = place.querySelector("svg"), list = pieces();
    const outlines = s("g", {});
    for (const [i, p] of list.entries()) {
      const d = path(p.outline), kind = [p.doubtful && "doubtful", p.given && "given", chosen.has(p.id) && "chosen"].filter(Boolean).join(" ");
      outlines.append(s("g", { class: kind },
        s("path", { class: "edge", d }), s("path", { class: "mark", d }),
        s("path", { class: "hit", d, role: "button", tabindex: i ? -1 : 0, "aria-pressed": String(chosen.has(p.id)), "aria-label": p.says, "data-key": "piece" + p.id,
          onclick: () => tool === "touch" && toggle(p), onkeydown: (e) => pieceKeys(e, p) }), s("path", { class: "ring", d })));
      const m = middle(p.outline);
      place.append(h("span", { class: "disc" + (chosen.has(p.id) ? " chosen" : ""), "aria-hidden": "true", style: { left: m[0] / photo.width * 100 + "%", top: m[1] / photo.height * 100 + "%" } }, p.id + (p.doubtful ? " ?" : "")));
    }
    for (const r of photo.removed || []) {
      const d = path(r.outline);
      outlines.append(s("g", { class: "gone" }, s("path", { class: "edge", d }), s("path", { class: "mark", d }),
        s("path", { class: "hit", d, role: "button", tabindex: 0, "aria-label": "Put down as no cloth. Press to say that it is cloth after all.", "data-key": "gone" + r.at,
          onclick: () => tool === "touch" && act("back", { removed: r.at, pieces: [] }),
          onkeydown: (e) => { if (e.key === "Enter" || e.key === " ") { e.preventDefault(); act("back", { removed: r.at, pieces: [] }); } } }), s("path", { class: "ring", d })));
    }
    svg.append(outlines);
  }

  // What can be done with what is chosen.
  function actions() {
    const list = pieces().filter((p) => chosen.has(p.id)), n = list.length;
    const which = n === 0 ? "Touch a piece to put it right." : n === 1 ? list[0].says : "Numbers " + list.map((p) => p.id).join(", ") + ".";
    return h("div", { class: "panel" }, h("h2", {}, n > 1 ? capital(count(n, "piece", "pieces")) + " chosen" : n ? "Number " + list[0].id : "What was found"), h("p", {}, which),
      h("div", { class: "tools" },
        n > 0 && list.some((p) => p.doubtful) && button("It is cloth", () => act("cloth"), { key: "cloth", "aria-keyshortcuts": "c" }),
        button("It is no cloth", () => act("not-cloth"), { key: "not", disabled: n < 1, "aria-keyshortcuts": "n" }),
        button("It is two", () => { reset("split"); render(); }, { key: "two", disabled: n !== 1, "aria-keyshortcuts": "t" }),
        button("They are one", () => act("join"), { key: "one", disabled: n < 2, "aria-keyshortcuts": "o" }),
        n > 0 && button("Choose none", () => { chosen = new Set(); render(); }, { key: "none" })));
  }

  function missing(photo) {
    const many = photo.scraps;
    return h("div", { class: "panel" }, h("h2", {}, "Something missed?"), h("div", { class: "tools" },
      button("Draw a box round it", () => { reset("box"); render(); }, { key: "box" }),
      button("Draw its outline", () => { reset("outline"); render(); }, { key: "outline" }),
      cardTools(app, photo, () => { reset("card"); render(); })),
      choice("scraps", "What this photo shows", [["", "Found by itself"], ["many", "Several cloths"], ["one", "One cloth"]], many || "", (v) => app.step({ kind: "scraps", photo: photo.id, scraps: v }), true),
      aboutCards());
  }

  // The panel of what is being drawn, with what to do when it is.
  function drawing(photo, place) {
    const size = { w: photo.width, h: photo.height };
    const leave = button("Leave it", () => { reset(); render(); }, { key: "leave" });
    const keys = (words) => h("p", { class: "keys" }, words);
    if (tool === "split") {
      const p = pieces().find((q) => chosen.has(q.id));
      if (!p) { reset(); return null; }
      const panel = h("div", { class: "panel" }, h("h2", {}, "Where is number " + p.id + " two?"), h("div", { class: "tools" },
        button("Cut here", () => act("split", { line: editor.value() }), { key: "take", class: "main" }), leave),
        keys("Drag the ends of the line, or reach them with Tab and move them with the arrow keys; with Shift in small steps."));
      queueMicrotask(() => { editor = draw.line(place, size, p.outline, middle(p.outline)); });
      return panel;
    }
    if (tool === "box") {
      queueMicrotask(() => { editor = draw.box(place, size, null, () => { }); });
      return h("div", { class: "panel" }, h("h2", {}, "Draw a box round the piece"), h("div", { class: "tools" },
        button("Take it", () => { const v = editor.value(); act("draw", { pieces: [], outline: corners(v) }); }, { key: "take", class: "main" }),
        button("Fit it to the edges", async () => { await snapTo(photo, corners(editor.value())); }, { key: "snap" }), leave),
        keys("Drag over the photo, or move the box and its corners with the arrow keys."));
    }
    if (tool === "outline") {
      queueMicrotask(() => { editor = draw.outline(place, size, (ps) => { drawn = ps; take.disabled = asDrawn.disabled = ps.length < 3; }, (ps) => snapTo(photo, ps)); });
      const take = button("Fit it to the edges", () => snapTo(photo, drawn), { key: "snap", class: "main", disabled: true });
      const asDrawn = button("Take it as drawn", () => act("draw", { pieces: [], outline: drawn }), { key: "asdrawn", disabled: true });
      return h("div", { class: "panel" }, h("h2", {}, "Put points round the piece"), h("div", { class: "tools" }, take, asDrawn, leave),
        keys("Touch the edge at a few places, one after the other. By keyboard: the arrow keys move the cross, Space puts a point down, Backspace takes the last away, Enter ends."));
    }
    if (tool === "snapped") {
      return h("div", { class: "panel" }, h("h2", {}, "Is this its edge?"), h("div", { class: "tools" },
        button("Take it", () => act("draw", { pieces: [], outline: drawn }), { key: "take", class: "main" }), leave));
    }
    return cardPanel(app, photo, place, () => { reset(); render(); });
  }

  const corners = ([x, y, w, hh]) => [[x, y], [x + w, y], [x + w, y + hh], [x, y + hh]];

  async function snapTo(photo, outline) {
    if (outline.length < 3) return;
    try {
      const r = await app.ask("snap", { kind: "draw", photo: photo.id, outline });
      tool = "snapped"; drawn = r.outline;
      say("The outline is fitted to the edges.");
    } catch (e) { app.complain(e); }
    render();
  }

  function render() {
    const photo = app.photo(), stage = document.getElementById("stage"), tools = document.getElementById("tools");
    if (!photo || !photo.width) { fill(stage, photo ? h("p", { class: "panel" }, photo.reason ? photo.name + ": " + photo.reason + "." : "Looking at " + photo.name + ".") : app.dropZone()); return; }
    for (const id of chosen) if (!pieces().some((p) => p.id === id)) chosen.delete(id);
    const n = pieces().length;
    const place = picture(photo, view, photo.name + ": " + count(n, "piece was found.", "pieces were found."));
    drawPieces(place, photo);
    if (tool === "snapped") place.querySelector("svg").append(s("path", { class: "edge", d: path(drawn) }), s("path", { class: "mark", d: path(drawn) }));
    const panel = tool === "touch" ? [actions(), missing(photo)] : drawing(photo, place);
    fill(stage, h("div", { class: "tools" }, choice("view", "What is shown", [["colour", "Colour"], ["grey", "Grey"]], view, (v) => { view = v; render(); }),
      h("h2", {}, photo.name)), place);
    fill(tools, panel);
  }

  return {
    render,
    reset() { reset(); chosen = new Set(); },
    choose(id) { chosen = new Set([id]); reset(); render(); const e = document.querySelector('[data-key="piece' + CSS.escape(id) + '"]'); if (e) { e.scrollIntoView({ block: "center" }); e.focus({ preventScroll: true }); } },
    key(e) {
      const k = e.key.toLowerCase(), n = chosen.size;
      if (k === "escape" && (tool !== "touch" || n)) { if (tool === "touch") chosen = new Set(); reset(); render(); return true; }
      if (tool !== "touch" || !n) return false;
      if (k === "c") { act("cloth"); return true; }
      if (k === "n") { act("not-cloth"); return true; }
      if (k === "t" && n === 1) { reset("split"); render(); return true; }
      if (k === "o" && n > 1) { act("join"); return true; }
      return false;
    },
    busy: () => tool !== "touch",
  };
}
