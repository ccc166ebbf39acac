// The working page: it shows the program's state, asks for what is to change,
// and draws the new state. What is right and what is kept the program decides.

import { h, fill, say, choice, button, count, capital } from "./dom.js";
import * as api from "./api.js";
import { valueLine, piles, chip } from "./pictures.js";
import { makeStage } from "./stage.js";
import { makeTop } from "./top.js";
import { makePrint } from "./print.js";
import { makeWall } from "./wall.js";
import { makeSchool } from "./teach.js";

const app = { state: null, shown: "", coming: [], trouble: null, kept: "", ended: false, asked: 0, skipped: new Set(), photoOf: (id) => app.state.photos.find((p) => p.id === id) };
const places = Object.fromEntries(["questions", "history", "answer", "trouble", "asking", "stage", "side", "below", "rest"].map((id) => [id, document.getElementById(id)]));
try { app.skipped = new Set(JSON.parse(sessionStorage.getItem("skipped") || "[]")); } catch { /* a browser that keeps nothing */ }

app.photo = () => {
  const q = app.state.question;
  return q.kind === "sort" ? app.photoOf(app.shown) || app.state.photos[0] : app.photoOf(q.photo);
};

app.renderAnswer = () => renderAnswer();

app.complain = (e) => { app.trouble = e; renderTrouble(); say(e.message); };

// take asks the program for something that changes the state.
async function take(where, body) {
  document.documentElement.classList.add("waiting");
  try {
    const before = app.state && app.state.headline;
    app.state = whole(await api.post(where, body));
    app.trouble = null;
    render();
    if (app.state.headline !== before) say(app.state.headline);
  } catch (e) { app.complain(e); } finally { document.documentElement.classList.remove("waiting"); }
}

app.step = (step) => take("steps", step);
app.ask = (where, body) => api.post(where, body);

// What is being drawn over a photo stays as it is while news come in.
const refresh = app.refresh = async () => {
  try { app.state = whole(await api.state()); render(current().busy()); } catch (e) { app.complain(e); }
};

// Photos come in one after the other; each shows how far it is.
let sending = Promise.resolve();
function bring(files) {
  for (const file of files) {
    const one = { name: file.name || "a pasted photo", share: 0 };
    app.coming.push(one);
    sending = sending.then(async () => {
      try { await api.send(file, (share) => { one.share = share; renderSide(); }); } catch (e) { one.failed = e; renderSide(); return; }
      app.coming = app.coming.filter((c) => c !== one);
      renderSide();
    });
  }
  if (app.state) renderSide();
}

// Before anything is measured the state has no pieces.
function whole(state) {
  return { ...state, pieces: state.pieces || [] };
}

const picker = h("input", { type: "file", multiple: true, accept: "image/*,.heic,.heif", class: "unseen", tabindex: -1, "aria-hidden": "true", onchange: () => { bring(picker.files); picker.value = ""; } });
document.body.append(picker);

app.dropZone = () => h("div", { class: "drop" }, h("p", {}, "Drop photos here, paste one, or"), button("Choose photos", () => picker.click(), { key: "choose", class: "main" }),
  h("p", {}, "They are copied into " + app.state.folder + ". Nothing leaves this computer."));

function render(drawing = false) {
  renderBar(); renderAnswer(); renderTrouble(); renderAsking();
  if (!document.getElementById("tools")) fill(places.side, h("div", { id: "tools" }), h("div", { id: "photos" }));
  renderSide();
  if (!drawing) current().render();
  renderBelow(); renderRest();
}

const stage = makeStage(app), top = makeTop(app), print = makePrint(app), wall = makeWall(app), school = makeSchool(app);
const current = () => ({ sort: stage, layout: top, border: print, wall, school })[app.view || app.state.question.kind];

// turn goes to another question, or to what is no question of photos.
app.turn = (value) => {
  for (const view of [stage, top, print, wall, school]) view.reset();
  if (value === "wall" || value === "school") { app.view = value; render(); return current().look(); }
  app.view = "";
  const q = app.state.question;
  return take("question", { ...q, kind: value, photo: q.photo || (app.photo() || {}).id });
};

