// Views: the switch, the slider, two views beside each other, the edge that
// slides between two pictures, and looking closely.

const root = document.documentElement;

function all(selector, within) { return Array.prototype.slice.call((within || document).querySelectorAll(selector)); }

function make(name, className, text) {
  const e = document.createElement(name);
  if (className) { e.className = className; }
  if (text) { e.textContent = text; }
  return e;
}

function button(text, does) {
  const b = make("button", "", text);
  b.type = "button";
  b.addEventListener("click", function () { does(b); });
  return b;
}

const showing = { view: "colour", metres: 2.5, keeps: false, cone: "deutan", comparing: false, other: "grey", by: "edge" };
const live = canRead();

function words(view) {
  const input = document.getElementById("view-" + view);
  const long = input.parentNode.querySelector(".long");
  return (long || input.nextElementSibling).textContent;
}

function metresInWords(m) { return "from " + (m === 1 ? "1\u00a0metre" : String(Math.round(m * 10) / 10) + "\u00a0metres"); }

// A picture of the page.
const sights = all(".sight").map(function (figure) {
  const stack = figure.querySelector(".stack");
  const s = {
    figure: figure, frame: figure.querySelector(".frame"), stack: stack,
    base: stack.querySelector(".base"), prepared: {}, near: false, stale: false,
    scale: parseFloat(figure.getAttribute("data-scale")) || 0, cuts: {}, smaller: new Map(), pixels: null,
    now: null, other: null, caption: figure.querySelector("figcaption").textContent
  };
  all(".view", stack).forEach(function (img) {
    img.className.split(" ").forEach(function (c) { if (c.indexOf("in-") === 0) { s.prepared[c.slice(3)] = img; } });
  });
  ["two", "three", "five"].forEach(function (v) {
    const cuts = (figure.getAttribute("data-" + v) || "").split(" ").map(parseFloat).filter(isFinite);
    s.cuts[v] = cuts;
  });
  return s;
});

// The squinted picture at the distance of the slider, computed from a copy as
// small as its blur allows.
const narrowest = eye.kernels.reduce(function (n, ks) {
  return ks.reduce(function (m, k) { return Math.min(m, k.spread / Math.SQRT2); }, n);
}, Infinity);

function squintOf(s) {
  const key = showing.metres;
  if (s.squint && s.squint.key === key) { return s.squint.picture; }
  const perDegree = s.scale * showing.metres * eye.squinting;
  const W = s.base.naturalWidth, H = s.base.naturalHeight;
  // The narrowest blur stays 1.3 pixels wide or wider.
  let k = Math.max(1, Math.floor(narrowest * perDegree / 1.3));
  k = Math.min(k, Math.max(1, Math.floor(Math.min(W, H) / 24)));
  if (!s.smaller.has(k)) {
    s.smaller.set(k, reduced(pixelsOf(s.base), Math.max(1, Math.round(W / k)), Math.max(1, Math.round(H / k))));
  }
  const p = s.smaller.get(k);
  if (k === 1) { s.smaller.delete(k); } // it is large
  const shrunk = W / p.w;
  s.squint = { key: key, picture: squinted(p, perDegree / shrunk, shrunk) };
  return s.squint.picture;
}

function copyImage(canvas, img) {
  canvas.width = img.naturalWidth;
  canvas.height = img.naturalHeight;
  canvas.getContext("2d", drawing).drawImage(img, 0, 0);
}

// Paint a view of s on a canvas.
function paint(s, canvas, view) {
  const W = s.base.naturalWidth, H = s.base.naturalHeight;
  const greys = eye.greys[view];
  if (view === "weak" || view === "grey") {
    const p = pixelsOf(s.base);
    if (view === "weak") { weaken(p.data, eye[showing.cone]); } else { greyed(p.data); }
    canvas.width = W;
    canvas.height = H;
    canvas.getContext("2d", drawing).putImageData(p, 0, 0);
  } else if (view === "squint" && s.scale) {
    showLight(canvas, squintOf(s), showing.keeps);
  } else if (greys && s.scale && s.cuts[view].length > 0) {
    const cuts = s.cuts[view];
    let tones = greys;
    if (cuts.length !== greys.length - 1) { // fewer cuts where cloths are alike
      tones = cuts.concat(0).map(function (_, i) { return greys[0] + i * (greys[greys.length - 1] - greys[0]) / cuts.length; });
    }
    showFew(canvas, squintOf(s), W, H, cuts, tones);
  } else {
    copyImage(canvas, s.prepared[view] || (greys && s.prepared.grey) || s.base);
  }
}

