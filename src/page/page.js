"use strict";
// What comes from files is put in as text, never as markup.

const at = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";
const KINDS = ["conforms", "fails", "stop", "cant-tell", "waiting"];
const QUIET = 12000; // milliseconds without a word from the bench, which speaks every four seconds
const BROKEN = 3000;

let tests = []; // the newest first
let kept = 0;
let shown = null;
let asked = null; // the serial number that is looked for
let heard = Date.now();
let broken = null;
let ended = false;
let folderLost = null;
let stream = null;
let recorded = false; // whether earlier tests of a unit can be asked for

function make(name, className, text) {
  const element = document.createElement(name);
  if (className) element.className = className;
  if (text !== undefined && text !== null) element.textContent = text;
  return element;
}

function kindOf(kind) {
  return KINDS.includes(kind) ? kind : "cant-tell";
}

function shape(kind) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS(SVG, "use");
  use.setAttribute("href", "#" + kindOf(kind));
  svg.append(use);
  return svg;
}

function chip(test) {
  const out = make("span", "chip");
  out.dataset.kind = kindOf(test.kind);
  out.append(shape(test.kind), make("span", "", test.call));
  return out;
}

function ago(since) {
  const seconds = Math.max(0, Math.round((Date.now() - since) / 1000));
  if (seconds < 10) return "just now";
  if (seconds < 120) return seconds + " seconds ago";
  if (seconds < 7200) return Math.round(seconds / 60) + " minutes ago";
  return Math.round(seconds / 3600) + " hours ago";
}

function timed(since) {
  const out = make("span", "ago", ago(since));
  out.dataset.since = since;
  return out;
}

function attempt(test) {
  const now = test.attempt > 1 || test.before ? "attempt " + test.attempt : "first test";
  return test.before ? now + " (" + test.before + ")" : now;
}

// one test in a line
function row(test) {
  const out = make("li", "row");
  out.dataset.number = test.number;
  const unit = make("button", "unit", test.unit);
  unit.type = "button";
  unit.addEventListener("click", () => find(test.unit, true));
  const about = make("span", "small", test.file + ", " + attempt(test) + ", ");
  about.append(timed(test.since));
  out.append(chip(test), unit, make("span", "", test.cable), about);
  return out;
}

// what was found in one test
function detail(test) {
  const out = document.createDocumentFragment();
  for (const finding of test.findings) {
    const box = make("div", "finding" + (finding.telling ? " telling" : "") + (finding.hazard ? " hazard" : ""));
    box.append(make("p", "message", finding.message), make("p", "", "Repair: " + finding.remedy), make("code", "", finding.code));
    out.append(box);
  }
  if (test.more_findings > 0) out.append(make("p", "", "and " + test.more_findings + " more findings"));
  if (test.rework.length > 0) {
    out.append(make("h3", "", "Rework, in this order"));
    const list = make("ol");
    for (const step of test.rework) list.append(make("li", "", step));
    out.append(list);
    if (test.more_rework > 0) out.append(make("p", "", "and " + test.more_rework + " more steps"));
  }
  if (test.picture) {
    const figure = make("figure", "picture");
    figure.tabIndex = 0;
    figure.setAttribute("role", "group");
    figure.setAttribute("aria-label", "Picture of " + test.unit + ", can be scrolled");
    const image = make("img");
    image.alt = "The wiring of " + test.unit + ": " + test.call + ". " + test.findings.map((finding) => finding.message).join(" ");
    image.addEventListener("error", () => figure.replaceChildren(make("p", "hint", "This picture isn't kept any more.")));
    image.src = test.picture;
    figure.append(image);
    out.append(figure);
  }
  return out;
}

function whatIs(first) {
  if (shown.units === 0 || !first) return "no verdict";
  if (shown.units === 1) return first.unit;
  return shown.units + " units" + (first.kind === "conforms" ? "" : ", worst: " + first.unit);
}

