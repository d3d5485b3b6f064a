// The bench's page: what the moment says is shown, spoken and sounded; a press enters what the bar at the foot says.

import { attemptOf, moment, patternLasts, said, standing } from "./run.js";
import { fit } from "./fit.js";
import { showStep, boxText } from "./steps.js";
import { openMenu, openAmount, openTemperature } from "./sheets.js";
import * as sound from "./sound.js";
import * as store from "./store.js";
import * as w from "./words.js";

const TICK = 100; // ms between looks at the clock
const SYNC = 2000; // ms between looks at the server
const BOUNCE = 1.2; // s: a second press so soon is the same press
const SOONEST = 0.5; // a cup that gels before this share of its forecast is asked for twice
const CONFIRM = 8; // s in which the second press must come
const LATE = 3; // s after which a cue is no longer called, only shown
const BUSY = ["stir", "pour", "close", "wet", "turn", "brush", "wipe", "prop"];

const $ = (id) => document.getElementById(id);
const view = { moment: null, cue: "", move: "", step: "", lastPress: 0, doubtful: 0, awake: null, drawn: "", line: null };

async function start() {
  store.recall();
  await Promise.all([w.load(), store.sync()]);
  labels();
  document.addEventListener("click", tapped);
  document.addEventListener("keydown", keyed);
  document.addEventListener("visibilitychange", woke);
  addEventListener("online", () => store.sync());
  $("start").hidden = false;
  setInterval(() => store.sync(), SYNC);
  setInterval(tick, TICK);
  tick();
}

export function labels() {
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
  $("slips").replaceChildren(...slips.map(([key, act]) => button_(w.page(key), act, key)));
  view.drawn = "";
}

function button_(text, act, name) {
  const one = document.createElement("button");
  one.type = "button";
  one.name = name;
  one.textContent = text;
  one.onclick = act;
  return one;
}

function tick() {
  store.watchClock();
  if (!store.state.score) {
    $("net").textContent = w.page("server_gone");
    return;
  }
  const at = store.now();
  const m = moment(store.state.score, store.events(), at);
  announce(m, at);
  view.moment = m;
  const key = JSON.stringify([m.step, m.shot, m.attempt, m.stage, m.say, m.press, store.state.changed, store.state.net,
    w.words.code, w.settings.units, view.awake, view.line, view.doubtful]);
  if (key !== view.drawn) {
    draw(m, at);
    view.drawn = key;
  }
  count(m, at);
}

function draw(m, at) {
  const { score } = store.state;
  const counted = standing(store.events());
  const step = score.steps.find((one) => one.key === m.step) ?? null;
  const busy = BUSY.includes(m.stage);
  const mixing = !busy && step?.kind === "mix";
  const finished = step === null && !busy;
  $("name").textContent = score.plan.name;
  $("now").hidden = !(busy || mixing || m.stage || finished);
  $("now").classList.toggle("small", !busy && !mixing && !finished);
  $("now").dataset.stage = finished ? "done" : m.stage;
  $("step").hidden = busy || mixing || finished;
  for (const slip of $("slips").children) slip.hidden = !slipsOf(m).includes(slip.name);
  $("slips").hidden = !busy || slipsOf(m).length === 0;
  document.body.dataset.stage = m.stage;
  const { key, numbers } = saying(m, step, { mixing, finished });
  const spoken = w.words.table.say[key] ?? { big: "", text: "" };
  $("big").dataset.text = spoken.big;
  const fresh = view.line && at < view.line.until ? view.line.text : "";
  $("text").textContent = fresh || w.fill(spoken.text, numbers);
  $("shot").textContent = m.shot === null ? "" : score.plan.shots[m.shot].name;
  $("then").textContent = mixing && m.shot !== null ? thenText(m) : m.stage ? thenText(m) : "";
  if (!$("step").hidden) showStep(step, counted, { press: m.press, changed });
  $("skip").textContent = w.page("skip");
  $("skip").hidden = !step || step.kind === "mix";
  $("skip").onclick = () => {
    store.add("tick", { item: step.key, shot: step.shot });
    changed();
  };
  $("press").textContent = pressText(m);
  $("press").dataset.kind = m.press?.kind ?? "";
  network();
  fit($("big"));
}

// What can go wrong at this stage and be told by one press or one number.
function slipsOf(m) {
  if (["stir", "brush"].includes(m.stage)) return ["spoilt", "colder"];
  if (["pour", "close", "wet"].includes(m.stage)) return ["late", "spoilt", "amount", "colder"];
  return m.stage === "turn" || m.stage === "stand" ? ["amount", "colder"] : [];
}