function images(s) { return [s.base].concat(Object.keys(s.prepared).map(function (k) { return s.prepared[k]; })); }

function refresh(s) {
  if (!images(s).every(function (img) { return img.complete && img.naturalWidth; })) {
    Promise.all(images(s).map(function (img) { return img.decode(); })).then(function () { if (s.stale) { refresh(s); } }, function () {});
    return;
  }
  s.stale = false;
  s.now.hidden = showing.view === "colour";
  if (!s.now.hidden) { paint(s, s.now, showing.view); }
  if (s.other) { paint(s, s.other, showing.other); }
  s.figure.setAttribute("data-shows", showing.view + (s.other ? " " + showing.other : "") + " " + showing.metres);
}

let asked = false;
function soon() {
  if (asked) { return; }
  asked = true;
  requestAnimationFrame(function () {
    asked = false;
    const s = sights.find(function (s) { return s.stale && s.near; });
    if (!s) { return; }
    refresh(s);
    soon(); // one picture a frame, so that the page stays responsive
  });
}

function renew() {
  if (!live) { return; }
  sights.forEach(function (s) { s.stale = true; });
  soon();
}

// The cut-outs as those see them who can hardly tell red from green.
let weakened = "";
function weakenCutouts(cone) {
  if (weakened === cone) { return; }
  weakened = cone;
  const canvas = make("canvas"), g = canvas.getContext("2d", drawing);
  all(".defs image.cloth").forEach(function (e) {
    const href = e.getAttribute("data-cloth") || e.getAttribute("href");
    e.setAttribute("data-cloth", href);
    if (!cone) { e.setAttribute("href", href); return; }
    const img = new Image();
    img.onload = function () {
      if (weakened !== cone) { return; }
      canvas.width = img.naturalWidth;
      canvas.height = img.naturalHeight;
      g.drawImage(img, 0, 0);
      const p = g.getImageData(0, 0, canvas.width, canvas.height);
      weaken(p.data, eye[cone]);
      g.putImageData(p, 0, 0);
      e.setAttribute("href", canvas.toDataURL("image/png"));
    };
    img.src = href;
  });
  all(".defs .flat").forEach(function (e) {
    const fill = e.getAttribute("data-fill") || e.getAttribute("fill");
    e.setAttribute("data-fill", fill);
    if (!cone) { e.setAttribute("fill", fill); return; }
    const px = [1, 3, 5].map(function (i) { return parseInt(fill.slice(i, i + 2), 16); }).concat(255);
    weaken(px, eye[cone]);
    e.setAttribute("fill", "#" + px.slice(0, 3).map(function (v) { return (v + 256).toString(16).slice(1); }).join(""));
  });
}

function update() {
  root.setAttribute("data-view", showing.view);
  if (showing.keeps) { root.setAttribute("data-keeps", ""); } else { root.removeAttribute("data-keeps"); }
  if (!live) { return; }
  all(".from").forEach(function (e) { e.textContent = metresInWords(showing.metres); });
  weakenCutouts(showing.view === "weak" ? showing.cone : "");
  tags();
  renew();
}

// Follow the pointer until it is let go.
function dragged(move, end) {
  function done() {
    window.removeEventListener("pointermove", move);
    ["pointerup", "pointercancel"].forEach(function (e) { window.removeEventListener(e, done); });
    if (end) { end(); }
  }
  window.addEventListener("pointermove", move);
  ["pointerup", "pointercancel"].forEach(function (e) { window.addEventListener(e, done); });
}

// Two pictures in one frame, with an edge between them that slides. over is
// the one that lies on the right of the edge.
function slide(s, over, left, right) {
  const handle = make("div", "edgehandle"), label = make("label", "edgeslider"), range = make("input");
  range.type = "range";
  range.min = 0;
  range.max = 100;
  range.step = 1;
  range.value = 50;
  label.append(make("span", "unseen", "Where the edge lies between " + left + " and " + right), range);
  handle.append(make("span"));
  const leftTag = make("span", "tag lefttag", left), rightTag = make("span", "tag righttag", right);
  function put(v) {
    range.value = v;
    s.stack.style.setProperty("--edge", range.value + "%");
  }
  range.addEventListener("input", function () { put(range.value); });
  handle.addEventListener("pointerdown", function (e) {
    e.preventDefault();
    e.stopPropagation();
    handle.setPointerCapture(e.pointerId);
    dragged(function (e) {
      const box = s.stack.getBoundingClientRect();
      put(100 * (e.clientX - box.left) / box.width);
    });
  });
  s.stack.append(leftTag, rightTag, handle);
  s.frame.after(label);
  s.figure.classList.add("sliding");
  put(50);
  return { left: leftTag, right: rightTag, remove: function () {
    [handle, label, leftTag, rightTag].forEach(function (e) { e.remove(); });
    s.figure.classList.remove("sliding");
  } };
}

