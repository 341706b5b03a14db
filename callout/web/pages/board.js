// The board: draws what the stream tells, and nothing it does not. A button names the build, the card and the line of
// the journal that it is pressed for. No button affirms a callout.
"use strict";

const LOST_AFTER = 6000; // ms without a sign of life
const NO_ANSWER = 20000; // ms after which nobody waits for the answer to a press any more
const DEAD = 5000; // ms that buttons may be dead after an answer, whatever the board shows
const $ = (id) => document.getElementById(id);
let state = null, view = "yard", heardAt = 0, ahead = 0, lost = true, pressed = "", drawn = "", pressedAt = 0;
let answeredAt = 0, answered = null; // the line up to which a press was answered, and where the walk was then

function el(tag, attributes, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (name === "on") node.addEventListener("click", value);
    else if (value !== null && value !== undefined) node.setAttribute(name, value);
  }
  for (const child of children.flat()) if (child !== null && child !== undefined && child !== "") node.append(child);
  return node;
}

// A number and its unit stay on one line: "13 ft 11 1/2 in" may break after "ft" only.
const figure = (text) => text.replace(/(\d) (?=\d|ft|in|m|mm|°)/g, "$1\u00a0");
const called = (build) => build.height + (build.angle === null ? "" : ` @ ${build.angle}°`);
const walked = (board) => board.open.find((build) => build.state === "walk") || null;
const inHand = (build) => build.items.find((item) => item.now) || null;
const left = (item) => item.quantity - item.picked;
const clock = (time) => (time ? time.slice(11, 19) : "-");
const now = () => Date.now() + ahead;
const dead = () => Boolean(state && state.board.live === false); // nobody writes the journal: what is shown stays so
// "10:48", with its day where that is not today's.
const day = (time) => (time ? (time.slice(0, 10) === state.now.slice(0, 10) ? "" : `${time.slice(0, 10)} `) + time.slice(11, 16) : "-");

function next(build) {
  const at = inHand(build);
  const open = build.items.filter((item) => left(item) > 0 && item !== at);
  return open.find((item) => !at || item.item > at.item) || open[0] || null;
}

function ago(time) {
  if (!time) return "";
  const seconds = Math.max(0, Math.floor((now() - Date.parse(time)) / 1000));
  return seconds < 120 ? `${seconds} s` : `${Math.floor(seconds / 60)} min`;
}

function since(time) {
  return el("span", { "data-since": time || "" }, ago(time));
}

const isDue = (build) => Boolean(build.next_look) && Date.parse(build.next_look) <= now();

function stateOf(build) {
  const fetched = `${build.items.length - build.items_left} of ${build.items.length} items`;
  const look = !build.next_look ? "" : isDue(build) ? `, LOOK AT IT NOW, due since ${day(build.next_look)}: ${build.look_why}` : `, next look at ${day(build.next_look)}, ${build.look_why}`;
  const words = { stands: `stands since ${clock(build.since)}${look}`, walk: `in the walk, ${fetched}`, begun: `begun, ${fetched}`, waits: `waits since ${clock(build.since)}, ${fetched}` };
  return words[build.state];
}

// At most so many; the rest is counted.
const some = (texts, most) => (texts.length <= most ? texts : [...texts.slice(0, most - 1), `and ${texts.length - most + 1} more`]);
const shorts = (build, most) => some(build.short, most).map((text) => el("p", { class: "short" }, `! SHORT ${text}`));

function partsList(build) {
  const at = inHand(build);
  return el("ul", { "aria-label": "Parts", class: "parts", tabindex: 0, "data-now": `${build.build_id} ${at ? at.item : ""}` }, build.items.map((item) => {
    const mark = item.now ? "▸ " : left(item) <= 0 ? "✓ " : "";
    return el("li", { class: item.now ? "now" : null }, `${mark}${item.item}. ${item.quantity} × ${item.name}` + (item.where ? ` (${item.where})` : "") + (left(item) <= 0 ? ", fetched" : ""));
  }));
}

