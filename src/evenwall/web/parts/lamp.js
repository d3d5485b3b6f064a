// The casting held against a lamp: how much light comes through the wall (Beer-Lambert: each half-value thickness of
// the wall lets half of the light through that the one before it let through; IUPAC Gold Book, B00626). How thick that
// is hangs on the resin's tint: 1 mm is assumed, the user sets it by eye until the picture looks like a trial casting.

/** Share of the light that passes a wall of `thickness`, of which `half` lets half of it through. */
export function passes(thickness, half) {
  return 2 ** (-thickness / half);
}

/** The same in the shader: the sight line crosses the wall aslant, so its path is longer; light is drawn as sRGB. */
export const GLOW = `
  vec3 glow(float wall, float half_value, float facing, float exposure) {
    float share = exp2(-wall / half_value / max(facing, 0.45));
    float seen = pow(min(share * exposure, 1.0), 1.0 / 2.2);
    return mix(vec3(0.80, 0.30, 0.10), vec3(1.0, 0.86, 0.62), seen) * seen;
  }`;

/** How much brighter the eye takes the picture, so that all but the thinnest twentieth of the wall stays under white. */
export function exposure(thickness, half) {
  const sample = Array.from({ length: 400 }, (_, k) => thickness[Math.floor((k * thickness.length) / 400)]);
  return 1 / passes(sample.sort((a, b) => a - b)[20], half);
}

/** The control: as it is, or against a lamp, with the half-value thickness to set. */
export function lamp(view, find) {
  const lit = find(".lit");
  const half = find(".half");
  const apply = () => {
    half.disabled = !lit.checked;
    view.light(lit.checked ? half.value / 1000 : 0);
    const name = view.parts.reading(half.value / 1000);
    find(".half-words").textContent = lit.checked ? `${name} of wall lets half of the light through: set it so that it looks like a trial casting` : "";
    half.setAttribute("aria-valuetext", name);
  };
  lit.addEventListener("change", apply);
  half.addEventListener("input", apply);
}
