// What must never be lost: presses stamped here, kept in localStorage until the server has them in its ledger,
// and how far this device's clock is from the server's.

const KEEP = 8; // samples of the server's clock
const SAMPLE_LASTS = 600; // s
const JUMP = 1.0; // s that the clock may slip against the browser's own counter before it is measured again
const PATIENCE = 5000; // ms until a request is given up

export const casting = location.pathname.split("/").filter(Boolean).at(-1);
const KEY = `bench.${casting}`;
export const API = `/bench/api/castings/${casting}`;

export const state = {
  score: null, stamp: "", known: [], pending: [], skew: 0, error: Infinity,
  net: "never", desk: false, refused: "", changed: 0, forgetful: false,
  oneByOne: 0, aside: [],
};
let samples = [];
let lasts = { date: 0, counter: 0 };

export const device = own("bench.device", () => crypto.getRandomValues(new Uint32Array(2)).join("-"));

function own(key, make) {
  try {
    const kept = localStorage.getItem(key);
    if (kept) return kept;
    const made = make();
    localStorage.setItem(key, made);
    return made;
  } catch {
    return make();
  }
}

export function now() {
  return Date.now() / 1000 + state.skew;
}

export function events() {
  const ids = new Set(state.known.map((e) => e.id));
  return [...state.known, ...state.pending.filter((e) => !ids.has(e.id))];
}

export function newId() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

export function add(kind, more = {}) {
  const event = {
    id: newId(), kind, at: now(), shot: null, attempt: 0, item: "", value: null, target: null, text: "",
    device, stamped: Date.now() / 1000, ...more,
  };
  state.pending.push(event);
  state.changed += 1;
  keep();
  sync();
  return event;
}

// RFC 5905, section 8: offset ((t2 - t1) + (t3 - t4)) / 2 and delay (t4 - t1) - (t3 - t2); half the delay bounds
// the offset's error, so the sample with the least delay counts.
export function skewOf(list) {
  const rated = list.map(([t1, t2, t3, t4]) => ({
    skew: (t2 - t1 + (t3 - t4)) / 2,
    error: Math.max(0, t4 - t1 - (t3 - t2)) / 2,
  }));
  return rated.reduce((best, one) => (one.error <= best.error ? one : best), { skew: 0, error: Infinity });
}

function measured(sent, counter, told) {
  const back = Date.now() / 1000;
  const slept = Math.abs(back - sent - (performance.now() / 1000 - counter)) > JUMP;
  if (!told || slept) return; // the clock was set or stood still between question and answer
  samples.push([sent, told.received, told.answered, back]);
  samples = samples.filter((s) => back - s[3] < SAMPLE_LASTS).slice(-KEEP);
  Object.assign(state, skewOf(samples));
}

// A clock that was set, or a device that slept: the old samples may be wrong.
export function watchClock() {
  const date = Date.now() / 1000;
  const counter = performance.now() / 1000;
  const slipped = Math.abs(date - lasts.date - (counter - lasts.counter)) > JUMP;
  if (lasts.date && slipped) {
    samples = [];
    sync();
  }
  lasts = { date, counter };
  return slipped;
}

export function keep() {
  try {
    const { score, stamp, known, pending, aside, skew } = state;
    localStorage.setItem(KEY, JSON.stringify({ score, stamp, known, pending, aside, skew }));
  } catch {
    state.full = true;
  }
}

export function recall() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) ?? "null");
    if (kept) Object.assign(state, kept);
  } catch {
    localStorage.removeItem(KEY);
  }
}

let busy = false;
let again = false;

export async function sync() {
  if (busy) {
    again = true;
    return;
  }
  busy = true;
  try {
    do {
      again = false;
      await once();
    } while (again || (state.net === "there" && state.pending.length));
  } finally {
    busy = false;
  }
}

// The server takes a batch wholly or not at all: the entry it refuses is found one by one and set aside, never lost.
async function refuse(told, answer) {
  if (told.length > 1) {
    state.oneByOne = told.length;
    again = true;
    return;
  }
  state.pending = state.pending.filter((e) => e.id !== told[0].id);
  state.aside.push({ ...told[0], why: (await answer.json()).error });
  state.changed += 1;
  keep();
}

async function once() {
  const told = state.oneByOne > 0 ? state.pending.slice(0, 1) : state.pending.slice();
  state.oneByOne -= 1;
  const asked = `?stamp=${encodeURIComponent(state.stamp)}&had=${state.known.length}`;
  const [sent, counter] = [Date.now() / 1000, performance.now() / 1000];
  try {
    const answer = await fetch(told.length ? `${API}/events${asked}` : API + asked, {
      method: told.length ? "POST" : "GET",
      headers: told.length ? { "content-type": "application/json" } : {},
      body: told.length ? JSON.stringify(told) : undefined,
      cache: "no-store",
      signal: AbortSignal.timeout(PATIENCE),
    });
    if (answer.status === 403 || answer.status === 401) throw Object.assign(new Error("refused"), { refused: true });
    if (answer.status === 422 && told.length) return await refuse(told, answer);
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 300));
    const reply = await answer.json();
    measured(sent, counter, reply.clock);
    take(reply);
    state.net = "there";
    state.refused = "";
  } catch (error) {
    state.net = error.refused ? "refused" : "gone";
    state.refused = error.message;
    again = false;
  }
}

function take(reply) {
  const acknowledged = new Set(reply.acknowledged ?? []);
  const before = state.pending.length + state.known.length + state.stamp;
  if (reply.events) state.known = reply.events;
  if (reply.score) {
    state.score = reply.score;
    state.stamp = reply.stamp;
    state.changed += 1;
  }
  const known = new Set(state.known.map((e) => e.id));
  state.pending = state.pending.filter((e) => !(acknowledged.has(e.id) && known.has(e.id)));
  state.desk = reply.desk;
  if (before !== state.pending.length + state.known.length + state.stamp) {
    state.changed += 1;
    keep();
  }
}
