// A border print: the part that is the print, its colours, and the cloths for
// the middle.

import { h, s, fill, choice, button } from "./dom.js";
import { picture } from "./stage.js";
import { cardTools, cardPanel, aboutCards } from "./card.js";
import * as draw from "./editors.js";

export function makePrint(app) {
  let mode = "answer", view = "colour", editor = null;
  const reset = () => { mode = "answer"; editor = null; };

  function colours(p) {
    const named = Object.fromEntries((app.state.cloths || []).map((c) => [c.id, c]));
    return h("div", { class: "panel" }, h("h2", {}, "The print's colours"),
      h("div", { class: "palette", "aria-hidden": "true" }, p.colours.map((c) => h("span", { style: { background: c.hex, flex: String(Math.max(c.share, .01)) } }))),
      h("ul", { class: "colours" }, p.colours.map((c, i) => h("li", {},
        h("span", { class: "dye" + (c.out ? " off" : ""), style: { background: c.hex } }),
        h("span", {}, c.name + ", " + Math.max(1, Math.round(c.share * 100)) + " %" + (c.out ? ", does not count" : "") + (c.near.length ? ". Nearest: " + c.near.filter((n) => named[n]).map((n) => "number " + n).join(", ") + "." : ".")),
        button(c.out ? "Keep" : "Drop", () => app.step({ kind: "colour", colour: i }), { key: "colour" + i, "aria-label": (c.out ? "Keep " : "Drop ") + c.name })))));
  }

  function middles(p) {
    const cloths = app.state.cloths || [], on = p.chosen.map((c) => c.id);
    if (!cloths.length) return h("div", { class: "panel" }, h("h2", {}, "Cloths for the middle"), h("p", {}, "Let the other photos be your cloths: tick it below the photos."));
    const toggle = (id) => app.step({ kind: "choose", chosen: on.includes(id) ? on.filter((c) => c !== id) : [...on, id] });
    return h("div", { class: "panel" }, h("h2", {}, p.own ? "The cloths that you chose" : "Cloths for the middle"),
      h("p", {}, "They cover " + Math.round(p.covers * 100) + " % of the print's colours."),
      h("ul", { class: "cutouts" }, cloths.map((c) => h("li", {}, h("button", { type: "button", class: "cut", "aria-pressed": String(on.includes(c.id)), "data-key": "cloth" + c.id, "aria-label": "Number " + c.id + ", " + c.name + ", lightness " + Math.round(c.lightness) + (on.includes(c.id) ? ", in the middle" : ""), onclick: () => toggle(c.id) },
        h("img", { class: "swatch", src: "cloth/" + c.id + "/" + (view === "grey" ? "grey" : "colour") + "?" + app.state.answer, alt: "" }), h("span", { class: "disc" + (on.includes(c.id) ? " chosen" : ""), "aria-hidden": "true" }, c.id))))),
      h("ul", {}, p.chosen.map((c) => h("li", {}, "Number " + c.id + ": " + c.why))),
      p.missing.length > 0 && h("p", {}, p.missing.join(" ")),
      p.own && button("The program's own choice", () => app.step({ kind: "choose" }), { key: "own" }));
  }

  function render() {
    const stage = document.getElementById("stage"), tools = document.getElementById("tools"), photo = app.photo(), p = app.state.print;
    if (!photo || !photo.width) { fill(stage, photo ? h("p", { class: "panel" }, "Looking at " + photo.name + ".") : app.dropZone()); fill(tools); return; }
    const place = picture(photo, view, photo.name);
    let panel;
    if (mode === "at") {
      queueMicrotask(() => { editor = draw.box(place, { w: photo.width, h: photo.height }, photo.at || [photo.width * .1, photo.height * .1, photo.width * .8, photo.height * .8], () => { }); });
      panel = h("div", { class: "panel" }, h("h2", {}, "Which part is the print?"), h("div", { class: "tools" },
        button("Take it", () => { const b = editor.value(); reset(); app.step({ kind: "at", photo: photo.id, box: b }); }, { key: "take", class: "main" }),
        button("All of it", () => { reset(); app.step({ kind: "at", photo: photo.id }); }, { key: "all" }),
        button("Leave it", () => { reset(); render(); }, { key: "leave" })),
        h("p", { class: "keys" }, "Drag over the photo, or move the box and its corners with the arrow keys."));
    } else if (mode === "card") {
      panel = cardPanel(app, photo, place, () => { reset(); render(); });
    } else {
      if (photo.at) {
        const [x, y, w, hh] = photo.at, d = "M" + x + " " + y + "h" + w + "v" + hh + "h" + -w + "z";
        place.querySelector("svg").append(s("path", { class: "edge", d }), s("path", { class: "mark", d }));
      }
      panel = [h("div", { class: "panel" }, h("h2", {}, "Put it right"), h("div", { class: "tools" }, button("Which part is the print", () => { mode = "at"; render(); }, { key: "at" }), cardTools(app, photo, () => { mode = "card"; render(); })), aboutCards()), p && middles(p), p && colours(p)];
    }
    fill(stage, h("div", { class: "tools" }, choice("view", "What is shown", [["colour", "Colour"], ["grey", "Grey"]], view, (v) => { view = v; render(); }), h("h2", {}, photo.name)), place);
    fill(tools, panel);
  }

  return { render, reset, busy: () => mode !== "answer", key(e) { if (e.key === "Escape" && mode !== "answer") { reset(); render(); return true; } return false; } };
}