const who = (build) => (build.given_by ? `, by ${build.given_by}` : "") + (build.picked_by.length ? `, picked by ${build.picked_by.join(", ")}` : "");

function buildsList(board, full) {
  const builds = [...board.open, ...board.standing];
  return el("ul", { class: "builds", "aria-label": "Builds" }, builds.map((build) => el("li", {},
    el("span", {}, el("strong", {}, `${build.state === "walk" ? "▸ " : ""}${build.number}: ${called(build)}`), ` ${build.place ? build.place + ", " : ""}${stateOf(build)}${full ? who(build) : ""}`,
      shorts(build, full ? 6 : 2), build.warnings.map((text) => el("p", { class: "short" }, `! ${text}`))),
    el("button", { type: "button", on: () => showDrawing(build), "aria-label": `Drawing of build ${build.number}` }, "Drawing"))));
}

function waits(board, first) {
  return board.waiting.filter((wait) => wait !== first).map((wait) => el("p", { class: wait.role === "logistics" ? "mid" : null },
    `? ${wait.figures.filter((figure) => ["height", "angle"].includes(figure.label)).map((figure) => figure.text).join(" @ ") || (wait.build === null ? wait.kind : `build ${wait.build} ${wait.kind}`)} ${wait.parked ? "set aside" : "waits"} `, since(wait.since), `: ${wait.say}`));
}

function yard(board) {
  const build = walked(board);
  const main = [];
  if (!build) {
    const waiting = board.open[0];
    main.push(el("p", { class: "big" }, waiting ? `Build ${waiting.number} waits` : "No build to fetch for"));
  } else {
    const item = inHand(build), then = next(build);
    if (item) {
      main.push(el("p", { class: "big" }, `${left(item) || item.quantity} × ${item.name}`));
      main.push(el("p", { class: "mid" }, item.where ? `at ${item.where}` : "place not known"));
      main.push(el("p", {}, then ? `then ${left(then)} × ${then.name}` + (then.where ? ` (${then.where})` : "") : "then the total"));
    } else main.push(el("p", { class: "mid" }, build.says || build.card));
    main.push(el("h2", {}, `for build ${build.number}: ${called(build)}${build.place ? ", " + build.place : ""}`));
    main.push(...shorts(build, 3));
    if (build.short.length && build.remedy) main.push(el("p", {}, `nearest that works: ${build.remedy}`));
    main.push(el("p", {}, `${item ? `item ${item.item} of ${build.items.length}` : build.card}, ${build.pieces_picked} of ${build.pieces} pieces`));
    main.push(el("progress", { value: build.pieces_picked, max: Math.max(1, build.pieces), "aria-label": "Pieces fetched" }));
    if (build.card_kind === "check") main.push(el("p", { class: "mid" }, `${build.checks.length} checks before load`));
  }
  const others = board.open.filter((one) => one !== build && one.short.length);
  main.push(...others.map((one) => el("p", { class: "short" }, `! SHORT build ${one.number}: ${called(one)}`)));
  main.push(...waits(board, null));
  const side = build ? [el("h2", {}, "Parts"), partsList(build)] : [];
  side.push(el("h2", {}, "Builds"), buildsList(board));
  return [el("section", { "aria-label": "In hand" }, main), el("section", { "aria-label": "Parts and builds" }, side)];
}

