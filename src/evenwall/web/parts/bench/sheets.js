// The sheets that come up over the bench: another amount, another temperature, the times so far, the settings.

import { attemptOf, dryNow, dryRun, instantsOf, standing } from "./run.js";
import { element } from "./steps.js";
import * as sound from "./sound.js";
import * as store from "./store.js";
import * as w from "./words.js";

const sheet = document.getElementById("sheet");
const form = sheet.firstElementChild;

function open(title, ...parts) {
  const close = button(w.page("close"), () => sheet.close());
  close.className = "quiet";
  form.replaceChildren(element("h2", title), ...parts, close);
  if (!sheet.open) sheet.showModal();
}

function button(text, act) {
  const one = element("button", text);
  one.type = "button";
  one.onclick = act;
  return one;
}

function number(label, quantity, si, steps) {
  const wrap = element("label", label);
  const field = document.createElement("input");
  field.inputMode = "decimal";
  field.value = si === null ? "" : w.shown(quantity, si);
  field.name = quantity;
  const row = document.createElement("span");
  row.className = "number";
  for (const step of steps.filter((s) => s < 0)) row.append(nudge(field, step));
  row.append(field, w.unitOf(quantity));
  for (const step of steps.filter((s) => s > 0)) row.append(nudge(field, step));
  wrap.append(row);
  return [wrap, () => w.si(quantity, field.value)];
}

function nudge(field, step) {
  return button(step > 0 ? `+${step}` : `−${-step}`, () => {
    field.value = (Number(field.value.replace(",", ".")) + step).toFixed(1);
  });
}

export function openAmount(m, changed) {
  const shot = store.state.score.plan.shots[m.shot];
  const mass = shot.mass_a + shot.mass_b + shot.mass_pigment - shot.stays;
  const [field, value] = number(`${w.page("mass_in")}: ${w.shotName(m.shot)}`, "mass", mass, [-10, -1, 1, 10]);
  const save = button(w.page("save"), () => {
    const told = value();
    if (told === null || told <= 0) return;
    store.add("amount", { shot: m.shot, attempt: m.attempt, value: told });
    sheet.close();
    changed();
  });
  open(w.page("amount"), field, save);
}

export function openTemperature(changed) {
  const { plan } = store.state.score;
  const [room, roomValue] = number(w.page("temperature_now"), "temperature", plan.room, [-1, 1]);
  const [mold, moldValue] = number(w.page("mold_now"), "temperature", plan.mold, [-1, 1]);
  const save = button(w.page("save"), () => {
    const told = { room: roomValue(), mold: moldValue() };
    if (told.room === null || told.mold === null) return;
    for (const [item, value] of Object.entries(told))
      if (Math.abs(value - plan[item]) > 0.04) store.add("reading", { item, value });
    sheet.close();
    changed();
  });
  open(w.page("colder"), room, mold, save);
}

export function openTimes(changed) {
  const { score } = store.state;
  const counted = standing(store.events());
  const parts = [];
  const took = dryRun(counted);
  if ("closed" in took) {
    const numbers = { close_s: took.closed, wet_s: took.turned ?? null, open_s: took.opened ?? null };
    parts.push(element("p", w.fill(w.words.table.say.dry_done.text, numbers)));
    if (!counted.some((e) => e.kind === "mixed")) parts.push(button(w.page("dry_again"), () => dryAgain(counted, changed)));
  }
  for (const place of score.plan.shots.keys()) {
    const attempt = attemptOf(counted, place);
    if (!counted.some((e) => e.kind === "mixed" && e.shot === place && e.attempt === attempt)) continue;
    parts.push(element("h3", w.shotName(place)));
    const list = document.createElement("ul");
    list.className = "times";
    const shown = ["mixed", "poured", "closed", "wetted", "gelled", "film", "stop", "sure"];
    for (const one of instantsOf(score, store.events(), place, attempt, store.now()))
      if (shown.includes(one.name)) list.append(timeRow(one, place, attempt, counted, changed));
    parts.push(list);
  }
  open(w.page("ledger"), ...parts);
}

function dryAgain(counted, changed) {
  for (const tick of counted.filter((e) => e.kind === "tick" && e.item === "dry")) store.add("undo", { target: tick.id });
  store.add("dry", { item: "start", attempt: dryNow(counted).attempt + 1 });
  sheet.close();
  changed();
}

