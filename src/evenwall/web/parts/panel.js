// What stands round the 3-D picture: scale, cutting plane, the film's clock, ways to look, and the reading in words.
import { lamp } from "./lamp.js";

const LOOKS = [
  ["Front", [0, -1, 0.12]],
  ["Right", [1, 0, 0.12]],
  ["Back", [0, 1, 0.12]],
  ["Left", [-1, 0, 0.12]],
  ["Top", [0, -0.02, 1]],
  ["Under", [0, -0.02, -1]],
];
const UNITS = { mm: [1000, 2, "mm"], in: [1 / 0.0254, 3, "in"] };
const STEP = 110; // ms between snapshots while playing

const MARKUP = `
<div class="stage"><canvas tabindex="0" role="img"></canvas><div class="marks" aria-hidden="true"></div>
  <p class="saying" role="status" hidden></p></div>
<div class="scale" hidden><div class="bar"></div><div class="ticks" aria-hidden="true"></div><p class="scale-words"></p></div>
<div class="clock" hidden><button type="button" class="play" aria-label="Play the film">Play</button>
  <label><span class="clock-name">Minutes since mixing</span><input type="range" min="0" step="1" class="when"></label>
  <output class="moment"></output></div>
<div class="tools"><fieldset class="cut"><legend>Cut</legend>
    <label><input type="radio" value="" checked>none</label><label><input type="radio" value="x">across x</label>
    <label><input type="radio" value="y">across y</label><label><input type="radio" value="z">level</label>
    <input type="range" min="0" max="1" step="0.005" value="0.5" class="depth" aria-label="Depth of the cut" disabled>
  </fieldset>
  <label class="lamp" hidden><input type="checkbox" class="lit">against a lamp</label>
  <input type="range" min="0.2" max="4" step="0.1" value="1" class="half" aria-label="Wall that lets half of the light through" disabled hidden>
  <output class="half-words"></output>
  <label class="looks">Look from <select><option value="">as turned</option></select></label></div>
<p class="reading" role="status"></p>`;

let count = 0;

export function panel(view) {
  view.innerHTML = MARKUP;
  const find = (selector) => view.querySelector(selector);
  const canvas = find("canvas");
  const number = ++count;
  cutting(view, find, number);
  looking(view, find);
  lamp(view, find);
  const clock = clockOf(view, find);
  const hint = "Drag to turn, wheel or pinch to come nearer, tap to read the wall. Keys: arrows, +, -, Home, Enter.";
  find(".reading").textContent = hint;
  return {
    canvas,
    stage: find(".stage"),
    ...clock,
    say(words) {
      find(".saying").textContent = words;
      find(".saying").hidden = !words;
    },
    scale: (values) => scaleOf(view, find, values),
    cut(axis, at) {
      for (const radio of view.querySelectorAll(".cut input[type=radio]")) radio.checked = radio.value === axis;
      find(".depth").disabled = !axis;
      find(".depth").value = at;
    },
    reading(thickness) {
      const [factor, digits, unit] = UNITS[view.getAttribute("unit")] ?? UNITS.mm;
      return thickness === undefined ? "" : `${(thickness * factor).toFixed(digits)} ${unit}`;
    },
    read(words, point) {
      const [factor, digits, unit] = UNITS[view.getAttribute("unit")] ?? UNITS.mm;
      const place = ["x", "y", "z"].map((axis) => `${axis} ${(point[axis] * factor).toFixed(digits - 1)}`).join(", ");
      find(".reading").textContent = words ? `Wall here: ${words} (at ${place} ${unit})` : `Here: ${place} ${unit}`;
    },
    marks: (marks, project) => marksOf(find(".marks"), marks, project),
  };
}

function cutting(view, find, number) {
  const depth = find(".depth");
  const radios = [...view.querySelectorAll(".cut input[type=radio]")];
  const apply = () => {
    const axis = radios.find((radio) => radio.checked)?.value ?? "";
    depth.disabled = !axis;
    view.cutTo(axis, Number(depth.value));
  };
  for (const radio of radios) {
    radio.name = `cut-${number}`;
    radio.addEventListener("change", apply);
  }
  depth.addEventListener("input", apply);
}

