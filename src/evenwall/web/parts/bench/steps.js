// A step with its boxes: ticked by a press, by a tap on the box, or by the number that belongs to it.

import { dryNow, readingOf, tickedIn } from "./run.js";
import * as photos from "./photos.js";
import * as store from "./store.js";
import * as w from "./words.js";

export function boxText(score, key) {
  for (const step of score.steps)
    for (const item of step.items)
      if (item.key === key || item.key === `dry.${key}`) return w.fill(w.words.table.box[item.say], item.numbers);
  return "";
}

export function showStep(step, counted, { press, changed }) {
  document.getElementById("title").textContent = w.words.table.step[step.say];
  const cautions = step.cautions.map((key) => element("li", w.words.table.caution[key]));
  document.getElementById("cautions").replaceChildren(...cautions);
  const list = document.getElementById("items");
  if (list.contains(document.activeElement) && document.activeElement.matches("input") && list.dataset.step === step.key)
    return refresh(list, step, counted, press);
  list.dataset.step = step.key;
  list.replaceChildren(...step.items.map((item) => row(item, step, counted, { press, changed })));
  list.querySelector('[data-next="true"]')?.scrollIntoView({ block: "nearest" });
  return undefined;
}

function refresh(list, step, counted, press) {
  const ticked = doneIn(step, counted);
  for (const [n, item] of step.items.entries()) {
    const line = list.children[n];
    line.firstElementChild.setAttribute("aria-checked", String(ticked.has(item.key)));
    line.dataset.next = String(isNext(item, press));
  }
}

function doneIn(step, counted) {
  if (step.kind !== "dry") return tickedIn(counted);
  const { attempt } = dryNow(counted);
  return new Set(counted.filter((e) => e.kind === "dry" && e.attempt === attempt).map((e) => `dry.${e.item}`));
}

function isNext(item, press) {
  return Boolean(press) && (press.item === item.key || `dry.${press.item}` === item.key);
}

function row(item, step, counted, { press, changed }) {
  const line = document.createElement("li");
  line.dataset.next = String(isNext(item, press));
  const done = doneIn(step, counted).has(item.key);
  const box = element("button", boxWords(item, counted));
  box.type = "button";
  box.setAttribute("role", "checkbox");
  box.setAttribute("aria-checked", String(done));
  box.onclick = () => {
    box.blur();
    toggle(item, step, counted, press);
    changed();
  };
  line.append(box);
  if (item.reading) line.append(reading(item, step, counted, changed));
  return line;
}

function toggle(item, step, counted, press) {
  if (step.kind === "dry") {
    if (isNext(item, press)) store.add("dry", { item: press.item, attempt: press.attempt });
    return;
  }
  const ticks = counted.filter((e) => e.kind === "tick" && e.item === item.key);
  if (ticks.length) for (const tick of ticks) store.add("undo", { target: tick.id });
  else store.add("tick", { item: item.key, shot: step.shot });
}

function reading(item, step, counted, changed) {
  const wrap = document.createElement("span");
  wrap.className = "reading";
  const label = document.createElement("label");
  const field = document.createElement("input");
  field.type = "text";
  field.inputMode = "decimal";
  field.autocomplete = "off";
  field.name = item.item;
  field.setAttribute("aria-label", `${w.page("measured")}: ${boxWords(item, counted)}`);
  const told = readingOf(counted, item.item);
  if (told) field.value = w.shown(item.reading, told.value);
  const wanted = wantedOf(item, counted);
  if (wanted !== null) field.placeholder = w.shown(item.reading, wanted);
  field.onchange = () => {
    const value = w.si(item.reading, field.value);
    field.toggleAttribute("aria-invalid", value === null);
    if (value === null) return;
    store.add("reading", { item: item.item, value });
    if (!tickedIn(counted).has(item.key)) store.add("tick", { item: item.key, shot: step.shot });
    changed();
  };
  field.onkeydown = (event) => {
    if (event.key === "Enter") field.blur();
  };
  label.append(field, ` ${w.unitOf(item.reading)}`);
  wrap.append(label);
  if (item.reading === "mass") wrap.append(camera(item));
  const off = told && wanted && item.reading === "mass" ? told.value / wanted - 1 : 0;
  if (Math.abs(off) > 0.005 && item.item !== "mass.casting") {
    const mark = element("em", `${off > 0 ? "+" : "−"}${w.fill("{off_share}", { off_share: Math.abs(off) })}`);
    mark.toggleAttribute("data-over", Math.abs(off) > store.state.score.plan.ratio_tolerance);
    wrap.append(mark);
  }
  return wrap;
}

// Part B is weighed to the part A that is in the cup, where that was keyed.
function wantedOf(item, counted) {
  const [, place, part] = item.item.split(".");
  if (part !== "b") return item.wanted;
  const a = readingOf(counted, `mass.${place}.a`)?.value;
  return a ? (item.wanted * a) / store.state.score.plan.shots[place].mass_a : item.wanted;
}

function boxWords(item, counted) {
  const wanted = item.reading === "mass" ? wantedOf(item, counted) : null;
  const numbers = "mass_kg" in item.numbers ? { ...item.numbers, mass_kg: wanted } : item.numbers;
  return w.fill(w.words.table.box[item.say], numbers);
}

function camera(item) {
  const label = element("label", "");
  label.className = "camera";
  label.title = w.page("photo");
  const field = document.createElement("input");
  field.type = "file";
  field.accept = "image/*";
  field.capture = "environment";
  field.setAttribute("aria-label", w.page("photo"));
  field.onchange = async () => {
    if (!field.files.length) return;
    const fault = await photos.take(field.files[0], item.item);
    label.dataset.kept = fault === "" ? "yes" : "no";
    label.title = fault || w.page(fault === "" ? "photo_kept" : "photo_waits");
  };
  label.append(field);
  return label;
}

export function element(name, text) {
  const one = document.createElement(name);
  one.textContent = text;
  return one;
}
