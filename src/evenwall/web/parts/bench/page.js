// The bench's page: what the moment says is shown, spoken and sounded; a press enters what the bar at the foot says.

import { announce, sayWords } from "./calls.js";
import { dryRun, lastEntry, moment, standing } from "./run.js";
import { count, draw } from "./show.js";
import { openMenu, openAmount, openTemperature } from "./sheets.js";
import { boxText } from "./steps.js";
import * as photos from "./photos.js";
import * as sound from "./sound.js";
import * as store from "./store.js";
import { $, view } from "./view.js";
import * as w from "./words.js";

const TICK = 100; // ms between looks at the clock
const SYNC = 2000; // ms between looks at the server
const BOUNCE = 1.2; // s: a second press so soon is the same press
const SOONEST = 0.5; // a cup that gels before this share of its forecast is asked for twice

async function start() {
  store.recall();
  await Promise.all([w.load(), store.sync()]);
  labels();
  document.addEventListener("click", tapped);
  document.addEventListener("keydown", keyed);
  document.addEventListener("visibilitychange", woke);
  addEventListener("online", () => store.sync());
  setInterval(() => photos.waiting.size && store.state.net === "there" && photos.send(), SYNC);
  $("start").hidden = false;
  setInterval(() => store.sync(), SYNC);
  setInterval(tick, TICK);
  tick();
  photos.recall();
}

function labels() {
  const [title, why, how, button, note] = $("start").firstElementChild.children;
  title.textContent = w.page("start");
  why.textContent = w.page("start_why");
  how.textContent = w.page("start_how", { voice: sound.canListen() ? w.page("voice_too") : "" });
  button.textContent = w.page("start");
  note.textContent = isSecureContext ? "" : w.page("reload");
  $("undo").textContent = w.page("undo");
  $("menu").setAttribute("aria-label", w.page("menu"));
  const slips = [
    ["late", () => slip("poured")],
    ["spoilt", () => slip("spoilt")],
    ["amount", () => openAmount(view.moment, changed)],
    ["colder", () => openTemperature(changed)],
  ];
  $("slips").replaceChildren(...slips.map(([key, act]) => slipButton(key, act)));
  view.drawn = "";
}

function slipButton(key, act) {
  const one = document.createElement("button");
  one.type = "button";
  one.name = key;
  one.textContent = w.page(key);
  one.onclick = act;
  return one;
}

function tick() {
  store.watchClock();
  if (!store.state.score) {
    $("net").textContent = w.page("server_gone");
    return;
  }
  w.nameShots(store.state.score.plan.shots);
  const at = store.now();
  const m = moment(store.state.score, store.events(), at);
  announce(m, at);
  view.moment = m;
  const key = JSON.stringify([m.step, m.shot, m.attempt, m.stage, m.say, m.press, m.doubt, store.state.changed, store.state.net,
    w.words.code, w.settings.units, view.awake, view.line, view.doubtful]);
  if (key === view.drawn) return count(m, at);
  draw(m, at, { changed });
  view.drawn = key;
  return undefined;
}

function changed() {
  view.drawn = "";
  tick();
}

function tapped(event) {
  if (event.target.closest("button, input, select, label, dialog, a")) return;
  press();
}

function keyed(event) {
  const field = event.target.closest("input, select, textarea");
  if (field || event.repeat || event.ctrlKey || event.metaKey || event.altKey) return;
  if (["Tab", "Shift", "Control", "Alt", "Meta", "CapsLock", "Escape", "F5", "F11", "F12"].includes(event.key)) return;
  if (event.target.closest("button") && [" ", "Enter"].includes(event.key)) return;
  event.preventDefault();
  $("sheet").close(); // a sheet left open does not swallow a pedal
  if (["Backspace", "Delete"].includes(event.key)) undo();
  else press();
}

function press() {
  const at = store.now();
  sound.unlock();
  const unlocking = !$("start").hidden;
  if (unlocking) begin();
  const m = moment(store.state.score, store.events(), at);
  if (unlocking && m.shot === null) return;
  if (at - view.lastPress < BOUNCE || !m.press) return;
  view.lastPress = at;
  if (m.press.kind === "gelled" && soon(m, at) && !view.doubtful) {
    view.doubtful = at;
    sound.tone("ask");
    sound.speak(w.words.table.press.confirm, { urgent: true }); // stands in the bar at the foot
    changed();
    return;
  }
  view.doubtful = 0;
  store.add(m.press.kind, { ...m.press, at });
  sound.tone("press");
  pressed(m, at);
  changed();
}

// What is said back to a press: one thing, a warning before a confirmation.
function pressed(m, at) {
  const due = Object.fromEntries(m.instants.map((i) => [i.name, i.at]));
  if (m.press.item === "opening.waited" && at < due.open) sayWords("open_early", { early_s: due.open - at }, { tone: "late" });
  else if (m.press.kind === "mixed" && at < due.mix_from) sayWords("mix_early", { early_s: due.mix_from - at }, { tone: "late" });
  else if (m.press.kind === "dry") dryCalled(m.press.item);
  else if (m.press.kind === "tick") sayWords("ticked", { box: boxText(store.state.score, m.press.item) });
}

function dryCalled(phase) {
  const next = { start: "dry_closed", closed: "dry_turned", turned: "dry_opened" }[phase];
  if (next) return sayWords(next);
  const took = dryRun(standing(store.events()));
  return sayWords("dry_done", { close_s: took.closed ?? null, wet_s: took.turned ?? null, open_s: took.opened ?? null });
}

function soon(m, at) {
  const mixed = m.instants.find((i) => i.name === "mixed").at;
  return at < mixed + SOONEST * store.state.score.plan.shots[m.shot].gel_cup;
}

function begin() {
  $("start").hidden = true;
  sound.unlock();
  sound.stayAwake().then((awake) => {
    view.awake = awake;
  });
  if (w.settings.listen) sound.listen(heard);
}

function heard(kind) {
  const m = view.moment;
  if (kind === "undo") undo();
  else if (m?.press && (m.press.kind === kind || (kind === "tick" && ["tick", "dry"].includes(m.press.kind)))) press();
}

function slip(kind) {
  const m = view.moment;
  if (m.shot === null) return;
  store.add(kind, { shot: m.shot, attempt: m.attempt });
  sound.tone("press");
  if (kind === "spoilt") sayWords("let_it_set");
  changed();
}

function undo() {
  const last = lastEntry(store.events());
  if (!last) return;
  store.add("undo", { target: last.id });
  sayWords("undone", {}, { tone: "undo" });
  changed();
}

function woke() {
  if (document.visibilityState !== "visible") return;
  if (view.awake) sound.stayAwake();
  store.sync();
  tick();
}

addEventListener("resize", () => changed());
$("undo").onclick = undo;
$("menu").onclick = () => openMenu({ labels, changed, heard });
$("start").querySelector("button").onclick = () => {
  begin();
  changed();
};

await start();
