// Teaching the program one's own phone, in three steps: what is photographed, the
// photos, and where it lies in them.

import { h, fill, say, choice, button, count, layered } from "./dom.js";
import * as api from "./api.js";
import * as draw from "./editors.js";

const ways = {
  cards: { words: "White paper and a grey card", most: 1,
    how: "Lay a sheet of white paper and a mid-grey card side by side, flat, where the light is the same on both: by a window, not in the sun.",
    take: "Hold the phone straight above them and take one photo. Nothing of it should be burnt out: where the paper looks glaring, tap on it first." },
  chart: { words: "A chart of 24 colours", most: 1,
    how: "Lay the chart flat where the light is the same all over it, without glare.",
    take: "Hold the phone straight above it, so that it fills half of the photo or more, and take one photo." },
  scene: { words: "Nothing but the phone", most: 12,
    how: "Choose a corner of a room that stays as it is, with plain things in it from light to dark.",
    take: "Put the phone on a stand and take the same photo three times, changing only how light it is with the phone's slider: darker, as usual, lighter. Switch off HDR where the phone allows it." },
};

export function makeSchool(app) {
  let state = null, way = "cards", cards = {}, tool = "", editor = null, corners = null, outcome = null, coming = [], busy = false;

  const picker = h("input", { type: "file", multiple: true, accept: "image/*,.heic,.heif", class: "unseen", tabindex: -1, "aria-hidden": "true", onchange: () => { bring([...picker.files]); picker.value = ""; } });
  picker.id = "lessons";
  document.body.append(picker);

  async function look() {
    try { state = await api.get("teach"); } catch (e) { app.complain(e); }
    app.renderAnswer();
    render();
  }

  async function ask(where, body) {
    try { state = await api.post(where, body); } catch (e) { app.complain(e); }
    render();
  }

  async function bring(files) {
    for (const file of files) {
      const one = { name: file.name || "a pasted photo", share: 0 };
      coming.push(one);
      render();
      try { state = await api.send(file, (share) => { one.share = share; }, "teach/photos"); coming = coming.filter((c) => c !== one); say(one.name + " is there."); } catch (e) { one.failed = e; }
      render();
    }
  }

  const photos = () => (state ? state.photos : []);
  // One photo teaches by cards or a chart: the last that came.
  const used = () => (ways[way].most === 1 ? photos().slice(-1) : photos());

  async function learn() {
    busy = true;
    render();
    try {
      const r = await api.post("teach/learn", { way, photos: used().map((p) => p.id), cards: way === "cards" ? ["white", "grey"].filter((k) => cards[k]).map((k) => cards[k]) : [], corners: way === "chart" && corners ? corners : [] });
      outcome = r; state = r.teach;
      app.trouble = null;
      say(r.headline);
    } catch (e) { app.complain(e); }
    busy = false;
    app.renderAnswer();
    render();
  }

  const step = (number, words, image, alt, ...more) => h("li", { class: "panel step" }, h("h2", {}, number + ". " + words), h("div", { class: "sides" }, image && h("img", { src: "page/teach-" + image + ".svg", alt, width: 320, height: 220 }), h("div", {}, more)));

  const file = (p) => h("li", {}, h("img", { src: "teach/photos/" + p.id, alt: "", loading: "lazy" }), h("span", {}, p.name), button("Take it away", () => { cards = {}; corners = null; tool = ""; ask("teach/leave", { id: p.id }); }, { key: "leave" + p.id, "aria-label": "Take it away: " + p.name }));

  function where() {
    const [photo] = used();
    if (!photo) return h("p", {}, "First put a photo in.");
    if (way === "scene") return [h("p", {}, photos().length < 3 ? "It takes three photos or more; there " + (photos().length === 1 ? "is " : "are ") + count(photos().length, "of them.", "of them.") : "All is there.")];
    if (way === "chart") return [h("p", {}, "The chart is found by itself. Where it is not, show its corners."), h("div", { class: "tools" }, button(corners ? "Move its corners" : "Show its corners", () => { tool = "corners"; render(); }, { key: "corners" }), corners && button("Find it by itself", () => { corners = null; render(); }, { key: "nocorners" }))];
    return [h("p", {}, "Show where each lies: a box well inside its edges."), h("div", { class: "tools" },
      button(cards.white ? "Move the white paper's place" : "Show the white paper", () => { tool = "white"; render(); }, { key: "white" }),
      button(cards.grey ? "Move the grey card's place" : "Show the grey card", () => { tool = "grey"; render(); }, { key: "grey" }))];
  }

  function drawing(photo) {
    const size = { w: photo.width, h: photo.height };
    const place = layered("teach/photos/" + photo.id, photo.name, photo, photo);
    const leave = button("Leave it", () => { tool = ""; render(); }, { key: "leave" });
    const keys = h("p", { class: "keys" }, "Drag over the photo, or reach the handles with Tab and move them with the arrow keys; with Shift in small steps.");
    if (tool === "corners") {
      const w = photo.width, t = photo.height;
      queueMicrotask(() => { editor = draw.corners(place, size, corners || [[w * .2, t * .2], [w * .8, t * .2], [w * .8, t * .8], [w * .2, t * .8]], () => ({ rows: 4, cols: 6, setting: "straight" }), () => { }); });
      return [place, h("div", { class: "panel" }, h("h2", {}, "Where does the chart lie?"), h("div", { class: "tools" }, button("Take it", () => { corners = editor.value(); tool = ""; render(); }, { key: "take", class: "main" }), leave),
        h("p", {}, "The corners of its colours, not of its frame."), keys)];
    }
    const kind = tool, card = cards[kind];
    const light = h("input", { type: "number", min: 1, max: 100, step: .5, value: card ? card.light : kind === "white" ? 95 : 49.5, "data-key": "cardlight" });
    queueMicrotask(() => { // a small box, but one that a finger can take hold of
      const k = photo.width / (place.clientWidth || photo.width), w = Math.max(photo.width * .1, 110 * k), t = Math.max(photo.height * .1, 90 * k);
      editor = draw.box(place, size, card ? card.box : [(photo.width - w) / 2, (photo.height - t) / 2, w, t], () => { });
    });
    return [place, h("div", { class: "panel" }, h("h2", {}, kind === "white" ? "Where does the white paper lie?" : "Where does the grey card lie?"),
      h("label", { class: "check" }, "Its lightness, 0 to 100", light),
      h("div", { class: "tools" }, button("Take it", () => { cards[kind] = { box: editor.value(), light: Number(light.value) || 95 }; tool = ""; render(); }, { key: "take", class: "main" }), leave),
      h("p", {}, "White paper is about 95, an 18 % grey card 49.5."), keys)];
  }

  function ready() {
    if (busy || !used().length) return false;
    return way === "cards" ? Boolean(cards.white && cards.grey) : way === "chart" ? true : photos().length > 2;
  }

  function known() {
    if (!state || !(state.cameras.length + state.problems.length)) return null;
    return h("div", { class: "panel" }, h("h2", {}, "Phones it knows"), h("ul", { class: "changes" }, state.cameras.map((c) => h("li", {}, h("span", {}, c.name + ": " + c.says + "."), button("Forget it", () => ask("teach/forget", { name: c.name }), { key: "forget" + c.name, "aria-label": "Forget it: " + c.name })))),
      state.problems.map((p) => h("p", {}, p + ".")));
  }

  function render() {
    const stage = document.getElementById("stage"), tools = document.getElementById("tools");
    if (!state || app.view !== "school") { if (app.view === "school") { fill(stage, h("p", { class: "panel" }, "One moment.")); fill(tools); } return; }
    const [photo] = used();
    if (tool && photo) { const [place, panel] = drawing(photo); fill(stage, place); fill(tools, panel); return; }
    tool = "";
    const w = ways[way];
    fill(stage, h("ol", { class: "steps" },
      step(1, "What you photograph", way, { cards: "White paper and a grey card side by side on a table.", chart: "A chart with four rows of six patches.", scene: "The same still things three times: dark, as usual, light." }[way],
        choice("way", "What you have", Object.entries(ways).map(([k, v]) => [k, v.words]), way, (v) => { way = v; outcome = null; app.renderAnswer(); render(); }), h("p", {}, w.how)),
      step(2, "Take it and put it in", "take", "A phone held straight above two cards, with light from a window at the side.",
        h("p", {}, w.take), h("p", {}, "Bring the photo itself, at full size: a messenger takes away the record by which the phone is known."),
        h("div", { class: "tools" }, button(w.most === 1 ? "Choose the photo" : "Choose the photos", () => picker.click(), { key: "lesson", class: "main" })),
        h("ul", { class: "photos" }, (w.most === 1 ? used() : photos()).map(file), coming.map((c) => h("li", {}, h("span", { class: "none" }), h("span", {}, c.name), h("span", {}), h("p", { class: "reason" }, c.failed ? c.failed.message + "." : "Coming in."), c.failed && button("Put this away", () => { coming = coming.filter((o) => o !== c); render(); }, { key: "gone" + c.name }))))),
      step(3, way === "scene" ? "Let it learn" : "Show it, and let it learn", way !== "scene" && "show", "A box that lies well inside a sheet of paper.", where(),
        h("div", { class: "tools" }, button(busy ? "Learning" : "Learn it", learn, { key: "learn", class: "main", disabled: !ready() })))));
    fill(tools, outcome && h("div", { class: "panel" }, h("h2", {}, outcome.kept ? "What was gained" : "Why nothing is kept"), h("p", {}, outcome.headline), outcome.more.map((m) => h("p", {}, m))), known());
  }

  return {
    look, render, bring,
    reset() { tool = ""; },
    busy: () => tool !== "",
    key(e) { if (e.key === "Escape" && tool) { tool = ""; render(); return true; } return false; },
    answer: () => ({ question: "Teach it your phone", headline: outcome ? outcome.headline : "Every phone makes light and dark its own way.", more: outcome ? [] : ["Teach it once, and every later photo by this phone is surer. The photos for it are looked at and not kept."] }),
  };
}