function measurer(board) {
  const wait = board.waiting.find((one) => !one.parked) || board.waiting[0];
  const main = [];
  if (!wait) {
    main.push(el("p", { class: "big" }, "Nothing waits"));
    if (board.said) main.push(el("p", {}, `said last, ${clock(board.said.time)}: ${board.said.text}`));
  } else {
    const large = wait.figures.filter((figure) => ["height", "angle"].includes(figure.label));
    main.push(el("h2", {}, `${wait.parked ? "Set aside" : wait.kind === "half" ? "Half a callout" : "Readback: " + wait.kind}, by ${wait.who}`));
    main.push(...large.map((one) => el("p", { class: "big figure" }, figure(one.text))));
    if (wait.asked) main.push(el("p", { class: "big" }, `${wait.asked}?`));
    main.push(el("p", {}, wait.figures.filter((figure) => !large.includes(figure)).map((figure) => `${figure.label} ${figure.text}`).join("; ")));
    main.push(el("p", { class: "mid" }, "waits ", since(wait.since)));
    main.push(el("p", { class: "say" }, `SAY: ${wait.say.replace(/^say /, "")}`));
    main.push(el("p", {}, wait.text));
    main.push(...waits(board, wait));
  }
  return [el("section", { "aria-label": "What waits" }, main), el("section", { "aria-label": "Builds" }, el("h2", {}, "Builds"), buildsList(board))];
}

function overview(board) {
  const builds = [...board.open, ...board.standing];
  const main = [el("h2", {}, `${builds.length} builds`), buildsList(board, true), ...waits(board, null)];
  for (const [name, word] of [["heard", board.heard], ["said", board.said]])
    if (word) main.push(el("p", {}, `last ${name} ${clock(word.time)}, ${word.speaker}: ${word.text}`));
  const told = board.stock.filter((row) => row.free !== null);
  const rank = (row) => [row.free === 0 ? 0 : 1, row.promised || row.out ? 0 : 1];
  told.sort((a, b) => rank(a)[0] - rank(b)[0] || rank(a)[1] - rank(b)[1] || a.free - b.free || a.name.localeCompare(b.name));
  const side = [el("h2", {}, "Free of the stock")];
  if (!told.length) side.push(el("p", { class: "quiet" }, "What lies on hand is not known here."));
  side.push(el("ul", { "aria-label": "Stock" }, told.map((row) => el("li", { class: row.free ? null : "short" },
    `${row.free ? "" : "! "}${row.free} ${row.name}` + (row.promised ? `, ${row.promised} promised` : "") + (row.out ? `, ${row.out} out` : "")))));
  return [el("section", { "aria-label": "Builds" }, main), el("section", { "aria-label": "Stock" }, side)];
}

const VIEWS = { yard, measurer, overview };

function draw() {
  const box = $("view");
  if (!state) return;
  const key = view + state.board.standing.filter(isDue).length + JSON.stringify(state.board);
  if (key !== drawn) {
    const top = drawn.startsWith(view) ? box.scrollTop : 0;
    const focus = document.activeElement && box.contains(document.activeElement) ? document.activeElement.getAttribute("aria-label") : null;
    const before = box.querySelector(".parts"), at = before && { now: before.dataset.now, top: before.scrollTop };
    drawn = key;
    box.classList.add("two");
    box.replaceChildren(...VIEWS[view](state.board));
    box.scrollTop = top;
    showItem(box.querySelector(".parts"), at);
    if (focus) for (const node of box.querySelectorAll("[aria-label]")) if (node.getAttribute("aria-label") === focus) { node.focus(); break; }
  }
  banner();
  buttons();
}

// The parts list shows the item in hand; while that stays the same it stays where somebody has scrolled it to.
function showItem(list, before) {
  if (!list) return;
  const item = list.querySelector(".now");
  if (before && before.now === list.dataset.now) list.scrollTop = before.top;
  else if (item) list.scrollTop += item.getBoundingClientRect().top - list.getBoundingClientRect().top - (list.clientHeight - item.offsetHeight) / 2;
}