function showBoard(fresh) {
  const board = at("board");
  const kind = shown ? kindOf(shown.kind) : "waiting";
  board.dataset.kind = kind;
  at("shape").setAttribute("href", "#" + kind);
  if (!shown) {
    at("call").textContent = "WAITING";
    at("what").textContent = "No file was taken yet.";
    at("about").replaceChildren();
    at("detail").hidden = true;
    return;
  }
  const units = shown.tests.map((number) => tests.find((test) => test.number === number)).filter((test) => test);
  const first = units[0];
  at("call").textContent = shown.call;
  at("what").textContent = whatIs(first);
  document.title = shown.call + " " + at("what").textContent;
  const words = [shown.file];
  if (shown.units === 1 && first) words.push(first.cable, attempt(first));
  if (shown.unjudged > 0) words.push("units without a verdict: " + shown.unjudged);
  if (shown.same_as.length > 0) words.push("the same content as " + shown.same_as.join(", ") + "; counted as a test of its own");
  at("about").replaceChildren(words.join(", ") + ", ", timed(shown.since));

  const out = at("detail");
  out.replaceChildren();
  for (const problem of shown.problems) {
    const box = make("div", "finding telling");
    box.append(make("p", "message", problem));
    out.append(box);
  }
  if (shown.units > 1) {
    const list = make("ul", "units");
    for (const test of units) list.append(row(test));
    out.append(list);
    if (shown.units > units.length) out.append(make("p", "", "and " + (shown.units - units.length) + " more units"));
    if (first) out.append(make("h3", "", first.unit));
  }
  if (first) out.append(detail(first));
  out.hidden = out.childNodes.length === 0;
  if (fresh) {
    board.classList.remove("fresh");
    void board.offsetWidth;
    board.classList.add("fresh");
    // a new verdict is to be seen from afar, unless somebody is typing
    if (plain(at("serial").value) === plain(asked || "")) scrollTo({ top: 0, behavior: "instant" });
  }
}

function counted(count, one, many) {
  return count + " " + (count === 1 ? one : many);
}

// the lot that is being tested, with the decision so far
function showRunning(lot) {
  const out = at("so-far");
  at("no-size").hidden = lot !== null;
  out.hidden = lot === null;
  if (lot === null) return;
  const words = make("p", "decision");
  out.dataset.kind = kindOf(lot.kind);
  words.append(shape(lot.kind), make("strong", "", lot.words));
  const name = (lot.lot === null ? "This lot" : "Lot " + lot.lot) + (lot.supplier === null ? "" : " of " + lot.supplier);
  const sample = counted(lot.sample, "unit", "units") + (lot.sample < lot.size ? " of the sample" : "");
  const count = make("p", "count", name + ": " + lot.tested + " of " + sample + " inspected");
  if (lot.sample < lot.size) count.append(", out of a lot of " + lot.size);
  const facts = [lot.conforms + " conform", lot.fails + " fail", lot.inconclusive + " inconclusive"];
  if (lot.dangerous > 0) facts.push(lot.dangerous + " must not be connected");
  if (lot.unjudged > 0) facts.push(lot.unjudged + " without a verdict");
  const why = make("p", "", facts.join(", ") + ". " + lot.reason.charAt(0).toUpperCase() + lot.reason.slice(1) + ".");
  const hint = make("p", "hint", "Plan: " + lot.plan + ". A retest counts as in ");
  hint.append(make("code", "", "backshell lot"), ", which makes the decision that a person signs.");
  out.replaceChildren(words, count, why, hint);
}

