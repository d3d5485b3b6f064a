// What happens now and next: the same function as evenwall.bench.run, so that the page goes on without the server.
// A test holds both to the same answers. Instants are seconds since 1970 of the server's clock.

const WEIGHING = "weigh";
const QUICKEST = 2;
const PROPPING = 8;
const OPENING = 10;
const SOONER = 60;
const SAME = 5;
const PASSING = 8;
const PHASES = ["start", "closed", "turned", "opened"];
const PRESSED = ["mixed", "poured", "closed", "gelled"];

const order = (...keys) => (a, b) => {
  for (const key of keys) {
    if (a[key] < b[key]) return -1;
    if (a[key] > b[key]) return 1;
  }
  return 0;
};

export function standing(events) {
  const known = new Map(events.map((e) => [e.id, e]));
  const all = [...known.values()];
  const undone = new Set(all.filter((e) => e.kind === "undo").map((e) => e.target));
  const moved = new Map();
  for (const e of [...all].sort(order("stamped", "id")))
    if (e.kind === "mend" && !undone.has(e.id) && known.has(e.target)) moved.set(e.target, e.at);
  return all
    .filter((e) => e.kind !== "undo" && e.kind !== "mend" && !undone.has(e.id))
    .map((e) => (moved.has(e.id) ? { ...e, at: moved.get(e.id), mended: true } : e))
    .sort(order("at", "stamped", "id"));
}

export function attemptOf(counted, shot) {
  return new Set(counted.filter((e) => e.kind === "spoilt" && e.shot === shot).map((e) => e.attempt)).size;
}

export function instantOf(counted, kind, shot, attempt) {
  return counted.find((e) => e.kind === kind && e.shot === shot && e.attempt === attempt) ?? null;
}

export function dryRun(counted) {
  const tries = [...new Set(counted.filter((e) => e.kind === "dry").map((e) => e.attempt))].sort((a, b) => b - a);
  for (const attempt of tries) {
    const pressed = {};
    for (const e of [...counted].reverse()) if (e.kind === "dry" && e.attempt === attempt) pressed[e.item] = e.at;
    if (!("start" in pressed && "closed" in pressed)) continue;
    const had = PHASES.filter((name) => name in pressed);
    const lasts = had.slice(1).map((name, n) => [name, pressed[name] - pressed[had[n]]]);
    return Object.fromEntries(lasts.filter(([, length]) => length >= QUICKEST));
  }
  return {};
}

// The dry run under way: its attempt, the phase that is pressed next (null: all had), and when the last one was.
export function dryNow(counted) {
  const dry = counted.filter((e) => e.kind === "dry");
  const attempt = Math.max(0, ...dry.map((e) => e.attempt));
  const had = dry.filter((e) => e.attempt === attempt);
  const next = PHASES.find((name) => !had.some((e) => e.item === name)) ?? null;
  return { attempt, next, since: had.length ? Math.max(...had.map((e) => e.at)) : null };
}

// The entry that Undo takes back: the one made last, mended times too.
export function lastEntry(events) {
  const undone = new Set(events.filter((e) => e.kind === "undo").map((e) => e.target));
  const able = events.filter((e) => !["undo", "photo"].includes(e.kind) && !undone.has(e.id));
  return [...able].sort(order("stamped", "id")).at(-1) ?? null;
}

export function moment(score, events, at) {
  const counted = standing(events);
  const place = running(score, counted);
  const step = stepOf(score, counted);
  const doubt = step?.key === WEIGHING ? doubtsOf(score.plan, counted)[0] ?? null : null;
  let press = doubt ? null : pressOf(step, counted);
  if (place === null) {
    const waiting = step && step.kind === "mix" ? attemptOf(counted, step.shot) : 0;
    return { step: step ? step.key : "", shot: null, attempt: waiting, stage: "", until: null, cue: null, shown: null, say: "",
      press, instants: [], lag: null, moves: [], doubt };
  }
  const attempt = attemptOf(counted, place);
  const instants = instantsOf(score, events, place, attempt, at);
  const known = Object.fromEntries(instants.map((i) => [i.name, i.at]));
  const [cue, shown, stage] = cueOf(score.cues[place], known, at);
  const gelled = instantOf(counted, "gelled", place, attempt);
  if (!gelled && at >= known.pour_from) press = { kind: "gelled", shot: place, attempt, item: "" };
  else if (!gelled || at < known.stop) press = null;
  const turning = stage !== null && (stage.stage === "wet" || stage.stage === "turn");
  const lag = gelled ? known.film - gelled.at : null;
  return {
    step: step ? step.key : "", shot: place, attempt,
    stage: stage ? stage.stage : "",
    until: stage ? known[stage.until] ?? null : null,
    cue,
    shown,
    say: shown === null ? "" : said(score.cues[place][shown].say, lag, known.stop - at),
    press, instants, lag,
    moves: turning ? movesAt(score.plan.shots[place].moves, at - known.closed) : [],
    doubt: null,
  };
}