function timeRow(one, shot, attempt, counted, changed) {
  const row = document.createElement("li");
  row.dataset.how = one.how;
  row.append(
    element("b", w.words.table.instant[one.name]),
    element("span", w.clock(one.at, true)),
    element("i", w.words.table.how[one.how]),
  );
  if (!["mixed", "poured", "closed", "gelled"].includes(one.name)) return row;
  const put = (at) => {
    shift(one, shot, attempt, counted, at);
    changed();
    openTimes(changed);
  };
  const steps = [["−1 min", -60], ["−10 s", -10], ["+10 s", 10], ["+1 min", 60]];
  row.append(...steps.map(([text, step]) => button(text, () => put(one.at + step))));
  const time = document.createElement("input");
  time.type = "time";
  time.step = 1;
  time.value = w.clock(one.at, true);
  time.setAttribute("aria-label", w.words.table.instant[one.name]);
  time.onchange = () => {
    if (time.value) put(w.clockAt(time.value, one.at));
  };
  row.children[1].replaceWith(time);
  return row;
}

// Pressed instants are mended; an inferred one becomes a fact at the place where the user puts it.
function shift(one, shot, attempt, counted, at) {
  const event = counted.find((e) => e.kind === one.name && e.shot === shot && e.attempt === attempt);
  if (event) store.add("mend", { target: event.id, at });
  else store.add(one.name, { shot, attempt, at });
}

export function openMenu({ labels, changed, heard }) {
  const redo = () => {
    labels();
    changed();
    openMenu({ labels, changed, heard });
  };
  const parts = [
    button(w.page("ledger"), () => openTimes(changed)),
    choice(w.page("language"), w.words.all, w.words.code, async (code) => {
      w.set("language", code);
      await w.load();
      redo();
    }),
    choice(w.page("units"), { metric: "g, °C", us: "oz, °F" }, w.settings.units, (units) => {
      w.set("units", units);
      redo();
    }),
    toggle("sound", () => {}),
    toggle("voice", () => {}),
  ];
  if (sound.canListen()) parts.push(toggle("listen", (on) => (on ? sound.listen(heard) : sound.deafen())));
  if (store.state.desk) parts.push(button(w.page("phone"), () => openPhone()));
  const off = element("p", w.page("clock_off", { off_s: Math.abs(store.state.skew) }));
  const assumed = store.state.score.plan.assumed;
  if (assumed.length) parts.push(element("h3", w.page("from_plan")), ...assumed.map((text) => element("p", text)));
  open(store.state.score.plan.name, ...parts, ...(Math.abs(store.state.skew) > 1 ? [off] : []));
}

function choice(label, options, chosen, act) {
  const wrap = element("label", label);
  const select = document.createElement("select");
  for (const [value, text] of Object.entries(options)) select.append(new Option(text, value, false, value === chosen));
  select.onchange = () => act(select.value);
  wrap.append(select);
  return wrap;
}

function toggle(name, act) {
  const wrap = element("label", w.page(name));
  const box = document.createElement("input");
  box.type = "checkbox";
  box.checked = w.settings[name];
  box.onchange = () => {
    w.set(name, box.checked);
    act(box.checked);
  };
  wrap.prepend(box);
  return wrap;
}

async function openPhone() {
  const answer = await fetch("/bench/api/phone", { cache: "no-store" }).catch(() => null);
  if (!answer?.ok) {
    open(w.page("phone"), element("p", w.page(answer ? "refused" : "server_gone")));
    return;
  }
  const told = await answer.json();
  const fault = element("p", "");
  fault.setAttribute("role", "alert");
  const ask = (path, body) =>
    fetch(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
  const buttons = told.addresses.map((address) =>
    button(address, async () => {
      const opened = await ask("/bench/api/phone/open", { casting: store.casting, address });
      const door = await opened.json();
      if (!opened.ok) {
        fault.textContent = door.error;
        return;
      }
      const picture = document.createElement("img");
      picture.src = door.picture;
      picture.alt = door.url;
      open(w.page("phone"), picture, element("p", w.page("phone_once")), element("code", door.url));
    }),
  );
  const shut = button(w.page("phone_shut"), async () => {
    await ask("/bench/api/phone/close", {});
    sheet.close();
  });
  const none = told.addresses.length ? [] : [element("p", w.page("phone_none"))];
  open(w.page("phone"), element("p", w.page("phone_why")), ...buttons, ...none, fault, ...(told.open ? [shut] : []));
}
