// Words of one language, and numbers in the units that the user wants. A number's name ends in its SI unit.

export const words = { table: null, code: "en" };
const SETTINGS = "bench.settings";

export const settings = Object.assign(
  { language: "", units: "metric", sound: true, voice: true, listen: false },
  JSON.parse(localStorage.getItem(SETTINGS) ?? "{}"),
);

export function set(name, value) {
  settings[name] = value;
  localStorage.setItem(SETTINGS, JSON.stringify(settings));
}

export async function load() {
  const wanted = settings.language || navigator.language.slice(0, 2);
  const kept = JSON.parse(localStorage.getItem("bench.words") ?? "null");
  try {
    const answer = await fetch(`/bench/api/words/${encodeURIComponent(wanted)}`, { cache: "no-store" });
    if (!answer.ok) throw new Error(answer.statusText);
    Object.assign(words, await answer.json());
    localStorage.setItem("bench.words", JSON.stringify(words));
  } catch (error) {
    if (!kept) throw error;
    Object.assign(words, kept);
  }
  document.documentElement.lang = words.code;
}

export function page(key, numbers = {}) {
  return fill(words.table.page[key], numbers);
}

export function fill(template, numbers = {}) {
  return template
    .replace(/{(\w+)}/g, (_, name) => (name in numbers ? show(name, numbers[name]) : "…"))
    .trim();
}

function show(name, value) {
  if (name === "shot" && typeof value === "number") return shotName(value);
  if (typeof value === "string") return value;
  if (value === null || value === undefined) return "…";
  if (name.endsWith("_s")) return lasting(value);
  if (name.endsWith("_at")) return clock(value);
  if (name.endsWith("_kg")) return mass(value);
  if (name.endsWith("_rad")) return `${Math.round((value * 180) / Math.PI)}°`;
  if (name.endsWith("_K")) return temperature(value);
  if (name.endsWith("_share")) return `${decimal(value * 100, Math.abs(value) < 0.1 ? 1 : 0)} %`;
  return String(value);
}

let kinds = [];

export function nameShots(shots) {
  kinds = shots.map((shot) => shot.kind);
}

// A shot's name in this language: the coats are counted, brush coat and cleaning shot are not.
export function shotName(place) {
  const kind = kinds[place];
  const n = kinds.slice(0, place + 1).filter((one) => one === kind).length;
  const of = kinds.filter((one) => one === kind).length;
  return fill(words.table.shot[kind], { n: String(n), of: String(of) });
}

function decimal(value, digits) {
  const parts = { minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: false };
  return new Intl.NumberFormat(words.table?.speech ?? "en-GB", parts).format(value);
}

export function lasting(seconds) {
  const s = Math.max(0, Math.round(Math.abs(seconds)));
  if (s < 90) return `${s} s`;
  if (s < 600) return `${Math.floor(s / 60)} min ${s % 60 ? `${s % 60} s` : ""}`.trim();
  const min = Math.round(s / 60);
  return min < 100 ? `${min} min` : `${Math.floor(min / 60)} h ${min % 60} min`;
}

export function counter(seconds) {
  const s = Math.ceil(Math.abs(seconds));
  const sign = seconds < 0 ? "+" : "";
  const two = (n) => String(n).padStart(2, "0");
  return s < 3600
    ? `${sign}${Math.floor(s / 60)}:${two(s % 60)}`
    : `${sign}${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
}

export function clock(at, seconds = false) {
  const parts = { hour: "2-digit", minute: "2-digit", hourCycle: "h23", ...(seconds ? { second: "2-digit" } : {}) };
  return new Intl.DateTimeFormat(words.table?.speech ?? "en-GB", parts).format(new Date(at * 1000));
}

// The instant nearest to `near` at which a clock here shows `text` (hh:mm:ss).
export function clockAt(text, near) {
  const day = new Date(near * 1000);
  const [h, min, s] = text.split(":").map(Number);
  day.setHours(h, min, s ?? 0, 0);
  const at = day.getTime() / 1000;
  return at + 86400 * Math.round((near - at) / 86400);
}

// one row a quantity: unit shown, SI to shown, shown to SI, decimals
const KILOGRAM = { metric: ["g", 1000, 1], us: ["oz", 1000 / 28.349523125, 2] };

export function mass(kg) {
  const [unit, factor, decimals] = KILOGRAM[settings.units];
  return `${decimal(kg * factor, decimals)} ${unit}`;
}

export function temperature(kelvin) {
  return `${shown("temperature", kelvin)} ${unitOf("temperature")}`;
}

export function unitOf(quantity) {
  if (quantity === "mass") return KILOGRAM[settings.units][0];
  if (quantity === "temperature") return settings.units === "us" ? "°F" : "°C";
  return quantity === "share" ? "%" : "";
}

export function shown(quantity, si) {
  if (quantity === "mass") return decimal(si * KILOGRAM[settings.units][1], KILOGRAM[settings.units][2]);
  if (quantity === "share") return decimal(si * 100, 0);
  const celsius = si - 273.15;
  return decimal(settings.units === "us" ? celsius * 1.8 + 32 : celsius, 1);
}

export function si(quantity, text) {
  const value = Number(String(text).replace(",", "."));
  if (!Number.isFinite(value) || String(text).trim() === "") return null;
  if (quantity === "mass") return value / KILOGRAM[settings.units][1];
  if (quantity === "share") return value / 100;
  return (settings.units === "us" ? (value - 32) / 1.8 : value) + 273.15;
}