export function instantsOf(score, events, shot, attempt, at) {
  const counted = standing(events);
  const plan = score.plan.shots[shot];
  const pressed = PRESSED.map((kind) => instantOf(counted, kind, shot, attempt)).filter(Boolean);
  const after = Object.fromEntries(pressed.map((e) => [e.kind, e.at]));
  const mixed = after.mixed;
  const pace = "gelled" in after ? (after.gelled - mixed) / plan.gel_cup : Math.max(1, (at - mixed) / plan.gel_cup);
  const poured = after.poured ?? mixed + plan.pour_at + plan.pour_for;
  const closed = after.closed ?? poured + plan.close_for;
  const inferred = { poured, closed, wetted: closed + plan.wet_for };
  const forecast = forecastOf(score.plan, plan, score.plan.shots[shot + 1] ?? null, mixed, pace);
  if (!("gelled" in after)) {
    forecast.cup = mixed + plan.gel_cup * pace;
    forecast.expected = mixed + plan.gel_cup;
  }
  if (!("poured" in after) && plan.kind !== "brush") forecast.not_poured = forecast.pour_by;
  const found = pressed.map((e) => ({ name: e.kind, at: e.at, how: e.mended ? "mended" : "pressed" }));
  for (const [name, t] of Object.entries(inferred)) if (!(name in after)) found.push({ name, at: t, how: "inferred" });
  for (const [name, t] of Object.entries(forecast)) found.push({ name, at: t, how: "forecast" });
  return found.sort(order("at", "name"));
}

export function movesAt(moves, since) {
  if (!moves.length || since < 0) return [];
  const t = since % patternLasts(moves);
  return moves.flatMap((move, n) => (move.starts <= t && t < move.starts + move.lasts ? [n] : []));
}

export function patternLasts(moves) {
  return Math.max(...moves.map((move) => move.starts + move.lasts));
}

function forecastOf(whole, plan, following, mixed, pace) {
  const stop = mixed + plan.turn_until * pace;
  const times = {
    pour_from: mixed + plan.pour_at,
    pour_by: mixed + plan.pour_within,
    close_by: mixed + plan.closed_within,
    film: mixed + plan.gel_film * pace,
    stop,
    sure: mixed + plan.gel_film_late * pace,
  };
  if (following === null) return { ...times, open: mixed + whole.open_after * pace };
  const opened = PROPPING + OPENING + whole.open_for;
  const from = Math.max(mixed + plan.next_from * pace - following.pour_at, stop + opened);
  return {
    ...times,
    open_up: Math.max(from - Math.max(SOONER, OPENING + whole.open_for), stop + PROPPING),
    mix_from: from,
    mix_to: Math.max(mixed + plan.next_to * pace - following.pour_at, from),
  };
}

function cueOf(cues, known, at) {
  const past = cues
    .map((cue, n) => [known[cue.after] + cue.wait, n])
    .filter(([due]) => due <= at)
    .sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const holds = past.filter(([then, n]) => cues[n].stage || cues[n].stays || at - then < PASSING);
  const staged = past.filter(([, n]) => cues[n].stage);
  return [past.at(-1)?.[1] ?? null, holds.at(-1)?.[1] ?? null, staged.length ? cues[staged.at(-1)[1]] : null];
}

export function said(key, lag, left) {
  if (key !== "gelled" || lag === null) return key;
  if (lag < -SAME) return left < SAME ? "ahead" : "ahead_sure";
  return lag < SAME ? "together" : "behind";
}

function running(score, counted) {
  const begun = score.plan.shots
    .map((_, place) => place)
    .filter((place) => instantOf(counted, "mixed", place, attemptOf(counted, place)));
  return begun.length ? begun.at(-1) : null;
}

function stepOf(score, counted) {
  const mixed = new Set(counted.filter((e) => e.kind === "mixed").map((e) => e.shot));
  const begun = score.steps.flatMap((step, n) => (step.kind === "mix" && mixed.has(step.shot) ? [n] : []));
  return score.steps.slice(begun.at(-1) ?? 0).find((step) => !done(score, step, counted)) ?? null;
}

function done(score, step, counted) {
  const ticked = tickedIn(counted);
  if (ticked.has(step.key)) return true;
  if (step.kind === "mix") return instantOf(counted, "mixed", step.shot, attemptOf(counted, step.shot)) !== null;
  if (step.kind === "dry") return dryNow(counted).next === null;
  const boxes = step.items.every((item) => ticked.has(item.key));
  return boxes && !(step.key === WEIGHING && doubtsOf(score.plan, counted).length);
}

// Shots that were weighed out of ratio, as evenwall.bench.ratio says it.
export function doubtsOf(plan, counted) {
  return plan.shots.flatMap((shot, place) => {
    const a = readingOf(counted, `mass.${place}.a`);
    const b = readingOf(counted, `mass.${place}.b`);
    if (!a?.value || !b?.value) return [];
    const wanted = (shot.mass_b + shot.mass_pigment) / shot.mass_a;
    const off = b.value / a.value / wanted - 1;
    const used = readingOf(counted, `ratio.${place}`, "tick");
    if (Math.abs(off) <= plan.ratio_tolerance || (used && used.at >= Math.max(a.at, b.at))) return [];
    const mass = off > 0 ? b.value / wanted - a.value : a.value * wanted - b.value;
    return [{ shot: place, more: off > 0 ? "b" : "a", off_share: off, mass_kg: mass }];
  });
}

export function readingOf(counted, item, kind = "reading") {
  return counted.filter((e) => e.kind === kind && e.item === item).at(-1) ?? null;
}

export function tickedIn(counted) {
  return new Set(counted.filter((e) => e.kind === "tick").map((e) => e.item));
}

function pressOf(step, counted) {
  if (step === null) return null;
  if (step.kind === "mix") return { kind: "mixed", shot: step.shot, attempt: attemptOf(counted, step.shot), item: "" };
  if (step.kind === "dry") {
    const { attempt, next } = dryNow(counted);
    return { kind: "dry", shot: null, attempt, item: next };
  }
  const ticked = tickedIn(counted);
  const box = step.items.find((item) => !ticked.has(item.key));
  return { kind: "tick", shot: step.shot, attempt: 0, item: box.key };
}