function banner() {
  let text = "";
  if (lost) text = "no link, ask by radio" + (state ? `, last seen ${clock(state.now)}` : "");
  else if (state.broken) text = `old: ${state.broken}. ask by radio, last seen ${clock(state.board.time)}`;
  else {
    if (dead()) text = state.board.seq ? `nobody writes this journal; last written ${day(state.board.time)}. ` : "nobody writes this journal yet. ";
    if (state.board.halted) text += `SILENT SINCE ${state.board.halted.toUpperCase()} ${clock(state.board.halted_since)}. Go on by voice: go ahead`;
  }
  const box = $("banner");
  if (box.textContent !== text) box.textContent = text;
  box.hidden = !text;
  box.classList.toggle("halted", Boolean(!lost && state && state.board.halted)); // larger: it is read from two metres
  document.body.classList.toggle("lost", lost);
  document.body.classList.toggle("dead", !lost && dead());
  showClock();
}

// A clock that runs shows that the page does; without a link it stops, and without a writer the last line's time says it.
function showClock() {
  if (!state || lost) return;
  const at = new Date(now() + offset(state.now)).toISOString().slice(11, 19);
  const text = state.board.seq ? `${at}, last line ${day(state.board.time)}` : at;
  if ($("clock").textContent !== text) $("clock").textContent = text;
}

// Milliseconds that the clock where callout runs is ahead of Greenwich.
function offset(time) {
  const [, sign, hours, minutes] = /([+-])(\d\d):(\d\d)$/.exec(time) || [null, "+", 0, 0];
  return (sign === "-" ? -1 : 1) * (hours * 60 + Number(minutes)) * 60000;
}

function target(board) {
  return walked(board) || board.open.reduce((first, build) => (!first || build.build_id < first.build_id ? build : first), null);
}

function buttons() {
  const paired = Boolean(state && state.may && state.may.length);
  $("acts").hidden = !paired;
  $("foot").hidden = paired;
  const build = state && state.board ? target(state.board) : null;
  const dead = lost || Boolean(state && state.broken);
  for (const button of $("acts").querySelectorAll("button")) {
    const act = button.dataset.act;
    const idle = act !== "silence" && (!build || Boolean(state.board.halted) || pressed === place(build));
    const early = (act === "back" || act === "short") && build && !build.card;
    button.disabled = dead || !paired || !state.may.includes(act) || idle || Boolean(early);
  }
  if ($("pair")) $("pair").disabled = lost;
}

const place = (build) => (build ? `${build.build_id} ${build.card} ${build.walk}` : "");

async function send(path, body) {
  try {
    const response = await fetch(path, { signal: AbortSignal.timeout(NO_ANSWER), method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), credentials: "same-origin" });
    return await response.json();
  } catch (failed) {
    return { done: false, why: failed.name === "TimeoutError" ? "no answer, ask by radio" : "no link, ask by radio" };
  }
}

async function act(name, sure) {
  const build = state && !lost ? target(state.board) : null;
  if (lost || (!build && name !== "silence")) return;
  const body = { action: name, sure: Boolean(sure) };
  if (name !== "silence") {
    Object.assign(body, { build: build.build_id, card: build.card, walk: build.walk || 0 });
    pressed = place(build); // until it is answered: a second tap does nothing
    answeredAt = Infinity;
    pressedAt = performance.now();
    buttons();
  }
  const answer = await send("act/press", body);
  $("answer").textContent = answer.done ? answer.said : answer.why;
  answeredAt = answer.seq || 0;
  answered = null;
  pressedAt = performance.now();
  caughtUp();
  buttons();
}

// The buttons live again as soon as the board shows what the press has written, whether the walk went on or not. Once
// the walk has gone on by something else, the answer to the press is old.
function caughtUp() {
  const at = place(target(state.board));
  if (answeredAt === Infinity) {
    if (pressed && performance.now() - pressedAt > LOST_AFTER / 4) $("answer").textContent = "sent, no answer yet";
    return;
  }
  if (state.board.seq < answeredAt && performance.now() - pressedAt < DEAD) return;
  pressed = "";
  if (answered !== null && answered !== at) $("answer").textContent = "";
  answered = at;
}

