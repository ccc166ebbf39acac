// Small tools for making parts of the page. Nothing here knows of cloth.

function put(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "style") for (const [k, v] of Object.entries(value)) node.style.setProperty(k, v);
    else if (name === "value") node.value = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  for (const child of children.flat(3)) if (child !== null && child !== undefined && child !== false) node.append(child);
  return node;
}

export const h = (tag, attributes, ...children) => put(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) => put(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);

// fill puts new children into a place. What had the focus there has it again,
// by its data-key, so that nobody who works by keyboard is thrown out.
export function fill(place, ...children) {
  const active = document.activeElement;
  const key = active && place.contains(active) ? active.dataset.key : undefined;
  place.replaceChildren(...children.flat(3).filter((c) => c !== null && c !== undefined && c !== false));
  if (key === undefined) return;
  const again = place.querySelector('[data-key="' + CSS.escape(key) + '"]');
  if (again) again.focus({ preventScroll: true });
}

// say tells those who do not see the page what has happened.
let last = "";
export function say(words) {
  const place = document.getElementById("say");
  place.textContent = words === last ? words + "\u00a0" : words;
  last = place.textContent;
}

// A count inside a sentence, as the program writes it: in words up to twenty.
const small = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"];
export const count = (n, one, many) => (small[n] || n) + " " + (n === 1 ? one : many);
export const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

export const round = (v) => Math.round(v * 100) / 100;
export const clamp = (v, low, high) => Math.min(Math.max(v, low), high);
export const path = (points, close = true) => points.map((p, i) => (i ? "L" : "M") + round(p[0]) + " " + round(p[1])).join("") + (close ? "Z" : "");

export function bounds(points) {
  const xs = points.map((p) => p[0]), ys = points.map((p) => p[1]);
  return { x: Math.min(...xs), y: Math.min(...ys), w: Math.max(...xs) - Math.min(...xs), h: Math.max(...ys) - Math.min(...ys) };
}

// middle is the centre of an outline's area, or of its box where it has none.
export function middle(points) {
  let a = 0, x = 0, y = 0;
  points.forEach((p, i) => {
    const q = points[(i + 1) % points.length], c = p[0] * q[1] - q[0] * p[1];
    a += c; x += (p[0] + q[0]) * c; y += (p[1] + q[1]) * c;
  });
  if (Math.abs(a) < 1e-6) { const b = bounds(points); return [b.x + b.w / 2, b.y + b.h / 2]; }
  return [x / (3 * a), y / (3 * a)];
}

// arrows are the ways of the arrow keys, across and down.
export const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

// layered is a picture with a layer over it that counts in units of its own: so many
// across and down.
export function layered(src, alt, size, units, more = {}) {
  const place = h("div", { class: "picture", ...more }, h("img", { src, alt, width: size.width, height: size.height }),
    s("svg", { viewBox: "0 0 " + units.width + " " + units.height, preserveAspectRatio: "none" }));
  place.style.maxWidth = "calc(" + round(size.width / size.height) + " * 78vh)";
  return place;
}

// choice is a row of radio buttons.
export function choice(name, legend, options, chosen, change, seen = false) {
  return h("fieldset", { class: "choices" }, h("legend", { class: seen ? "seen" : "unseen" }, legend), options.map(([value, words]) =>
    h("label", { class: "choice" },
      h("input", { type: "radio", name, value, checked: value === chosen, "data-key": name + value, onchange: () => change(value) }),
      h("span", {}, words))));
}

export const button = (words, press, more = {}) => h("button", { type: "button", "data-key": "b-" + (more.key || words), onclick: press, ...more, key: null }, words);
