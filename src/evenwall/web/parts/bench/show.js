// The screen: one big word, what it counts down to, the boxes of a step, and what a press would enter.

import { adviceOf, doubtText, moveName, numbersOf, pushesAt } from "./calls.js";
import { fitAll } from "./fit.js";
import { attemptOf, dryNow, standing } from "./run.js";
import { showStep, boxText } from "./steps.js";
import * as photos from "./photos.js";
import * as store from "./store.js";
import { $, BUSY, view } from "./view.js";
import * as w from "./words.js";

const LONG = 2; // turns of a push from which they are counted down
const STEADY = 20; // turns of a push from which its rate is shown

export function draw(m, at, { changed }) {
  const { score } = store.state;
  const counted = standing(store.events());
  const step = score.steps.find((one) => one.key === m.step) ?? null;
  const busy = BUSY.includes(m.stage);
  const mixing = !busy && step?.kind === "mix";
  const finished = step === null && !busy;
  const dry = !busy && step?.kind === "dry" ? dryNow(counted) : null;
  const large = busy || mixing || finished || dry?.since != null;
  $("name").textContent = score.plan.name;
  $("now").hidden = !(large || m.stage);
  $("now").classList.toggle("small", !large);
  $("now").dataset.stage = finished ? "done" : dry ? "dry" : m.stage;
  $("step").hidden = large;
  for (const slip of $("slips").children) slip.hidden = !slipsOf(m).includes(slip.name);
  $("slips").hidden = !busy || slipsOf(m).length === 0;
  document.body.dataset.stage = m.stage;
  const { key, numbers } = saying(m, step, { mixing, finished, dry });
  const spoken = w.words.table.say[key] ?? { big: "", text: "" };
  $("big").dataset.text = spoken.big;
  const line = view.line && at < view.line.until && view.line.key !== key ? view.line.text : "";
  $("text").textContent = w.fill(spoken.text, numbers);
  $("said").textContent = line === $("text").textContent ? "" : line;
  $("shot").textContent = m.shot === null ? "" : w.shotName(m.shot);
  $("then").textContent = m.stage ? thenText(m) : "";
  if (!large) showStep(step, counted, { press: m.press, changed });
  showDoubt(m, changed);
  $("skip").textContent = w.page("skip");
  $("skip").hidden = !step || step.kind === "mix" || m.doubt !== null;
  $("skip").onclick = () => {
    store.add("tick", { item: step.key, shot: step.shot });
    changed();
  };
  $("press").textContent = pressText(m);
  $("press").dataset.kind = view.doubtful ? "confirm" : m.press?.kind ?? "";
  network(m);
  count(m, at);
  fitAll($("main"), $("now"), $("big"));
}

function showDoubt(m, changed) {
  const [text, button] = $("doubt").children;
  $("doubt").hidden = m.doubt === null;
  if (m.doubt === null) return;
  text.textContent = doubtText(m.doubt);
  button.textContent = w.page("use_anyway");
  button.onclick = () => {
    store.add("tick", { item: `ratio.${m.doubt.shot}`, shot: m.doubt.shot });
    changed();
  };
}

// What can go wrong at this stage and be told by one press or one number.
function slipsOf(m) {
  if (["stir", "brush"].includes(m.stage)) return ["spoilt", "colder"];
  if (["pour", "close", "wet"].includes(m.stage)) return ["late", "spoilt", "amount", "colder"];
  return m.stage === "turn" || m.stage === "stand" ? ["amount", "colder"] : [];
}

// Which words stand on the screen: those of the shot's stage, of the dry run, of the mixing to come, or of the end.
function saying(m, step, { mixing, finished, dry }) {
  const { score } = store.state;
  if (finished) return { key: m.stage === "rest" ? m.say : "finished", numbers: numbersOf(m) };
  if (dry?.since != null) return { key: `dry_${dry.next}`, numbers: {} };
  if (mixing && !["rest", "ready", "over"].includes(m.stage)) {
    const shot = score.plan.shots[step.shot];
    const again = attemptOf(standing(store.events()), step.shot) > 0;
    const mass = shot.mass_a + shot.mass_b + shot.mass_pigment;
    return { key: again ? "let_it_set" : "mix", numbers: { shot: step.shot, mass_kg: mass } };
  }
  const cue = m.shown === null ? null : score.cues[m.shot][m.shown];
  return { key: m.say, numbers: { ...numbersOf(m), ...(cue?.numbers ?? {}) } };
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

export function count(m, at) {
  const dry = $("now").dataset.stage === "dry" ? dryNow(standing(store.events())) : null;
  const left = dry?.since != null ? dry.since - at : m.until === null ? null : m.until - at;
  $("count").textContent = left === null ? "" : w.counter(dry ? at - dry.since : left);
  $("count").classList.toggle("over", left !== null && left < 0 && !dry);
  const since = m.instants.find((i) => i.name === "mixed")?.at ?? at;
  const share = left === null || dry ? 0 : Math.min(1, Math.max(0, (at - since) / Math.max(1, m.until - since)));
  $("bar").hidden = left === null || dry !== null;
  $("bar").firstElementChild.style.width = `${(share * 100).toFixed(1)}%`;
  moves(m, at);
}

// Both axes side by side: what they do now, and how long still. Of a long push the turns are counted; one that goes
// on and on has its rate.
function moves(m, at) {
  const list = $("moves");
  const pushes = pushesAt(m, at).sort((a, b) => (a.move.axis < b.move.axis ? 1 : -1));
  list.hidden = pushes.length === 0;
  list.replaceChildren(
    ...pushes.map(({ move, left, turnsLeft }) => {
      const row = document.createElement("li");
      const turns = Math.abs(move.turns);
      row.dataset.move = moveName(move);
      row.textContent = w.words.table.move[row.dataset.move];
      const more = document.createElement("b");
      if (turns > STEADY) more.textContent = w.fill(w.words.table.move.rate, { rate: String(Math.round((60 * turns) / move.lasts)) });
      else {
        if (turns) row.textContent += ` ${fraction(turns)}`;
        more.textContent = turns > LONG ? `${Math.ceil(turnsLeft)} ×` : Math.ceil(left);
      }
      row.append(more);
      return row;
    }),
  );
}

function fraction(turns) {
  const quarters = Math.round(turns * 4);
  const rest = ["", "¼", "½", "¾"][quarters % 4];
  return `${Math.floor(quarters / 4) || (rest ? "" : 0)}${rest}`;
}

function network(m) {
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
  if (store.state.aside.length) notes.push(w.page("aside", { why: store.state.aside.at(-1).why }));
  if (store.state.full) notes.push(w.page("full"));
  if (photos.waiting.size) notes.push(w.page(store.state.forgetful ? "photo_lost" : "photo_waits"));
  $("notes").textContent = notes.join(" ");
  const lines = adviceOf(m).map((text) => Object.assign(document.createElement("li"), { textContent: text }));
  $("advice").replaceChildren(...lines);
}