// Which words stand on the screen: those of the shot's stage, of the mixing to come, or of the end.
function saying(m, step, { mixing, finished }) {
  const { score } = store.state;
  if (finished) return { key: m.stage === "rest" ? m.say : "finished", numbers: numbersOf(m) };
  if (mixing && !["rest", "ready", "over"].includes(m.stage)) {
    const shot = score.plan.shots[step.shot];
    const again = attemptOf(standing(store.events()), step.shot) > 0;
    return { key: again ? "let_it_set" : "mix", numbers: { shot: shot.name, mass_kg: massOf(shot) } };
  }
  const cue = m.shown === null ? null : score.cues[m.shot][m.shown];
  return { key: m.say, numbers: { ...numbersOf(m), ...(cue?.numbers ?? {}) } };
}

function massOf(shot) {
  return shot.mass_a + shot.mass_b + shot.mass_pigment;
}

function numbersOf(m) {
  const known = Object.fromEntries(m.instants.map((i) => [`${i.name}_at`, i.at]));
  return { ...known, until_s: (m.until ?? store.now()) - store.now(), until_at: m.until, lag_s: m.lag };
}

function thenText(m) {
  const at = store.now();
  const shown = ["pour_by", "close_by", "cup", "film", "stop", "mix_from", "open"];
  const next = m.instants.filter((i) => i.at > at && shown.includes(i.name) && i.at !== m.until).slice(0, 2);
  return next
    .map((i) => `${w.words.table.instant[i.name]} ${w.clock(i.at, i.at - at < 600)}`)
    .join("  ·  ");
}

function pressText(m) {
  if (view.doubtful) return w.words.table.press.confirm;
  if (!m.press) return w.words.table.press.none;
  const box = m.press.item ? boxText(store.state.score, m.press.item) : "";
  return w.fill(w.words.table.press[m.press.kind], { box });
}

function count(m, at) {
  const left = m.until === null ? null : m.until - at;
  const waiting = $("now").classList.contains("small") || !$("step").hidden;
  $("count").textContent = left === null ? "" : w.counter(left);
  $("count").classList.toggle("over", left !== null && left < 0);
  const since = m.instants.find((i) => i.name === "mixed")?.at ?? at;
  const share = left === null ? 0 : Math.min(1, Math.max(0, (at - since) / Math.max(1, m.until - since)));
  $("bar").firstElementChild.style.width = `${(share * 100).toFixed(1)}%`;
  $("count").dataset.small = waiting;
  moves(m, at);
}

// Both axes side by side: what they do now, and how long still.
function moves(m, at) {
  const list = $("moves");
  list.hidden = m.moves.length === 0;
  if (list.hidden) return;
  const plan = store.state.score.plan.shots[m.shot];
  const closed = m.instants.find((i) => i.name === "closed").at;
  const t = (at - closed) % patternLasts(plan.moves);
  const going = m.moves.map((n) => plan.moves[n]).sort((a, b) => (a.axis < b.axis ? 1 : -1));
  list.replaceChildren(
    ...going.map((move) => {
      const row = document.createElement("li");
      const name = moveName(move);
      row.dataset.move = name;
      const turns = move.turns ? ` ${fraction(Math.abs(move.turns))}` : "";
      row.textContent = `${w.words.table.move[name]}${turns}`;
      const left = document.createElement("b");
      left.textContent = Math.ceil(move.starts + move.lasts - t);
      row.append(left);
      return row;
    }),
  );
}

function fraction(turns) {
  const quarters = Math.round(turns * 4);
  const rest = ["", "¼", "½", "¾"][quarters % 4];
  return `${Math.floor(quarters / 4) || (rest ? "" : 0)}${rest}`;
}

function moveName(move) {
  return `${move.axis}_${move.turns > 0 ? "forth" : move.turns < 0 ? "back" : "rest"}`;
}

// Say a cue when it falls due; after sleep only the newest, and moves only on their beat.
function announce(m, at) {
  const cue = m.cue === null ? null : store.state.score.cues[m.shot][m.cue];
  const id = cue ? `${m.shot}.${m.attempt}.${m.cue}` : "";
  if (id !== view.cue) {
    const first = view.moment === null;
    view.cue = id;
    if (cue && !(first && !cue.stage)) call(m, cue, first);
  }
  const beat = m.moves.join();
  if (beat !== view.move) {
    const before = view.move.split(",");
    view.move = beat;
    const turned = m.moves.filter((n) => !before.includes(String(n))).map((n) => store.state.score.plan.shots[m.shot].moves[n]);
    for (const move of turned.filter((one) => one.turns)) sound.tone(moveName(move));
    if (turned.length && !window.speechSynthesis?.speaking)
      sound.speak(turned.map((move) => w.words.table.move[moveName(move)]).join(", "));
  }
  if (!m.stage && m.step !== view.step) {
    view.step = m.step;
    const step = store.state.score.steps.find((one) => one.key === m.step);
    if (step && !$("start").offsetParent) sound.speak(w.words.table.step[step.say]);
  }
  if (view.doubtful && at - view.doubtful > CONFIRM) view.doubtful = 0;
  if (view.line && at > view.line.until) view.line = null;
}

