// The big words of the bench, sized to the room they have.

const LEGIBLE = 84; // px: capitals of 59 px, 9.3 mm on a phone, 16 minutes of arc at 2 m
const NARROWEST = 0.72; // letters are not made narrower than this

// The big words as large as the room takes them; letters under LEGIBLE are made narrower before they get lower.
export function fit(big) {
  const text = big.dataset.text ?? "";
  if (big.closest(".small")) {
    big.style.fontSize = "";
    big.textContent = text;
    return;
  }
  const size = cssSize(big);
  const room = big.clientWidth;
  if (!room) return;
  const wide = (line) => widthOf(line, big, size);
  const lines = wide(text) > room ? text.split(" ") : [text];
  const high = lines.length === 1 ? size : size * (innerWidth >= 900 ? 0.5 : 0.7);
  const fitting = Math.min(high, (size * room) / Math.max(1, ...lines.map(wide)));
  const narrow = Math.min(1, Math.max(NARROWEST, fitting / LEGIBLE));
  big.style.fontSize = `${Math.floor(fitting / narrow)}px`;
  big.replaceChildren(
    ...lines.flatMap((line) => {
      const span = document.createElement("span");
      span.textContent = line;
      span.style.transform = narrow < 1 ? `scaleX(${narrow})` : "";
      return [span, " "];
    }),
  );
}

// Everything of `now` into the room of `main`: smaller figures and text before anything has to be scrolled for.
export function fitAll(main, now, big) {
  now.classList.remove("tight");
  fit(big);
  if (now.classList.contains("small") || main.scrollHeight <= main.clientHeight) return;
  now.classList.add("tight");
  fit(big);
}

function cssSize(big) {
  big.style.fontSize = "";
  return parseFloat(getComputedStyle(big).fontSize);
}

const ruler = document.createElement("canvas").getContext("2d");

function widthOf(word, element, size) {
  const style = getComputedStyle(element);
  ruler.font = `${style.fontWeight} ${size}px ${style.fontFamily}`;
  return ruler.measureText(word).width * 1.03;
}