function compareViews(on) {
  sights.forEach(function (s) {
    if (s.unbuild) { s.unbuild(); s.unbuild = null; s.other = null; s.tags = null; }
  });
  showing.comparing = on;
  root.classList.toggle("besides", on && showing.by === "side");
  if (!on) { return; }
  pairs.forEach(function (p) { p.slide(false); });
  sights.forEach(function (s) {
    s.other = make("canvas");
    if (showing.by === "edge") {
      const over = make("div", "over");
      over.append(s.other);
      s.now.after(over);
      const edge = slide(s, over, words(showing.view), words(showing.other));
      s.tags = edge;
      s.unbuild = function () { edge.remove(); over.remove(); };
      return;
    }
    const frame = make("div", s.frame.className + " second"), stack = make("div", "stack"), base = s.base.cloneNode();
    base.alt = "";
    stack.append(base, s.other);
    const marks = s.stack.querySelector(".marks");
    if (marks) { stack.append(marks.cloneNode(true)); }
    const left = make("span", "tag lefttag"), right = make("span", "tag lefttag");
    s.stack.append(left);
    stack.append(right);
    frame.append(stack);
    s.frame.after(frame);
    s.figure.classList.add("beside");
    s.tags = { left: left, right: right };
    s.unbuild = function () { left.remove(); frame.remove(); s.figure.classList.remove("beside"); };
    s.zoom(1);
  });
}

function tags() {
  sights.forEach(function (s) {
    if (s.tags) {
      s.tags.left.textContent = words(showing.view);
      s.tags.right.textContent = words(showing.other);
    }
  });
}

// The top as it hangs and after the changes.
const pairs = all("[data-before]").map(function (box) {
  const find = function (a) { return sights.find(function (s) { return s.figure.id === box.getAttribute(a); }); };
  const before = find("data-before"), after = find("data-after");
  let edge = null;
  const p = { slide: function (on) {
    if (on === Boolean(edge)) { return; }
    p.side.setAttribute("aria-pressed", String(!on));
    p.edge.setAttribute("aria-pressed", String(on));
    before.zoom(1);
    after.zoom(1);
    if (!on) {
      edge.remove();
      edge = null;
      after.stack.classList.remove("over");
      after.frame.append(after.stack);
      after.figure.hidden = false;
      box.classList.add("two");
      return;
    }
    compareOff();
    after.figure.hidden = true;
    box.classList.remove("two");
    after.stack.classList.add("over");
    before.stack.append(after.stack);
    edge = slide(before, after.stack, before.caption, after.caption);
    before.near = after.near = true;
    soon();
  } };
  p.side = button("Side by side", function () { p.slide(false); });
  p.edge = button("Under a sliding edge", function () { p.slide(true); });
  p.side.setAttribute("aria-pressed", "true");
  p.edge.setAttribute("aria-pressed", "false");
  const tools = make("p", "tools");
  tools.append(p.side, p.edge);
  box.before(tools);
  return p;
});

const compareButton = document.getElementById("compare"), comparing = document.getElementById("comparing");
function compareOff() {
  if (!showing.comparing) { return; }
  comparing.hidden = true;
  compareButton.setAttribute("aria-expanded", "false");
  compareViews(false);
}