function call(m, cue, quiet) {
  const text = w.fill(w.words.table.say[said(cue.say, m.lag)].text, { ...numbersOf(m), ...cue.numbers });
  view.line = null;
  if (!quiet) sound.tone(cue.tone);
  sound.speak(text, { urgent: Boolean(cue.stage) });
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

export function press() {
  const at = store.now();
  sound.unlock();
  const unlocking = !$("start").hidden;
  if (unlocking) begin();
  const m = moment(store.state.score, store.events(), at);
  if (unlocking && m.shot === null) return;
  if (at - view.lastPress < BOUNCE || !m.press) return;
  view.lastPress = at;
  if (m.press.kind === "gelled" && doubtful(m, at)) {
    view.doubtful = at;
    sound.tone("ask");
    sound.speak(w.words.table.press.confirm, { urgent: true });
    return;
  }
  view.doubtful = 0;
  store.add(m.press.kind, { ...m.press, at });
  sound.tone("press");
  if (m.press.kind === "dry") dryCalled(m.press.item);
  if (m.press.kind === "tick") sound.speak(w.fill(w.words.table.say.ticked.text, { box: boxText(store.state.score, m.press.item) }));
  if (m.press.kind === "mixed") early(m, at);
  changed();
}

function dryCalled(phase) {
  const next = { start: "dry_closed", closed: "dry_turned", turned: "dry_opened" }[phase];
  if (next) line(next);
}

function early(m, at) {
  const from = m.instants.find((i) => i.name === "mix_from");
  if (from && at < from.at) line("mix_early", { early_s: from.at - at }, "late");
}

function line(key, numbers = {}, tone = "") {
  const text = w.fill(w.words.table.say[key].text, numbers);
  view.line = { text, until: store.now() + 12 };
  if (tone) sound.tone(tone);
  sound.speak(text);
}

function doubtful(m, at) {
  const mixed = m.instants.find((i) => i.name === "mixed").at;
  const soon = at < mixed + SOONEST * store.state.score.plan.shots[m.shot].gel_cup;
  return soon && !(view.doubtful && at - view.doubtful < CONFIRM);
}

function begin() {
  $("start").hidden = true;
  sound.unlock();
  sound.stayAwake().then((awake) => {
    view.awake = awake;
  });
  if (w.settings.listen) sound.listen(heard);
}

export function heard(kind) {
  const m = view.moment;
  if (kind === "undo") undo();
  else if (m?.press && (m.press.kind === kind || (kind === "tick" && ["tick", "dry"].includes(m.press.kind)))) press();
}

function slip(kind) {
  const m = view.moment;
  if (m.shot === null) return;
  store.add(kind, { shot: m.shot, attempt: m.attempt });
  sound.tone("press");
  if (kind === "spoilt") line("let_it_set");
  changed();
}

export function undo() {
  const last = standing(store.events())
    .filter((e) => e.kind !== "photo")
    .sort((a, b) => a.stamped - b.stamped)
    .at(-1);
  if (!last) return;
  store.add("undo", { target: last.id });
  sound.tone("undo");
  line("undone");
  changed();
}

export function changed() {
  view.drawn = "";
  tick();
}

function network() {
  const { net, pending } = store.state;
  const waiting = pending.length ? w.page("waiting", { count: String(pending.length) }) : "";
  $("net").textContent = net === "there" ? "●" : waiting || "○";
  $("net").title = net === "there" ? w.page("safe") : w.page("server_gone");
  $("net").dataset.net = net;
  const notes = [];
  if (net === "gone") notes.push(w.page("server_gone"));
  if (net === "refused") notes.push(w.page("refused"));
  if (net !== "there" && !isSecureContext) notes.push(w.page("reload"));
  if (view.awake === false) notes.push(w.page("not_awake"));
  if (store.photosWaiting()) notes.push(w.page("photo_waits"));
  notes.push(...store.state.score.plan.notes);
  $("notes").textContent = notes.join(" ");
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