function askShort() {
  const build = state ? target(state.board) : null;
  if (!build) return;
  const item = inHand(build), shown = place(build);
  $("sure-text").textContent = item ? `${left(item) || item.quantity} × ${item.name}: not there?` : "The part is not there?";
  $("sure").showModal();
  $("sure-yes").onclick = () => {
    $("sure").close();
    if (place(target(state.board)) === shown) act("short", true);
    else $("answer").textContent = "too late: the walk has gone on";
  };
}

function showDrawing(build) {
  $("drawing-what").textContent = `Drawing of build ${build.number}: ${called(build)}`;
  $("picture").alt = `Build ${build.number}, ${build.title}, ${called(build)}: drawing to scale`;
  $("picture").src = `drawing/${build.build_id}.svg?${encodeURIComponent(build.since || "")}-${build.walk || 0}`;
  $("drawing").showModal();
}

function setLight(name) {
  const root = document.documentElement;
  if (name === "as the device") delete root.dataset.light; else root.dataset.light = name;
  $("light").textContent = `Light: ${name}`;
  try { localStorage.setItem("light", name); } catch (denied) { /* it is asked again next time */ }
}

function alive() {
  heardAt = performance.now();
  if (lost) { lost = false; }
}

let stream = null;
function listen() {
  if (stream) stream.close();
  stream = new EventSource("events/stream");
  stream.addEventListener("board", (event) => {
    state = JSON.parse(event.data);
    ahead = Date.parse(state.now) - Date.now();
    caughtUp();
    alive();
    document.body.classList.remove("waiting");
    draw();
  });
  stream.addEventListener("beat", (event) => { if (state) state.now = JSON.parse(event.data).now; alive(); if (state) draw(); });
  stream.onerror = () => { lost = true; banner(); buttons(); };
}

function tick() {
  if (!lost && performance.now() - heardAt > LOST_AFTER) { lost = true; listen(); }
  if (stream && stream.readyState === EventSource.CLOSED) listen();
  for (const node of document.querySelectorAll("[data-since]")) {
    const text = ago(node.dataset.since);
    if (!lost && node.textContent !== text) node.textContent = text;
  }
  if (state) {
    caughtUp();
    draw(); // a look that has become due
  }
  banner();
  buttons();
}

for (const button of document.querySelectorAll("[data-view]")) button.addEventListener("click", () => {
  view = button.dataset.view;
  for (const other of document.querySelectorAll("[data-view]")) other.setAttribute("aria-pressed", String(other === button));
  draw();
});
for (const button of $("acts").querySelectorAll("button")) button.addEventListener("click", () => (button.dataset.act === "short" ? askShort() : act(button.dataset.act)));
$("sure-no").addEventListener("click", () => $("sure").close());
$("drawing-no").addEventListener("click", () => $("drawing").close());
const LIGHTS = ["as the device", "sun", "dark", "night red"];
$("light").addEventListener("click", () => setLight(LIGHTS[(LIGHTS.indexOf(document.documentElement.dataset.light || "as the device") + 1) % LIGHTS.length]));
try { const kept = localStorage.getItem("light"); if (LIGHTS.includes(kept)) setLight(kept); } catch (denied) { /* as the device */ }
if ($("pair")) {
  $("pair").addEventListener("click", () => { $("pairing-why").textContent = ""; $("code").value = ""; $("pairing").showModal(); });
  $("pairing-no").addEventListener("click", () => $("pairing").close());
  $("pairing-ask").addEventListener("click", async () => {
    const answer = await send("pair/ask", {});
    $("pairing-why").textContent = answer.done ? "The code was spoken and shown; it holds three minutes." : answer.why;
    $("code").focus();
  });
  const give = async () => {
    const answer = await send("pair/code", { code: $("code").value });
    if (answer.done) { $("pairing").close(); listen(); $("ready").focus(); } else $("pairing-why").textContent = answer.why;
  };
  $("pairing-yes").addEventListener("click", give);
  $("code").addEventListener("keydown", (event) => { if (event.key === "Enter") give(); });
}
banner();
buttons();
listen();
setInterval(tick, 1000);
