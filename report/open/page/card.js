// The place of a card in a photo, of whatever the photo is: white paper, or a grey
// card, that says how light the light was.

import { h, fill, button } from "./dom.js";
import * as draw from "./editors.js";

// cardTools are the buttons that show a card's place, or take it away.
export const cardTools = (app, photo, show) => [button(photo.card ? "Move the card" : "Show the card", show, { key: "card" }),
  photo.card && button("No card", () => app.step({ kind: "card", photo: photo.id }), { key: "nocard" })];

export const aboutCards = () => h("p", { class: "keys" }, "A card is white paper, or a grey card, lying in the photo: it says how light the light was.");

// cardPanel draws the card's place over the photo; leave ends that, whatever came of it.
export function cardPanel(app, photo, place, leave) {
  const size = { w: photo.width, h: photo.height };
  const under = h("p", { class: "under", role: "status" });
  const light = h("input", { type: "number", min: 1, max: 100, step: .5, value: photo.light || 95, "data-key": "cardlight" });
  let editor = null;
  queueMicrotask(() => {
    editor = draw.box(place, size, photo.card || null, (v) => {
      const c = draw.colourUnder(place, size, v);
      if (c) fill(under, h("span", { class: "dye", style: { background: c.css } }), "Under the box: lightness about " + Math.round(c.lightness) + " as the camera saw it.");
    });
  });
  return h("div", { class: "panel" }, h("h2", {}, "Where does the card lie?"), under,
    h("label", { class: "check" }, "Its lightness, 0 to 100", light),
    h("div", { class: "tools" }, button("Take it", () => { const box = editor.value(); leave(); app.step({ kind: "card", photo: photo.id, box, light: Number(light.value) || 95 }); }, { key: "take", class: "main" }),
      button("Leave it", () => leave(), { key: "leave" })),
    h("p", { class: "keys" }, "Keep well inside its edges. White paper is about 95, an 18 % grey card 49.5. Drag over the photo, or move the box with the arrow keys."));
}