function showLots(lots) {
  const out = at("lots");
  if (lots.length === 0) {
    out.replaceChildren(make("p", "", "None yet."));
    return;
  }
  const names = ["Tested", "Conform", "Fail", "Inconclusive"];
  const table = make("table");
  const head = make("tr");
  for (const name of ["Lot", "Supplier"]) head.append(make("th", "", name));
  for (const name of names) head.append(make("th", "number", name));
  const body = make("tbody");
  for (const lot of lots) {
    const line = make("tr");
    const name = make("td");
    name.append(make("strong", "", lot.lot === null ? "without a lot" : "lot " + lot.lot));
    line.append(name, make("td", "", lot.supplier === null ? "no supplier named" : lot.supplier));
    [lot.units, lot.conforms, lot.fails, lot.inconclusive].forEach((count, nth) => {
      const cell = make("td", "number", count);
      cell.dataset.name = names[nth];
      line.append(cell);
    });
    body.append(line);
  }
  const top = make("thead");
  top.append(head);
  table.append(top, body);
  out.replaceChildren(table);
}

function showTests(added, whole) {
  const list = at("tests");
  const rows = added.map(row);
  if (whole) list.replaceChildren(...rows);
  else list.prepend(...rows);
  while (list.children.length > kept) list.lastElementChild.remove();
  at("kept").textContent = tests.length === 0 ? "None yet." : "The newest first; the last " + kept + " of this run are kept.";
}

function showNotes(notes) {
  at("notes").replaceChildren(...(notes.length === 0 ? ["None."] : notes.map((note) => note.text)).map((text) => make("li", "", text)));
  const later = notes.filter((note) => shown && note.number > shown.number);
  at("since").replaceChildren(...later.map((note) => make("li", "", note.text)));
}

function plain(text) {
  return text.trim().toLowerCase();
}

// what the record has of a unit; it is only read
function history(unit) {
  const out = make("section", "history");
  out.append(make("h3", "", "In the record"), make("p", "hint", "looking it up …"));
  const say = (...children) => out.replaceChildren(out.firstChild, ...children);
  fetch("/unit?name=" + encodeURIComponent(unit))
    .then((response) => (response.ok ? response.json() : Promise.reject(new Error("the bench answers " + response.status))))
    .then((answer) => {
      if (answer.problem !== null) return say(make("p", "", answer.problem));
      if (answer.total === 0) return say(make("p", "", "The record has no test of “" + unit + "”; case and blanks count."));
      const list = make("ol", "attempts");
      for (const test of answer.tests) list.append(recordRow(test));
      const most = answer.total > answer.tests.length ? "The last " + answer.tests.length + " of " + answer.total + " tests" : counted(answer.total, "test", "tests");
      return say(make("p", "hint", most + ", the newest first; those of this run are among them."), list);
    })
    .catch((error) => say(make("p", "", "It can't be looked up now: " + error.message)));
  return out;
}

// one test of the record in a line
function recordRow(test) {
  const out = make("li", "row");
  const what = make("span");
  what.append(make("strong", "", "attempt " + test.attempt), test.drawing ? " (a drawing)" : "");
  const lot = [test.lot === null ? "without a lot" : "lot " + test.lot, test.supplier].filter((text) => text !== null).join(", ");
  out.append(chip(test), what, make("span", "", test.time.replace("T", " ").replace("Z", " UTC")), make("span", "small", lot + ", " + test.cable + ", " + test.file));
  for (const finding of test.findings) out.append(make("p", "found-then", finding));
  return out;
}

// the tests of one unit
function find(serial, move) {
  asked = serial.trim();
  at("serial").value = asked;
  const found = at("found");
  found.replaceChildren();
  at("past").replaceChildren();
  if (asked === "") {
    asked = null;
    return;
  }
  const out = make("div");
  found.append(out);
  const own = tests.filter((test) => plain(test.unit) === plain(asked));
  if (own.length === 0) {
    out.className = "missing";
    out.append(make("p", "", "No test of “" + asked + "” among the tests that are kept here (" + tests.length + ")."));
    if (!recorded) out.append(make("p", "hint", "No record is kept: start backshell watch with --record FILE, and earlier tests are found here too."));
    const near = [...new Set(tests.map((test) => test.unit))].filter((unit) => plain(unit).includes(plain(asked))).slice(0, 5);
    if (near.length > 0) out.append(make("p", "", "Names that hold it:"));
    for (const unit of near) {
      const button = make("button", "unit", unit);
      button.type = "button";
      button.addEventListener("click", () => find(unit, true));
      const line = make("p");
      line.append(button);
      out.append(line);
    }
  } else {
    out.append(make("h3", "", own[0].unit + ": " + (own.length === 1 ? "1 test" : own.length + " tests")));
    const list = make("ol", "attempts");
    for (const test of own) list.append(row(test));
    out.append(list, detail(own[0]));
  }
  if (recorded) at("past").append(history(own.length > 0 ? own[0].unit : asked));
  if (move) {
    found.scrollIntoView({ block: "start" });
    at("serial").focus({ preventScroll: true });
    at("serial").select();
  }
}

