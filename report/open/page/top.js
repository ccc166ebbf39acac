// A top: its corners and rows, what each patch is meant to be, and what would
// become of it if other cloths hung there.

import { h, s, fill, say, path, middle, choice, button, bounds, capital, arrows, layered } from "./dom.js";
import { picture } from "./stage.js";
import { cardTools, cardPanel, aboutCards } from "./card.js";
import * as draw from "./editors.js";

const letters = { light: "L", dark: "D", medium: "M", any: "." };
const words = { L: "light", D: "dark", M: "medium", ".": "anything" };

export function makeTop(app) {
  let mode = "answer", view = "colour", after = false, brush = "L", chosen = [], grid = null, editor = null;

  const top = () => app.state.top;
  const cell = (p) => p.row + "," + p.col;
  const reset = () => { mode = "answer"; chosen = []; editor = null; grid = null; after = false; };

  function sight(t) {
    const at = after && t.after ? 1 : 0;
    return layered("sight/" + at + "/" + view + "?" + app.state.answer, "The top, straightened" + (at ? ", after the changes." : ", as it hangs."), t, { width: 1000, height: 1000 }, { "data-flat": "1" });
  }

  const big = (points) => points.map((p) => [p[0] * 1000, p[1] * 1000]);

  // chart is what the patches are meant to be, with one of them changed.
  function chart(changed) {
    const t = top(), rows = Array.from({ length: t.rows }, () => Array(t.cols).fill("."));
    for (const p of t.patches) rows[p.row - 1][p.col - 1] = letters[p.meant] || ".";
    for (const [p, letter] of changed) rows[p.row - 1][p.col - 1] = letter;
    return rows.map((r) => r.join(""));
  }

  function touch(p) {
    if (mode === "paint") return app.step({ kind: "chart", photo: app.photo().id, chart: chart([[p, brush]]) });
    if (mode !== "hang") { mode = "hang"; }
    const i = chosen.indexOf(cell(p));
    if (i >= 0) chosen.splice(i, 1); else chosen = [...chosen, cell(p)].slice(-2);
    say(chosen.length + (chosen.length === 1 ? " patch chosen" : " patches chosen"));
    render();
  }

  function patchSays(p) {
    return "Row " + p.row + ", patch " + p.col + ": reads " + p.reads + ", meant " + (p.meant === "any" ? "as anything" : p.meant) + ", lightness " + Math.round(p.lightness) + (p.misplaced ? ", hangs against the pattern" : "") + ".";
  }

  function keys(e, p) {
    const d = arrows[e.key];
    if (d) {
      e.preventDefault();
      const q = document.querySelector('[data-key="patch' + (p.row + d[1]) + "," + (p.col + d[0]) + '"]');
      if (q) q.focus();
      return;
    }
    if (e.key === "Enter" || e.key === " ") { e.preventDefault(); touch(p); }
    const letter = e.key.toUpperCase();
    if (mode === "paint" && words[letter]) { e.preventDefault(); e.stopPropagation(); brush = letter; touch(p); }
  }

  function drawTop(place, t) {
    const svg = place.querySelector("svg"), of = {};
    for (const p of t.patches) of[cell(p)] = p;
    for (const p of t.patches) {
      if (!p.flat) continue;
      const d = path(big(p.flat)), on = chosen.includes(cell(p));
      const g = s("g", { class: on ? "chosen" : "" });
      if (on) g.append(s("path", { class: "edge", d }), s("path", { class: "mark", d }));
      if (p.misplaced && mode !== "paint") g.append(...ticks(big(p.flat)));
      g.append(s("path", { class: "hit", d, role: "button", tabindex: p === t.patches[0] ? 0 : -1, "aria-label": patchSays(p), "aria-pressed": String(on), "data-key": "patch" + cell(p), onclick: () => touch(p), onkeydown: (e) => keys(e, p) }), s("path", { class: "ring", d }));
      svg.append(g);
      if (mode === "paint") {
        const m = middle(p.flat);
        place.append(h("span", { class: "disc" + (p.meant === "dark" ? " chosen" : ""), "aria-hidden": "true", style: { left: m[0] * 100 + "%", top: m[1] * 100 + "%" } }, letters[p.meant] || "."));
      }
    }
    if (after || mode === "paint") return;
    const marks = s("g", {});
    for (const seam of t.seams) {
      const [a, b] = seam.between.map((c) => of[c.join(",")]);
      const shared = a && b && a.flat && b.flat && common(big(a.flat), big(b.flat));
      if (!shared) continue;
      const d = path(shared, false);
      marks.append(...(seam.verdict === "lost" ? [s("path", { class: "lost", d }), s("path", { class: "lost-in", d })] : [s("path", { class: "soft-edge", d }), s("path", { class: "soft", d })]));
    }
    svg.prepend(marks);
  }

  function common(a, b) {
    const both = a.filter((p) => b.some((q) => Math.hypot(p[0] - q[0], p[1] - q[1]) < 2));
    return both.length > 1 ? both.slice(0, 2) : null;
  }

  function ticks(points) {
    const b = bounds(points), t = Math.min(b.w, b.h) * .25, i = 6;
    const at = (x, y, dx, dy) => "M" + (x + dx * t) + " " + y + "H" + x + "V" + (y + dy * t);
    const d = at(b.x + i, b.y + i, 1, 1) + at(b.x + b.w - i, b.y + i, -1, 1) + at(b.x + i, b.y + b.h - i, 1, -1) + at(b.x + b.w - i, b.y + b.h - i, -1, -1);
    return [s("path", { class: "edge", d, "stroke-width": 8 }), s("path", { class: "mark", d })];
  }

  function stepper(name, value, low, set) {
    const input = h("input", { type: "number", min: low, max: 100, value, "data-key": "n-" + name, onchange: () => set(Math.max(low, Math.min(100, Math.round(Number(input.value)) || value))) });
    return h("div", { class: "tools" }, h("label", { class: "check" }, name, input),
      button("\u2212", () => set(Math.max(low, value - 1)), { key: "less" + name, "aria-label": "Fewer " + name.toLowerCase() }),
      button("+", () => set(Math.min(100, value + 1)), { key: "more" + name, "aria-label": "More " + name.toLowerCase() }));
  }

  function gridMode(t, photo, place) {
    const { width: w, height: hh } = photo;
    grid = grid || (t ? { corners: t.corners, rows: t.rows, cols: t.cols, setting: t.setting }
      : { corners: [[w * .15, hh * .15], [w * .85, hh * .15], [w * .85, hh * .85], [w * .15, hh * .85]], rows: 4, cols: 4, setting: "straight" });
    queueMicrotask(() => { editor = draw.corners(place, { w: photo.width, h: photo.height }, grid.corners, () => grid, (c) => { grid.corners = c; }); });
    const set = (name) => (v) => { grid = { ...grid, [name]: v }; if (grid.setting === "on-point") grid.cols = grid.rows = name === "cols" ? grid.cols : grid.rows; render(); };
    return h("div", { class: "panel" }, h("h2", {}, "Where are the patches?"), stepper("Rows", grid.rows, 1, set("rows")), stepper("Columns", grid.cols, 1, set("cols")),
      choice("setting", "How the patches lie", [["straight", "Straight"], ["on-point", "On point"]], grid.setting, set("setting")),
      h("div", { class: "tools" },
        button("Take it", () => { const g = { kind: "grid", photo: photo.id, corners: editor.value(), rows: grid.rows, cols: grid.cols, setting: grid.setting }; reset(); app.step(g); }, { key: "take", class: "main" }),
        button("Find it again", () => { reset(); app.step({ kind: "grid", photo: photo.id }); }, { key: "find" }),
        button("Leave it", () => { reset(); render(); }, { key: "leave" })),
      h("p", { class: "keys" }, "Drag the corners to the outer corners of the patches. By keyboard: Tab reaches a corner, the arrow keys move it, with Shift in small steps. On point, rows and columns are the diagonals."));
  }

  function hangMode(t) {
    const at = chosen.map((c) => c.split(",").map(Number));
    const name = (c) => "row " + c[0] + ", patch " + c[1];
    const cloths = app.state.cloths || [];
    return h("div", { class: "panel" }, h("h2", {}, chosen.length === 2 ? "Swap them?" : chosen.length ? "Hang another cloth?" : "Touch a patch"),
      h("p", {}, at.length ? "Chosen: " + at.map(name).join("; ") + "." : "Touch two patches to swap them, or one to hang another cloth there."),
      h("div", { class: "tools" },
        button("Swap the two", () => { const [a, b] = at; chosen = []; app.step({ kind: "hang", to: a, from: b }); }, { key: "swap", class: "main", disabled: at.length !== 2 }),
        button("Choose none", () => { chosen = []; mode = "answer"; render(); }, { key: "none" })),
      at.length === 1 && (cloths.length ? h("ul", { class: "cutouts" }, cloths.map((c) => h("li", {}, h("button", { type: "button", class: "cut", "data-key": "cloth" + c.id, "aria-label": "Hang number " + c.id + ", " + c.name + ", lightness " + Math.round(c.lightness), onclick: () => { const to = at[0]; chosen = []; app.step({ kind: "hang", to, cloth: c.id }); } },
        h("img", { class: "swatch", src: "cloth/" + c.id + "/" + (view === "colour" ? "colour" : "grey") + "?" + app.state.answer, alt: "" }), h("span", { class: "disc", "aria-hidden": "true" }, c.id)))))
        : h("p", {}, "To hang another cloth, let the other photos be your cloths: tick it below the photos.")));
  }

  function paintMode(t) {
    return h("div", { class: "panel" }, h("h2", {}, "What is each patch meant to be?"),
      choice("brush", "Paint with", [["L", "Light"], ["D", "Dark"], ["M", "Medium"], [".", "Anything"]], brush, (v) => { brush = v; render(); }),
      h("div", { class: "tools" }, button("Done", () => { reset(); render(); }, { key: "leave", class: "main" }),
        t.given && button("Find the pattern again", () => app.step({ kind: "chart", photo: app.photo().id }), { key: "nochart" })),
      h("p", { class: "keys" }, "Touch the patches. By keyboard: the arrow keys walk over the patches, L, D, M and the full stop paint."));
  }

  function answerMode(t, photo) {
    const cards = cardTools(app, photo, () => { reset(); mode = "card"; render(); });
    const where = button("Where the patches are", () => { reset(); mode = "grid"; render(); }, { key: "grid" });
    if (!t) return h("div", { class: "panel" }, h("h2", {}, "Put it right"), h("div", { class: "tools" }, where, cards), aboutCards());
    return h("div", { class: "panel" }, h("h2", {}, "Put it right, or try"), h("div", { class: "tools" },
      where,
      button("What they are meant to be", () => { reset(); mode = "paint"; render(); }, { key: "paint" }),
      button("Swap or hang another", () => { reset(); mode = "hang"; render(); }, { key: "hang" }),
      t.tried > 0 && button("As it hangs (" + t.tried + " tried)", () => app.step({ kind: "hang-back" }), { key: "back" }), cards),
      h("p", {}, "Pattern: " + t.pattern + (t.given ? ", as you said." : ", as found.")));
  }

  function changes(t) {
    if (!t.changes.length) return null;
    return h("div", { class: "panel" }, h("h2", {}, "What would help"), h("ol", { class: "changes" }, t.changes.map((c, i) => h("li", {}, h("span", {}, (i + 1) + ". " + c.says),
      i === 0 ? button("Try it", () => app.step({ kind: "change", change: i }), { key: "try" + i }) : null))));
  }

  function render() {
    const stage = document.getElementById("stage"), tools = document.getElementById("tools"), photo = app.photo(), t = top();
    if (!photo) { fill(stage, app.dropZone()); return; }
    if (!photo.width) { fill(stage, h("p", { class: "panel" }, photo.reason ? capital(photo.reason) + "." : "Looking at " + photo.name + ".")); fill(tools); return; }
    let place, panel;
    if (mode === "grid" || mode === "card" || !t) {
      place = picture(photo, view === "grey" ? "grey" : "colour", photo.name);
      panel = mode === "grid" ? gridMode(t, photo, place) : mode === "card" ? cardPanel(app, photo, place, () => { reset(); render(); })
        : [photo.reason && h("p", { class: "panel" }, capital(photo.reason) + "."), app.state.measured && answerMode(null, photo)];
    } else {
      place = sight(t);
      drawTop(place, t);
      panel = mode === "paint" ? paintMode(t) : mode === "hang" ? hangMode(t) : [answerMode(t, photo), changes(t)];
    }
    fill(stage, h("div", { class: "tools" }, choice("view", "What is shown", [["colour", "Colour"], ["grey", "Grey"], place.dataset.flat && ["squint", "Squint"]].filter(Boolean), view, (v) => { view = v; render(); }),
      t && t.after && mode === "answer" && choice("after", "When", [["", "As it hangs"], ["1", "After the changes"]], after ? "1" : "", (v) => { after = v === "1"; render(); }), h("h2", {}, photo.name)), place);
    fill(tools, panel);
  }

  return {
    render, reset, busy: () => mode === "grid" || mode === "card",
    fix() { reset(); mode = "grid"; render(); },
    key(e) { if (e.key === "Escape" && mode !== "answer") { reset(); render(); return true; } return false; },
  };
}