function renderBar() {
  const q = app.state.question;
  fill(places.questions, h("legend", { class: "unseen" }, "What do you want to know?"), [["sort", "Lights and darks"], ["layout", "Does it read?"], ["border", "Middle of a border"], app.state.stash.there && ["wall", "My stash"], app.state.teach && ["school", "My phone"]].filter(Boolean).map(([value, words]) =>
    h("label", { class: "choice" }, h("input", { type: "radio", name: "question", value, checked: value === (app.view || q.kind), "data-key": "q" + value, onchange: () => app.turn(value) }), h("span", {}, words))));
  fill(places.history,
    [["undo", "Undo", "Control+Z"], ["redo", "Redo", "Control+Shift+Z"]].map(([way, words, shortcut]) => button(words, () => turnBack(way), { key: way, disabled: !steps()[way], "aria-keyshortcuts": shortcut, "aria-label": words + (steps()[way] ? ": " + steps()[way] : "") })),
    button("Keep this page", keep, { key: "keep", disabled: !app.state.answered || Boolean(app.view) }),
    button("End", end, { key: "end" }));
}

// The wall has steps of its own: the stash is not the folder's. Teaching has none.
const steps = () => (app.view === "wall" ? app.state.stash : app.view ? {} : app.state);
const turnBack = (way) => (app.view === "wall" ? wall.act("turn", { by: way === "undo" ? -1 : 1 }) : take(way));

async function keep() {
  try { app.kept = (await api.post("keep")).file; say("The page is kept in " + app.kept); renderRest(); renderAnswer(); } catch (e) { app.complain(e); }
}

async function end() {
  try { await api.post("end"); } catch { /* it has ended already */ }
  app.ended = true;
  events.close();
  fill(document.getElementById("work"), h("section", { class: "answer" }, h("h1", { id: "headline" }, "greige has ended."), h("p", {}, "What you put right is kept. You can close this window.")));
  fill(places.history); fill(places.questions);
}

function renderAnswer() {
  const s = app.state, p = app.progress;
  if (app.view) {
    const a = current().answer();
    return fill(places.answer, h("p", { class: "question" }, a.question), h("h1", { id: "headline" }, a.headline), a.more.map((m) => h("p", { class: "more" }, m)));
  }
  fill(places.answer, h("p", { class: "question" }, { sort: "Which are my lights, and which are my darks?", layout: "Does it read?", border: "What goes in the middle?" }[s.question.kind]),
    h("h1", { id: "headline" }, s.headline), s.more.map((m) => h("p", { class: "more" }, m)),
    app.kept && h("p", { class: "more" }, "This page is kept as " + app.kept + "."),
    !s.measured && h("p", {}, h("label", {}, p && p.total ? "Photo " + Math.min(p.done + 1, p.total) + " of " + p.total + " " : "Measuring ", h("progress", p && p.total ? { max: p.total, value: p.done } : {}))));
}

function renderTrouble() {
  const t = [app.trouble && app.trouble.message + (app.trouble.hint ? ": " + app.trouble.hint : "") + ".", app.state && app.state.trouble].filter(Boolean);
  fill(places.trouble, t.map((w) => h("p", {}, capital(w))), t.length && app.trouble ? button("Put this away", () => { app.trouble = null; renderTrouble(); }, { key: "away" }) : null);
}

// The most doubtful thing is asked about first, one at a time.
function renderAsking() {
  const open = (app.state.asks || []).filter((a) => !app.skipped.has(a.key)), a = open[0];
  places.asking.hidden = !a || Boolean(app.view) || current().busy();
  if (!a || app.view) { fill(places.asking); return; }
  const skip = (all) => {
    for (const b of all ? open : [a]) app.skipped.add(b.key);
    try { sessionStorage.setItem("skipped", JSON.stringify([...app.skipped])); } catch { /* as above */ }
    renderAsking();
    if (!places.asking.hidden) { const b = places.asking.querySelector("button"); if (b) b.focus(); } else places.answer.querySelector("h1").focus();
  };
  const say = (kind) => app.step({ kind, photo: a.photo, pieces: [a.piece] });
  const piece = a.piece && app.state.pieces.find((p) => p.id === a.piece);
  fill(places.asking, piece && chip(app.photoOf(a.photo), piece), h("h2", {}, a.says), h("div", { class: "tools" },
    a.piece ? [button("It is cloth", () => say("cloth"), { key: "askyes", class: "main" }), button("It is no cloth", () => say("not-cloth"), { key: "askno", class: "main" }),
      button("Show me", () => { app.shown = a.photo; stage.choose(a.piece); renderSide(); }, { key: "askshow" })]
      : [button("Yes", () => app.step({ kind: "grid", photo: a.photo, corners: app.state.top.corners, rows: app.state.top.rows, cols: app.state.top.cols, setting: app.state.top.setting }), { key: "askyes", class: "main" }),
        button("No, show me", () => top.fix(), { key: "askno", class: "main" })],
    button("Skip", () => skip(false), { key: "askskip" }), open.length > 1 && button("Skip all " + open.length, () => skip(true), { key: "askall" })),
    a.why && h("p", { class: "why" }, a.why.replace(/\.?$/, ".")));
}