function take(message) {
  const now = Date.now();
  const added = message.tests.map((test) => ({ ...test, since: now - 1000 * test.seconds_ago }));
  kept = message.tests_kept;
  tests = (message.whole ? added : added.concat(tests)).slice(0, kept);
  const fresh = !message.whole && message.shown !== null && (shown === null || shown.number !== message.shown.number);
  const changed = message.whole || fresh;
  if (message.shown) shown = { ...message.shown, since: now - 1000 * message.shown_seconds_ago };
  else shown = null;
  folderLost = message.folder_lost;
  at("folder").textContent = message.folder + (message.before ? " (" + message.before + ")" : "");
  if (changed) showBoard(fresh);
  recorded = message.record;
  showRunning(message.running);
  showLots(message.lots);
  showTests(added, message.whole);
  showNotes(message.notes);
  if (asked !== null && (message.whole || added.some((test) => plain(test.unit) === plain(asked)))) {
    const typing = at("serial").value;
    find(asked, false);
    at("serial").value = typing;
  }
}

// whether what is shown is what is there
function showLink() {
  const now = Date.now();
  const lost = ended || now - heard > QUIET || (broken !== null && now - broken > BROKEN);
  let words = null;
  if (ended) words = "THE BENCH HAS ENDED. What is shown below is the last that it did.";
  else if (lost) words = "NO CONNECTION TO THE BENCH. What is shown below may be old.";
  else if (folderLost !== null) words = "THE FOLDER CAN'T BE READ: nothing new can come. " + folderLost;
  const banner = at("banner");
  if (banner.textContent !== (words || "")) banner.textContent = words || "";
  banner.hidden = words === null;
  const state = words === null ? "live" : "lost";
  document.body.dataset.link = state;
  const link = ended ? "ended" : lost ? "no connection" : folderLost !== null ? "folder lost" : "live";
  if (at("link").textContent !== link) at("link").textContent = link;
}

function listen() {
  stream = new EventSource("/events");
  const alive = () => {
    heard = Date.now();
    broken = null;
  };
  stream.addEventListener("state", (event) => {
    alive();
    take(JSON.parse(event.data));
    showLink();
  });
  stream.addEventListener("beat", () => {
    alive();
    showLink();
  });
  stream.addEventListener("end", () => {
    ended = true;
    stream.close();
    showLink();
  });
  stream.addEventListener("error", () => {
    if (broken === null) broken = Date.now();
    // a browser tries again by itself, unless it was refused
    if (stream.readyState === EventSource.CLOSED && !ended) setTimeout(listen, 3000);
  });
}

at("find").addEventListener("submit", (event) => {
  event.preventDefault();
  find(at("serial").value, true);
});
at("clear").addEventListener("click", () => {
  find("", false);
  at("serial").focus();
});

// a reader of bar codes types wherever the focus is
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") {
    find("", false);
    at("serial").focus();
    return;
  }
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || event.key.length !== 1) return;
  if (event.target === at("serial") || event.key === " ") return;
  at("serial").focus({ preventScroll: true });
  at("serial").select();
});

setInterval(() => {
  for (const element of document.querySelectorAll(".ago")) {
    const words = ago(Number(element.dataset.since));
    if (element.textContent !== words) element.textContent = words;
  }
  showLink();
}, 1000);
listen();
