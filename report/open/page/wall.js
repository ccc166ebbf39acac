// The kept stash: a wall of cut-outs that sorts and filters as it is touched. The
// program finds what fits; how it hangs is told here.

import { h, s, fill, say, path, choice, button } from "./dom.js";

const none = () => ({ piles: [], from: 0, to: 100, name: "", character: "", at_least: 0, near: "" });
const characters = ["solid", "tone-on-tone", "print", "high-contrast print"];

export function makeWall(app) {
  let q = none(), found = null, chosen = "", order = "light", view = "colour", asked = 0;

  // look asks the program; what was asked before and comes late is not shown.
  async function look(more = {}) {
    q = { ...q, ...more };
    const turn = ++asked;
    try {
      const r = await app.ask("stash", q);
      if (turn !== asked || app.view !== "wall") return;
      found = r;
      app.trouble = null;
      say(r.headline);
    } catch (e) {
      if (turn !== asked) return;
      found = { headline: "", more: [], all: 0, cloths: [] };
      app.complain(e);
    }
    app.renderAnswer();
    render();
  }

  function hung() {
    const list = [...found.cloths];
    if (q.near) return list; // the nearest first, as the program has them
    const by = { light: (a, b) => b.lightness - a.lightness, left: (a, b) => (b.left || 0) - (a.left || 0), number: (a, b) => Number(b.id) - Number(a.id) }[order];
    return list.sort((a, b) => (a.untold ? 1 : 0) - (b.untold ? 1 : 0) || by(a, b));
  }

  function cut(c) {
    const on = c.id === chosen;
    return h("li", {}, h("button", { type: "button", class: "cut", "aria-pressed": String(on), "aria-label": c.says, "data-key": "kept" + c.id, onclick: () => { chosen = on ? "" : c.id; render(); } },
      c.width ? cutOut(c) : h("span", { class: "chip", style: { background: c.grey } }),
      h("span", { class: "twin", style: { background: c.grey } }),
      h("span", { class: "disc" + (on ? " chosen" : ""), "aria-hidden": "true" }, c.id + (c.swing || c.untold ? " ?" : ""))));
  }

  function cutOut(c) {
    const d = c.shape && c.shape.length > 2 ? path(c.shape.map((p) => [p[0] * c.width, p[1] * c.height])) : "M0 0H" + c.width + "V" + c.height + "H0Z";
    return s("svg", { class: "chip", viewBox: "0 0 " + c.width + " " + c.height, "aria-hidden": "true" }, s("clipPath", { id: "cut" + c.id }, s("path", { d })),
      s("image", { href: "stash/" + c.id + "/" + (view === "colour" ? "colour" : "grey"), width: c.width, height: c.height, preserveAspectRatio: "none", "clip-path": "url(#cut" + c.id + ")" }), s("path", { class: "rim", d }));
  }

  function rows() {
    const list = hung();
    if (!list.length) return h("p", { class: "panel" }, app.state.stash.kept ? "Nothing in your stash fits all of that." : "There is nothing in your stash yet. Sort a photo of your cloths, then keep them.");
    if (q.near || order !== "light") return h("ul", { class: "cutouts" }, list.map(cut));
    return [["light", "Lights"], ["medium", "Mediums"], ["dark", "Darks"], ["", "Cannot be told"]].map(([pile, words]) => {
      const of = list.filter((c) => (c.untold ? "" : c.pile || "") === pile);
      return of.length ? h("div", { class: "pile" }, h("h2", {}, words + " (" + of.length + ")"), h("ul", { class: "cutouts" }, of.map(cut))) : null;
    });
  }

  function number(words, key, value, more, set) {
    const input = h("input", { type: "number", value, "data-key": key, ...more, onchange: () => set(Math.min(more.max, Math.max(more.min, Number(input.value) || 0))) });
    return h("label", { class: "check" }, words, input);
  }

  function pick(words, key, value, options, set) {
    return h("label", { class: "check" }, words, h("select", { "data-key": key, onchange: (e) => set(e.target.value) },
      options.map(([v, w]) => h("option", { value: v, selected: v === value }, w))));
  }

  function filters() {
    const pile = (value, words) => h("label", { class: "check" }, h("input", { type: "checkbox", checked: q.piles.includes(value), "data-key": "pile" + value, onchange: (e) => look({ piles: e.target.checked ? [...q.piles, value] : q.piles.filter((p) => p !== value) }) }), words);
    return h("div", { class: "panel" }, h("h2", {}, "What are you looking for?"),
      h("fieldset", {}, h("legend", { class: "seen" }, "Piles"), h("div", { class: "tools" }, pile("light", "Lights"), pile("medium", "Mediums"), pile("dark", "Darks"))),
      h("fieldset", {}, h("legend", { class: "seen" }, "Lightness, 0 to 100"), h("div", { class: "tools" }, number("from", "from", q.from, { min: 0, max: 100 }, (v) => look({ from: v })), number("to", "to", q.to, { min: 0, max: 100 }, (v) => look({ to: v })))),
      h("div", { class: "tools" }, pick("Colour", "family", q.name, [["", "any"], ...app.state.stash.families.map(([word, title]) => [word, title])], (v) => look({ name: v })),
      pick("Kind", "character", q.character, [["", "any"], ...characters.map((c) => [c, c])], (v) => look({ character: v }))),
      number("Square centimetres left, at least", "left", q.at_least, { min: 0, max: 100000, step: 10 }, (v) => look({ at_least: v })),
      h("div", { class: "tools" }, h("label", { class: "check" }, "Nearest to a colour", h("input", { type: "color", "data-key": "colour", value: q.near.startsWith("#") ? q.near : "#808080", onchange: (e) => look({ near: e.target.value }) })),
        button("All of it", () => { q = none(); chosen = ""; look(); }, { key: "all" })));
  }

  function one() {
    const c = chosen && found.cloths.find((f) => f.id === chosen);
    if (!c) return null;
    return h("div", { class: "panel" }, h("h2", {}, "Number " + c.id), h("p", {}, c.says), h("p", {}, "From " + c.photo + "."),
      h("div", { class: "tools" }, button("Nearest to this one first", () => look({ near: c.id }), { key: "near", class: "main" }), q.near && button("By lightness again", () => look({ near: "" }), { key: "notnear" })));
  }

  function render() {
    const stage = document.getElementById("stage"), tools = document.getElementById("tools");
    if (!found) { fill(stage, h("p", { class: "panel" }, "Looking into your stash.")); fill(tools); return; }
    // On a narrow screen what is looked for stands above the wall, not far below it.
    const above = window.matchMedia("(max-width: 999px)").matches;
    fill(stage, above && filters(), h("div", { class: "tools" }, choice("view", "What is shown", [["colour", "Colour"], ["grey", "Grey"]], view, (v) => { view = v; render(); }),
      !q.near && choice("order", "In which order", [["light", "Light to dark"], ["left", "Most left"], ["number", "Newest"]], order, (v) => { order = v; render(); })), rows());
    fill(tools, one(), !above && filters());
  }

  return {
    look, render,
    reset() { chosen = ""; },
    busy: () => false,
    key(e) { if (e.key === "Escape" && chosen) { chosen = ""; render(); return true; } return false; },
    answer: () => ({ question: "What have I got?", headline: found ? found.headline || "Your stash" : "Looking into your stash.", more: found ? found.more : [] }),
  };
}
