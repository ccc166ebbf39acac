// Choosing: what is chosen in a picture, a row or a cut-out is marked in all
// of them. Pieces and seams of a picture tell their figures when they are
// pointed at or stepped to.

let chosen = [];

function namesOf(e) { return (e.getAttribute("data-piece") || "").split(" ").filter(Boolean); }
function isChosen(e) { return namesOf(e).some(function (n) { return chosen.indexOf(n) >= 0; }); }

function choose(names) {
  const same = names.length === chosen.length && names.every(function (n) { return chosen.indexOf(n) >= 0; });
  chosen = same ? [] : names;
  all("[data-piece]").forEach(function (e) {
    const on = isChosen(e);
    e.classList.toggle("chosen", on);
    if (e.classList.contains("hit") && e.hasAttribute("aria-pressed")) { e.setAttribute("aria-pressed", String(on)); }
    if (e.tagName === "TR") { e.querySelector("button.pickrow").setAttribute("aria-pressed", String(on)); }
  });
  boards.forEach(function (b) { b.draw(); });
  rowTools.forEach(function (t) { t(); });
}

document.addEventListener("keydown", function (e) {
  if (e.key === "Escape" && chosen.length) { choose([]); }
});

// One stop of the Tab key for many things: the arrow keys go on from there.
// next(from, dx, dy) gives the thing to go to.
function rove(items, next) {
  let at = items[0];
  items.forEach(function (e) { e.setAttribute("tabindex", e === at ? "0" : "-1"); });
  function go(e) {
    at.setAttribute("tabindex", "-1");
    at = e;
    at.setAttribute("tabindex", "0");
  }
  items.forEach(function (item) {
    item.addEventListener("focus", function () { go(item); });
    item.addEventListener("keydown", function (e) {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      let to = way && !e.ctrlKey && !e.altKey && !e.metaKey ? next(item, way[0], way[1]) : null;
      if (e.key === "Home") { to = items[0]; }
      if (e.key === "End") { to = items[items.length - 1]; }
      if (way || to) { e.preventDefault(); }
      if (to) { to.focus(); }
    });
  });
}

// The pieces of one picture.
const boards = all("svg.hits").map(function (board) {
  const figure = board.closest(".sight"), hits = all(".hit", board);
  const s = sights.find(function (s) { return s.figure === figure; });
  const seams = hits.some(function (h) { return h.classList.contains("seam"); });
  const what = seams ? "a patch or a seam" : "a piece";
  const hint = matchMedia("(hover: none)").matches ? "Touch " + what + " to read its figures."
    : "Point at " + what + " to read its figures, or step from one to the next with the arrow keys.";
  const slip = make("p", "slip"), said = make("span", "", hint);
  const toRow = button("To its row in the figures", function () { showRow(); });
  toRow.hidden = true;
  slip.append(said, toRow);
  figure.append(slip);
  const svg = board.namespaceURI, rings = document.createElementNS(svg, "g");
  rings.setAttribute("class", "rings");
  board.append(rings);
  board.removeAttribute("aria-hidden");
  board.setAttribute("role", "group");
  board.setAttribute("aria-label", s.caption + ": " + (seams ? "patches and seams" : "pieces") + ". The arrow keys go from one to the next, Enter marks it all over the page.");
  let over = null;

  function ring(hit, name) {
    ["ringedge", "ring"].forEach(function (c) {
      const p = document.createElementNS(svg, "path");
      p.setAttribute("class", c + " " + name);
      p.setAttribute("d", hit.querySelector("path").getAttribute("d"));
      rings.append(p);
    });
  }
  function draw() {
    rings.textContent = "";
    hits.filter(isChosen).forEach(function (h) { ring(h, "picked"); });
    if (over) { ring(over, "pointed"); }
    const tell = over || hits.find(isChosen);
    said.textContent = tell ? tell.getAttribute("aria-label") : hint;
    const row = chosen.length && document.querySelector('tr[data-piece~="' + chosen[0] + '"]');
    toRow.hidden = !(hits.some(isChosen) && row);
  }
  function showRow() {
    const row = document.querySelector('tr[data-piece~="' + chosen[0] + '"]');
    row.closest("details").open = true;
    row.scrollIntoView({ block: "center" });
    row.querySelector("button.pickrow").focus({ preventScroll: true });
  }

  hits.forEach(function (h) {
    const title = h.querySelector("title");
    h.setAttribute("aria-label", title.textContent);
    title.remove();
    h.setAttribute("role", "button");
    h.setAttribute("aria-pressed", "false");
    h.addEventListener("pointerenter", function () { over = h; draw(); });
    h.addEventListener("pointerleave", function () { if (over === h) { over = null; draw(); } });
    h.addEventListener("focus", function () { over = h; draw(); });
    h.addEventListener("blur", function () { if (over === h) { over = null; draw(); } });
    h.addEventListener("click", function () { if (!s.dragged) { choose(namesOf(h)); } });
    h.addEventListener("keydown", function (e) {
      if (e.key === "Enter" || e.key === " ") { e.preventDefault(); choose(namesOf(h)); }
    });
  });
  // Where they lie is asked all at once and only when it is needed: asking
  // between changes styles the whole page anew each time.
  function locate() {
    hits.forEach(function (h) {
      const box = h.querySelector("path").getBBox();
      h.middle = [box.x + box.width / 2, box.y + box.height / 2];
    });
  }
  rove(hits, function (from, dx, dy) {
    if (!from.middle) { locate(); }
    let best = null, least = Infinity;
    hits.forEach(function (h) {
      const x = h.middle[0] - from.middle[0], y = h.middle[1] - from.middle[1];
      const ahead = x * dx + y * dy, aside = Math.abs(x * dy) + Math.abs(y * dx);
      if (ahead <= 1 || aside > 2 * ahead) { return; }
      const far = ahead + 3 * aside;
      if (far < least) { least = far; best = h; }
    });
    return best;
  });
  return { draw: draw, hits: hits, s: s };
});

// Rows of the figures.
const rowTools = [];
all("table[data-name]").forEach(function (table) {
  const rows = all("tbody tr[data-piece]", table);
  if (!rows.length) { return; }
  const buttons = rows.map(function (row) {
    const head = row.cells[0], b = button("", function () { choose(namesOf(row)); });
    b.className = "pickrow";
    b.setAttribute("aria-pressed", "false");
    while (head.firstChild) { b.append(head.firstChild); }
    head.append(b);
    row.addEventListener("click", function (e) { if (!e.target.closest("button")) { choose(namesOf(row)); } });
    return b;
  });
  rove(buttons, function (from, dx, dy) {
    const now = all("button.pickrow", table);
    return dy ? now[now.indexOf(from) + dy] : null;
  });
  const show = button("Show it in the picture", function () {
    for (const b of boards) {
      const h = b.hits.find(isChosen);
      if (!h) { continue; }
      b.s.figure.scrollIntoView({ block: "nearest" });
      h.focus({ preventScroll: true });
      return;
    }
  });
  show.hidden = true;
  table.showTool = show;
  rowTools.push(function () {
    show.hidden = !(rows.some(isChosen) && boards.some(function (b) { return b.hits.some(isChosen); }));
  });
});

// Cut-outs, and cloths on the value line.
all("li[data-piece], .hung[data-piece], .swap [data-piece], .diagram [data-piece]").forEach(function (e) {
  e.addEventListener("click", function () { choose(namesOf(e)); });
  const words = e.querySelector(":scope > .unseen");
  if (words) { e.title = words.textContent; }
});