function looking(view, find) {
  const select = find(".looks select");
  select.append(...LOOKS.map(([text], i) => Object.assign(document.createElement("option"), { text, value: i })));
  select.addEventListener("change", () => {
    view.steered = true;
    if (select.value) view.home(LOOKS[select.value][1]);
    select.value = "";
  });
}

function clockOf(view, find) {
  const when = find(".when");
  const play = find(".play");
  let timer;
  let times = [];
  const halt = () => {
    clearInterval(timer);
    timer = undefined;
    play.textContent = "Play";
  };
  when.addEventListener("input", () => view.frame(Number(when.value)));
  play.addEventListener("click", () => {
    if (timer) return halt();
    play.textContent = "Pause";
    if (Number(when.value) >= times.length - 1) view.frame(0);
    timer = setInterval(() => {
      if (!view.isConnected || Number(when.value) >= times.length - 1) return halt();
      view.frame(Number(when.value) + 1);
    }, STEP);
  });
  return {
    film(film) {
      halt();
      times = film?.times ?? [];
      find(".clock").hidden = times.length < 2;
      when.max = Math.max(0, times.length - 1);
    },
    moment(k) {
      when.value = k;
      const words = view.playing?.captions?.[k] ?? "";
      const minutes = times.length ? `${(times[k] / 60).toFixed(1)} min` : "";
      find(".moment").textContent = [minutes, words].filter(Boolean).join(", ");
      when.setAttribute("aria-valuetext", find(".moment").textContent);
    },
  };
}

function scaleOf(view, find, { low, top, wanted, unit, gradient, shown }) {
  const [factor, digits, name] = UNITS[unit] ?? UNITS.mm;
  const range = top - low;
  find(".scale").hidden = !shown;
  const wall = shown && low === 0; // a difference is no wall that a lamp could shine through
  find(".lamp").hidden = find(".half").hidden = !wall;
  find(".bar").style.background = gradient;
  const ticks = find(".ticks");
  ticks.replaceChildren();
  for (const value of rounded(low * factor, top * factor)) {
    const at = (100 * (value / factor - low)) / range;
    const tick = Object.assign(document.createElement("span"), { className: "tick", textContent: trim(value) });
    tick.style.left = `${at}%`;
    ticks.append(tick);
  }
  if (wanted && wanted >= low && wanted <= top) {
    const mark = Object.assign(document.createElement("span"), { className: "wanted", textContent: "wanted" });
    mark.style.left = `${(100 * (wanted - low)) / range}%`;
    ticks.append(mark);
  }
  const from = `${trim(low * factor)} to ${trim(top * factor)} ${name}`;
  const goal = wanted ? `, wanted ${(wanted * factor).toFixed(digits - 1)} ${name}` : "";
  find(".scale-words").textContent = `${low < 0 ? "Difference of the wall" : "Wall thickness"}, ${from}${goal}`;
}

function rounded(low, high) {
  const rough = (high - low) / 5;
  const ten = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((k) => k * ten).find((size) => size >= rough);
  const ticks = [];
  for (let v = Math.ceil(low / step) * step; v <= high * 1.0001; v += step) ticks.push(Math.abs(v) < step / 1e6 ? 0 : v);
  return ticks;
}

function trim(value) {
  return String(Number(value.toPrecision(3)));
}

function marksOf(place, marks, project) {
  place.replaceChildren(
    ...marks.map(({ name, at, kind }) => {
      const [x, y, depth] = project(at);
      const mark = Object.assign(document.createElement("span"), { className: `mark mark-${kind}`, textContent: name });
      mark.style.left = `${100 * x}%`;
      mark.style.top = `${100 * y}%`;
      mark.hidden = depth > 1;
      return mark;
    })
  );
}
