// Everything that is called out: cues when they fall due, moves on their beat, notes when they are new. Whatever is
// said stands on the screen too: a cue as the text of the moment, anything else as the line of `say`.

import { patternLasts, said } from "./run.js";
import * as sound from "./sound.js";
import * as store from "./store.js";
import { $, view } from "./view.js";
import * as w from "./words.js";

const SHOWN = 12; // s that a line stands
const BRIEF = 3; // s that it stands beside a new cue
const CONFIRM = 8; // s in which a press that is asked for twice must come again

// Say `text`, show it, and sound `tone`.
export function say(text, { tone = "", urgent = false } = {}) {
  view.line = { text, until: store.now() + SHOWN };
  view.drawn = "";
  if (tone) sound.tone(tone);
  sound.speak(text, { urgent });
}

export function sayWords(key, numbers = {}, options = {}) {
  say(w.fill(w.words.table.say[key].text, numbers), options);
}

export function numbersOf(m) {
  const known = Object.fromEntries(m.instants.map((i) => [`${i.name}_at`, i.at]));
  return { ...known, until_s: (m.until ?? store.now()) - store.now(), until_at: m.until, lag_s: m.lag };
}

// Say what fell due since the last look; after sleep only the newest cue.
export function announce(m, at) {
  if (view.doubtful && at - view.doubtful > CONFIRM) view.doubtful = 0;
  if (view.line && at > view.line.until) view.line = null;
  cues(m);
  beats(m, at);
  steps(m);
  doubts(m);
  notes(m);
}

function cues(m) {
  const cue = m.cue === null ? null : store.state.score.cues[m.shot][m.cue];
  const id = cue ? `${m.shot}.${m.attempt}.${m.cue}` : "";
  if (id === view.cue) return;
  const first = view.moment === null;
  view.cue = id;
  if (!cue || (first && !cue.stage)) return;
  if (!first) sound.tone(cue.tone);
  const left = m.instants.find((i) => i.name === "stop").at - store.now();
  const key = said(cue.say, m.lag, left);
  const text = w.fill(w.words.table.say[key].text, { ...numbersOf(m), ...cue.numbers });
  const until = store.now() + BRIEF;
  if (view.line) view.line.until = Math.min(view.line.until, until); // the cue's own words come up
  else view.line = { text, until, key };
  sound.speak(text, { urgent: Boolean(cue.stage) });
}

// A new push is named and has its own tone; each whole turn of a push under way is a beat.
function beats(m, at) {
  const before = view.beats;
  const pushes = pushesAt(m, at);
  view.beats = new Map(pushes.map((push) => [push.n, push.turned]));
  const fresh = pushes.filter((push) => !before.has(push.n)).map((push) => push.move);
  for (const move of fresh.filter((one) => one.turns)) sound.tone(moveName(move));
  for (const { n, turned, move } of pushes) if (before.has(n) && turned > before.get(n)) sound.tone(`${move.axis}_beat`);
  if (fresh.length && !window.speechSynthesis?.speaking)
    sound.speak(fresh.map((move) => w.words.table.move[moveName(move)]).join(", "));
}

// The pushes that go on now: index, move, whole turns done, and what is left of it [s, turns].
export function pushesAt(m, at) {
  if (!m.moves.length) return [];
  const { moves } = store.state.score.plan.shots[m.shot];
  const t = (at - m.instants.find((i) => i.name === "closed").at) % patternLasts(moves);
  return m.moves.map((n) => {
    const move = moves[n];
    const left = move.starts + move.lasts - t;
    const turns = (Math.abs(move.turns) * left) / move.lasts;
    return { n, move, turned: Math.floor(Math.abs(move.turns) - turns), left, turnsLeft: turns };
  });
}

export function moveName(move) {
  return `${move.axis}_${move.turns > 0 ? "forth" : move.turns < 0 ? "back" : "rest"}`;
}

function steps(m) {
  if (m.stage || m.step === view.step) return;
  view.step = m.step;
  const step = store.state.score.steps.find((one) => one.key === m.step);
  if (step && $("start").hidden) sound.speak(w.words.table.step[step.say]); // stands as the step's title
}

function doubts(m) {
  const id = m.doubt ? JSON.stringify(m.doubt) : "";
  if (id === view.doubt) return;
  view.doubt = id;
  if (!m.doubt) return;
  sound.tone("late");
  sound.speak(doubtText(m.doubt), { urgent: true });
}

export function doubtText(doubt) {
  const numbers = { shot: doubt.shot, mass_kg: doubt.mass_kg, off_share: Math.abs(doubt.off_share) };
  return w.fill(w.words.table.say[`ratio_${doubt.more}`].text, numbers);
}

// What the facts changed: of the shot that runs and the ones after it.
export function adviceOf(m) {
  return store.state.score.plan.notes
    .filter((note) => note.shot === null || note.shot >= (m.shot ?? 0))
    .map((note) => w.fill(w.words.table.note[note.say], note.numbers));
}

function notes(m) {
  const keys = new Set(store.state.score.plan.notes.map((note) => `${note.say}.${note.shot}`));
  const known = view.notes;
  view.notes = keys;
  if (known === null) return;
  const fresh = store.state.score.plan.notes.filter(
    (note) => !known.has(`${note.say}.${note.shot}`) && (note.shot === null || note.shot >= (m.shot ?? 0)),
  );
  for (const note of fresh) sound.speak(w.fill(w.words.table.note[note.say], note.numbers)); // stands as advice
  if (fresh.length) sound.tone("late");
}