function renderSide() {
  const place = document.getElementById("photos"), s = app.state, q = s.question;
  if (!place) return;
  if (app.view) { fill(place); return; }
  const out = new Set(q.out || []);
  const asked = (more) => take("question", { ...q, ...more });
  fill(place, h("div", { class: "panel" }, h("h2", {}, capital(count(s.photos.length, "photo", "photos"))),
    h("div", { class: "tools" }, button("Add photos", () => picker.click(), { key: "add" })),
    q.kind !== "sort" && s.stash.kept > 0 && (q.kind === "border" && !q.stash ? h("p", {}, "The cloths are those of your stash.")
      : h("label", { class: "check" }, h("input", { type: "checkbox", checked: q.kept, "data-key": "kept", onchange: (e) => asked({ kept: e.target.checked }) }), "My stash is there to choose from")),
    q.kind !== "sort" && s.photos.length > 1 && h("label", { class: "check" }, h("input", { type: "checkbox", checked: q.stash, "data-key": "stash", onchange: (e) => asked({ stash: e.target.checked }) }), "The other photos are my cloths to choose from"),
    q.kind === "sort" && choice("piles", "How many piles", [["3", "Three piles"], ["2", "Two piles"]], String(q.piles || 3), (v) => asked({ piles: Number(v) }))),
    h("ul", { class: "photos" }, s.photos.map((p) => h("li", { class: app.photo() === p ? "on" : "" },
      p.width ? h("img", { src: "photo/" + p.id + "/colour?" + (p.stamp || ""), alt: "", loading: "lazy" }) : h("span", { class: "none" }),
      h("button", { type: "button", class: "pick", "data-key": "photo" + p.id, "aria-pressed": String(app.photo() === p), onclick: () => { app.shown = p.id; stage.reset(); top.reset(); print.reset(); if (q.kind === "sort") render(); else asked({ photo: p.id }); } }, p.name),
      q.kind === "sort" || q.stash && p.id !== q.photo ? h("label", { class: "check" }, h("input", { type: "checkbox", checked: !out.has(p.id), "aria-label": "Use " + p.name, "data-key": "use" + p.id, onchange: (e) => { if (e.target.checked) out.delete(p.id); else out.add(p.id); asked({ out: [...out] }); } })) : h("span", {}),
      p.reason && h("p", { class: "reason" }, p.reason + "."))),
      app.coming.map((c) => h("li", {}, h("span", { class: "none" }), h("span", {}, c.name), h("span", {}),
        h("p", { class: "reason" }, c.failed ? c.failed.message + (c.failed.hint ? ": " + c.failed.hint : "") + "." : h("label", {}, "Coming in ", h("progress", { max: 1, value: c.share })),
          c.failed && button("Put this away", () => { app.coming = app.coming.filter((o) => o !== c); renderSide(); }, { key: "gone" + c.name }))))));
}

function renderBelow() {
  const s = app.state;
  if (app.view || s.question.kind !== "sort" || !s.pieces) { fill(places.below); return; }
  const compared = s.pieces.some((p) => p.pile);
  fill(places.below, h("h2", {}, compared ? "From light to dark" : "The cloths"), compared && valueLine(s, app.photoOf), piles(s, app.photoOf, (p) => { app.shown = p.photo; renderSide(); stage.choose(p.id); }), keepThese());
}

// keepThese puts the cloths of the sort into the stash.
function keepThese() {
  const s = app.state;
  if (!s.stash.there || !s.pieces.length) return null;
  const width = h("input", { type: "number", min: 1, max: 1000, step: 1, "data-key": "width" });
  return h("div", { class: "panel" }, h("h2", {}, "Keep these in your stash"),
    h("p", {}, "Measured once, and found again when you look for a cloth. What may be no cloth is left out, and a photo that is in it already is not added twice."),
    h("label", { class: "check" }, "How wide each photo's scene is, in cm, if you know", width),
    h("div", { class: "tools" }, button("Keep these", async () => {
      try { const r = await api.post("stash/keep", { width: Number(width.value) || 0 }); app.stashSays = [r.headline, ...r.more]; say(r.headline); renderBelow(); } catch (e) { app.complain(e); }
    }, { key: "keepthese", class: "main" }), s.stash.kept > 0 && button("See your stash", () => app.turn("wall"), { key: "seestash" })),
    (app.stashSays || []).map((w) => h("p", {}, w)));
}