// Looking closely: the picture grows inside its frame, which then scrolls.
const sizes = [1, 1.5, 2, 3, 4];
sights.forEach(function (s) {
  let at = 0;
  const out = button("\u2212", function () { step(at - 1); }), into = button("+", function () { step(at + 1); });
  out.setAttribute("aria-label", "Smaller: " + s.caption);
  into.setAttribute("aria-label", "Larger: " + s.caption);
  const tools = make("span", "zoom");
  tools.append(out, into);
  s.figure.querySelector("figcaption").append(tools);
  // Not the attribute disabled, which would take the focus away.
  function ends() {
    out.setAttribute("aria-disabled", String(at === 0));
    into.setAttribute("aria-disabled", String(at === sizes.length - 1));
  }
  function step(to) {
    to = Math.min(Math.max(to, 0), sizes.length - 1);
    const frame = s.frame, z = sizes[to];
    const box = s.stack.getBoundingClientRect();
    const x = (frame.scrollLeft + frame.clientWidth / 2) / Math.max(frame.scrollWidth, 1);
    const y = (frame.scrollTop + frame.clientHeight / 2) / Math.max(frame.scrollHeight, 1);
    if (at === 0) {
      s.fit = box.width;
      frame.style.setProperty("--high", frame.getBoundingClientRect().height + "px");
      frame.style.setProperty("--wide", frame.getBoundingClientRect().width + "px");
    }
    at = to;
    s.figure.classList.toggle("close", z > 1);
    s.stack.style.setProperty("--size", s.fit * z + "px");
    if (z > 1) {
      frame.tabIndex = 0;
      frame.setAttribute("role", "group");
      frame.setAttribute("aria-label", s.caption + ", enlarged: scroll with the arrow keys");
      frame.scrollLeft = x * frame.scrollWidth - frame.clientWidth / 2;
      frame.scrollTop = y * frame.scrollHeight - frame.clientHeight / 2;
    } else {
      frame.removeAttribute("tabindex");
      frame.removeAttribute("role");
      frame.removeAttribute("aria-label");
      frame.scrollLeft = frame.scrollTop = 0;
    }
    ends();
  }
  s.zoom = function (z) { if (sizes[at] !== z) { step(sizes.indexOf(z)); } };
  ends();
  // Drag with the mouse; a finger scrolls by itself.
  s.frame.addEventListener("pointerdown", function (e) {
    if (at === 0 || e.pointerType !== "mouse" || e.button !== 0) { return; }
    const x = e.clientX, y = e.clientY, left = s.frame.scrollLeft, top = s.frame.scrollTop;
    dragged(function (e) {
      s.dragged = s.dragged || Math.abs(e.clientX - x) + Math.abs(e.clientY - y) > 5;
      s.frame.scrollLeft = left - (e.clientX - x);
      s.frame.scrollTop = top - (e.clientY - y);
    }, function () { setTimeout(function () { s.dragged = false; }, 0); });
  });
});

// The switch sticks to the top of the window; nothing that is gone to comes to
// lie under it.
const bar = document.querySelector(".switch");
if (window.ResizeObserver) {
  new ResizeObserver(function () { root.style.setProperty("--bar", bar.offsetHeight + "px"); }).observe(bar);
}

// The controls.
all('input[name="view"]').forEach(function (input) {
  if (input.checked) { showing.view = input.value; }
  input.addEventListener("change", function () { showing.view = input.value; update(); });
});

if (live) {
  root.setAttribute("data-live", "");
  sights.forEach(function (s) {
    s.now = make("canvas", "now");
    s.now.hidden = true;
    const before = s.stack.querySelector(".veil, .marks");
    s.stack.insertBefore(s.now, before);
  });
  const distance = document.getElementById("distance"), keeps = document.getElementById("keep-colours");
  showing.metres = parseFloat(distance.value);
  distance.setAttribute("aria-valuetext", metresInWords(showing.metres));
  distance.addEventListener("input", function () {
    showing.metres = parseFloat(distance.value);
    distance.setAttribute("aria-valuetext", metresInWords(showing.metres));
    update();
  });
  keeps.addEventListener("change", function () { showing.keeps = keeps.checked; update(); });
  all('input[name="cone"]').forEach(function (input) {
    input.addEventListener("change", function () { showing.cone = input.value; update(); });
  });
  compareButton.addEventListener("click", function () {
    const on = comparing.hidden;
    comparing.hidden = !on;
    compareButton.setAttribute("aria-expanded", String(on));
    compareViews(on);
    update();
  });
  const other = document.getElementById("other");
  other.addEventListener("change", function () { showing.other = other.value; compareViews(true); update(); });
  all('input[name="by"]').forEach(function (input) {
    input.addEventListener("change", function () { showing.by = input.value; compareViews(true); update(); });
  });
  if (window.IntersectionObserver) {
    const watch = new IntersectionObserver(function (seen) {
      seen.forEach(function (e) {
        const s = sights.find(function (s) { return s.figure === e.target; });
        s.near = e.isIntersecting;
      });
      soon();
    }, { rootMargin: "60% 0px" });
    sights.forEach(function (s) { watch.observe(s.figure); });
  } else {
    sights.forEach(function (s) { s.near = true; });
  }
  window.addEventListener("beforeprint", function () {
    sights.forEach(function (s) { s.zoom(1); if (s.stale) { refresh(s); } });
  });
}
update();
