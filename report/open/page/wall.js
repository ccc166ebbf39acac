// The kept stash: a wall of cut-outs that sorts and filters as it is touched. The
// program finds what fits; how it hangs is told here.

import { h, s, fill, say, path, choice, button } from "./dom.js";

const none = () => ({ piles: [], from: 0, to: 100, name: "", character: "", at_least: 0, near: "" });
const characters = ["solid", "tone-on-tone", "print", "high-contrast print"];

export function makeWall(app) {
  let q = none(), found = null, chosen = "", order = "light", view = "colour", asked = 0, did = "", cutSide = "6.5", hung = "", drawn = null;

  // ask asks the program for what fits, from the one after those that hang already;
  // what was asked before and comes late is nothing.
  async function ask(skip) {
    const turn = ++asked;
    try {
      const r = await app.ask("stash", { ...q, order, skip });
      return turn === asked && app.view === "wall" ? r : null;
    } catch (e) {
      if (turn !== asked) return null;
      app.complain(e);
      return skip ? null : { headline: "", more: [], all: 0, piles: {}, cloths: [] };
    }
  }

  // look asks anew.
  async function look(more = {}) {
    q = { ...q, ...more };
    const r = await ask(0);
    if (!r) return;
    found = r;
    if (chosen && !found.cloths.some((c) => c.id === chosen)) chosen = "";
    if (found.headline) { app.trouble = null; say(found.headline); }
    app.renderAnswer();
    render();
  }

  // more hangs the next ones behind those that hang.
  let fetching = false;
  async function more() {
    if (fetching || !found || found.cloths.length >= found.all) return false;
    fetching = true;
    const r = await ask(found.cloths.length);
    fetching = false;
    if (!r || !r.cloths.length) return false;
    const had = found.cloths.length, focused = document.activeElement && document.activeElement.dataset.key === "b-more";
    found.cloths = [...found.cloths, ...r.cloths];
    hang(document.getElementById("wall"), had);
    ending();
    if (focused) walk(found.cloths[had]);
    return true;
  }

  const grouped = () => !q.near && order === "light";
  const titles = { light: "Lights", medium: "Mediums", dark: "Darks", "": "Cannot be told" };

  function cut(c) {
    const on = c.id === chosen;
    return h("li", {}, h("button", { type: "button", class: "cut", "aria-pressed": String(on), "aria-label": c.says, "data-key": "kept" + c.id, tabindex: c.id === (chosen || found.cloths[0].id) ? 0 : -1, onclick: () => choose(c), onkeydown: (e) => keys(e, c) },
      c.width ? cutOut(c) : h("span", { class: "chip", style: { background: c.grey } }),
      h("span", { class: "twin", style: { background: c.grey } }),
      h("span", { class: "disc" + (on ? " chosen" : ""), "aria-hidden": "true" }, c.id + (c.swing || c.untold ? " ?" : ""))));
  }

  function cutOut(c) {
    const d = c.shape && c.shape.length > 2 ? path(c.shape.map((p) => [p[0] * c.width, p[1] * c.height])) : "M0 0H" + c.width + "V" + c.height + "H0Z";
    return s("svg", { class: "chip", viewBox: "0 0 " + c.width + " " + c.height, "aria-hidden": "true" }, s("clipPath", { id: "cut" + c.id }, s("path", { d })),
      s("image", { href: "stash/" + c.id + "/" + (view === "colour" ? "colour" : "grey"), width: c.width, height: c.height, preserveAspectRatio: "none", "clip-path": "url(#cut" + c.id + ")" }), s("path", { class: "rim", d }));
  }

  // hang hangs the cloths from one on, by pile where they come by lightness.
  function hang(place, from) {
    let last = place.lastElementChild;
    for (const c of found.cloths.slice(from)) {
      const pile = grouped() ? c.pile || "" : "all";
      if (!last || last.dataset.pile !== pile) {
        last = grouped() ? h("div", { class: "pile", "data-pile": pile }, h("h2", {}, titles[pile] + " (" + found.piles[pile] + ")"), h("ul", { class: "cutouts" })) : h("ul", { class: "cutouts", "data-pile": pile });
        place.append(last);
      }
      (grouped() ? last.lastElementChild : last).append(cut(c));
    }
  }

  // ending says how many there are beyond those that hang. They come as she scrolls
  // there, or by the button.
  let near = null;
  function ending() {
    const place = document.getElementById("wallend"), left = found.all - found.cloths.length;
    if (near) near.disconnect();
    fill(place, left > 0 && button("Show more of the " + left + " others", more, { key: "more" }));
    if (left <= 0) return;
    near = new IntersectionObserver((seen) => { if (seen.some((e) => e.isIntersecting)) more(); }, { rootMargin: "1200px" });
    near.observe(place);
  }

  const on = (c) => c && document.querySelector('[data-key="kept' + CSS.escape(c.id) + '"]');

  // choose marks a cloth and shows what is known of it, and leaves the wall as it is.
  function choose(c) {
    const before = found.cloths.find((f) => f.id === chosen);
    chosen = c.id === chosen ? "" : c.id;
    did = "";
    for (const f of [before, c]) {
      const e = on(f);
      if (!e) continue;
      e.setAttribute("aria-pressed", String(f.id === chosen));
      e.querySelector(".disc").classList.toggle("chosen", f.id === chosen);
    }
    if (on(c)) reach(on(c));
    say(chosen ? "Chosen: " + c.says : "No longer chosen: " + c.says);
    renderTools();
  }

  // walk moves the focus over the wall.
  function walk(c) {
    const e = on(c);
    if (!e) return;
    reach(e);
    e.focus();
  }

  // reach makes one of the wall's cloths the one that Tab reaches.
  function reach(e) {
    for (const other of document.querySelectorAll('#wall [tabindex="0"]')) other.tabIndex = -1;
    e.tabIndex = 0;
  }

  function keys(e, c) {
    const all = found.cloths, i = all.indexOf(c), here = on(c).getBoundingClientRect();
    let to = { ArrowLeft: all[i - 1], ArrowRight: all[i + 1], Home: all[0], End: all[all.length - 1] }[e.key];
    if (e.key === "ArrowUp" || e.key === "ArrowDown") {
      // Of the next row, the one that lies straight below or above.
      const way = e.key === "ArrowDown" ? 1 : -1;
      let row = null, least = Infinity;
      for (let k = i + way; k >= 0 && k < all.length; k += way) {
        const r = on(all[k]).getBoundingClientRect();
        if (Math.abs(r.top - here.top) < 4) continue;
        if (row !== null && Math.abs(r.top - row) >= 4) break;
        row = r.top;
        if (Math.abs(r.left - here.left) < least) { least = Math.abs(r.left - here.left); to = all[k]; }
      }
    } else if (!["ArrowLeft", "ArrowRight", "Home", "End"].includes(e.key)) return;
    e.preventDefault();
    if (to) walk(to);
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

  // act does something to the stash; what hangs then is asked for anew.
  async function act(where, body) {
    const i = found.cloths.findIndex((c) => c.id === chosen);
    // Of a cloth that goes no picture is asked for any more.
    if (where === "drop" && i >= 0) for (const e of on(found.cloths[i]).querySelectorAll("image")) e.removeAttribute("href");
    try {
      const r = await app.ask("stash/" + where, body);
      app.trouble = null;
      await app.refresh();
      const deep = found.cloths.length;
      await look();
      while (found.cloths.length < Math.min(deep, found.all) && await more()) { /* as far as it hung before */ }
      if (i >= 0) walk(found.cloths[Math.min(i, found.cloths.length - 1)]);
      did = r.headline;
      renderTools();
      say(r.headline);
    } catch (e) { app.complain(e); }
  }

  function one() {
    const c = chosen && found.cloths.find((f) => f.id === chosen);
    if (!c) return did && h("div", { class: "panel" }, h("p", {}, did));
    const patches = h("input", { type: "number", min: 1, max: 10000, step: 1, "data-key": "patches" }), side = h("input", { type: "number", min: .5, max: 200, step: .1, value: cutSide, "data-key": "side" });
    const area = h("input", { type: "number", min: 1, max: 1000000, step: 1, "data-key": "area" });
    return h("div", { class: "panel" }, h("h2", {}, "Number " + c.id), h("p", {}, c.says), h("p", {}, "From " + c.photo + "."), did && h("p", {}, did),
      h("div", { class: "tools" }, button("Nearest to this one first", () => look({ near: c.id }), { key: "near", class: "main" }), q.near && button("By lightness again", () => look({ near: "" }), { key: "notnear" })),
      h("fieldset", {}, h("legend", { class: "seen" }, "Have you cut from it?"),
        h("div", { class: "tools" }, h("label", { class: "check" }, "So many patches", patches), h("label", { class: "check" }, "their side as cut, in cm", side), h("label", { class: "check" }, "or an area, in square cm", area)),
        h("div", { class: "tools" }, button("That was cut", () => { cutSide = side.value; act("use", { id: c.id, area: Number(area.value) || 0, patches: Number(patches.value) || 0, side: Number(patches.value) ? Number(side.value) || 0 : 0 }); }, { key: "use" }))),
      h("div", { class: "tools" }, button("Take it out of the stash", () => act("drop", { ids: [c.id] }), { key: "drop" })));
  }

  const narrow = () => window.matchMedia("(max-width: 999px)").matches;
  // What is known of the chosen cloth stands beside the wall, or, on a narrow screen,
  // where it stays in sight however long the wall is.
  function renderTools() {
    fill(document.getElementById("tools"), !narrow() && [one(), filters()]);
    const sheet = document.getElementById("sheet");
    if (sheet) fill(sheet, narrow() && one());
  }

  function render() {
    const stage = document.getElementById("stage");
    if (!found) { fill(stage, h("p", { class: "panel" }, "Looking into your stash.")); fill(document.getElementById("tools")); return; }
    // A long wall is not hung again for news that do not change it.
    if (hung === view + narrow() && drawn === found && document.getElementById("wall")) { renderTools(); return; }
    hung = view + narrow();
    drawn = found;
    // On a narrow screen what is looked for stands above the wall, not far below it.
    fill(stage, narrow() && filters(), h("div", { class: "tools" }, choice("view", "What is shown", [["colour", "Colour"], ["grey", "Grey"]], view, (v) => { view = v; render(); }),
      !q.near && choice("order", "In which order", [["light", "Light to dark"], ["left", "Most left"], ["number", "Newest"]], order, (v) => { order = v; look(); })),
    found.cloths.length ? h("div", { id: "wall" }) : h("p", { class: "panel" }, app.state.stash.kept ? "Nothing in your stash fits all of that." : "There is nothing in your stash yet. Sort a photo of your cloths, then keep them."),
    h("div", { id: "wallend" }), h("div", { id: "sheet" }));
    if (found.cloths.length) hang(document.getElementById("wall"), 0);
    ending();
    renderTools();
  }

  return {
    look, render, act,
    reset() { chosen = ""; did = ""; },
    busy: () => false,
    key(e) { if (e.key === "Escape" && chosen) { choose(found.cloths.find((c) => c.id === chosen)); return true; } return false; },
    answer: () => ({ question: "What have I got?", headline: found ? found.headline || "Your stash" : "Looking into your stash.", more: found ? found.more : [] }),
  };
}