function renderRest() {
  if (app.view) { fill(places.rest); return; }
  const s = app.state, lit = s.photos.filter((p) => p.note);
  fill(places.rest,
    lit.length > 0 && h("div", { class: "panel" }, h("h2", {}, "The light"), lit.slice(0, 5).map((p) => h("p", {}, (lit.length > 1 ? p.name + ": " : "") + p.note)), lit.length > 5 && h("p", {}, "The rest stands on the page that is kept.")),
    (s.notes.length > 0 || s.left.length > 0) && h("div", { class: "panel" }, h("h2", {}, "To know"), s.notes.slice(0, 5).map((n) => h("p", {}, n)), s.left.map((l) => h("p", {}, l.photo + ": " + l.reason + "."))),
    s.command && h("div", { class: "panel" }, h("h2", {}, "The whole answer"), s.answered && h("p", {}, h("a", { class: "button", href: "greige.html", target: "_blank", rel: "noopener" }, "See the page as it is kept")),
      h("p", {}, "In a terminal the same answer comes from"), h("code", { class: "command" }, s.command),
      h("p", { class: "keys" }, "What you put right is kept in " + s.kept + " as you do it. Your photos are never changed.")),
    h("div", { class: "panel" }, h("h2", {}, "By keyboard"), h("p", { class: "keys" }, h("kbd", {}, "Tab"), " reaches everything; in the photo and on the wall the arrow keys go from piece to piece, or from patch to patch, and ", h("kbd", {}, "Space"), " chooses. Of pieces ", h("kbd", {}, "C"), " it is cloth, ", h("kbd", {}, "N"), " it is no cloth, ", h("kbd", {}, "T"), " it is two, ", h("kbd", {}, "O"), " they are one. ", h("kbd", {}, "Ctrl+Z"), " takes a step back, ", h("kbd", {}, "Esc"), " leaves what is being drawn.")),
    s.phone && h("div", { class: "panel" }, h("h2", {}, "From your phone"), h("p", {}, "Scan this with a phone that is in your home network. Its page takes a photo and sends it here. Whoever has this code can send photos until greige ends, and see nothing."), h("img", { class: "code", src: "phone.png", alt: "A code to scan, of the address " + s.phone, width: 256, height: 256 })),
    h("div", { class: "panel" }, h("h2", {}, "Take care"), h("p", {}, "Once cloth is cut it is gone: hold what could go either way beside its neighbours by daylight first. Irons burn and rotary blades cut: close the blade after each cut, and keep both from children.")));
}

document.addEventListener("keydown", (e) => {
  if (!app.state || app.ended) return;
  const typing = e.target.matches("input[type=number], input[type=text], input[type=color], select");
  if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z" && !typing) {
    e.preventDefault();
    const way = e.shiftKey ? "redo" : "undo";
    if (steps()[way]) turnBack(way);
    return;
  }
  if (e.ctrlKey || e.metaKey || e.altKey || typing) return;
  if (current().key(e)) e.preventDefault();
});
const bringHere = (files) => (app.view === "school" ? school.bring(files) : bring(files));
document.addEventListener("paste", (e) => { const files = [...(e.clipboardData ? e.clipboardData.files : [])]; if (files.length) { e.preventDefault(); bringHere(files); } });
document.addEventListener("dragover", (e) => { e.preventDefault(); document.documentElement.classList.add("over"); });
document.addEventListener("dragleave", (e) => { if (!e.relatedTarget) document.documentElement.classList.remove("over"); });
document.addEventListener("drop", (e) => { e.preventDefault(); document.documentElement.classList.remove("over"); bringHere(e.dataTransfer.files); });

// The program tells when there is something new.
const events = new EventSource("events");
let seen = "";
events.onmessage = (e) => {
  const n = JSON.parse(e.data);
  app.progress = n;
  const now = [n.rev, n.measured, n.refused, n.looked].join();
  if (now !== seen) { seen = now; refresh(); } else if (app.state && !app.state.measured) renderAnswer();
};
events.onerror = () => { if (!app.ended && app.state && events.readyState === EventSource.CLOSED) app.complain(new Error("greige does not answer: it may have ended. What you put right is kept")); };
