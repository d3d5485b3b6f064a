// Loaded by every page: our elements, and the light (day, night or as the system) that this browser keeps.
import "./field.js";

const KEY = "evenwall-light";
const NAMES = { auto: "system", day: "day", night: "night" };

function light(choice) {
  if (choice === "auto") delete document.documentElement.dataset.light;
  else document.documentElement.dataset.light = choice;
  document.dispatchEvent(new Event("evenwall-theme"));
}

light(localStorage.getItem(KEY) ?? "auto");
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-light-button]");
  if (!button) return;
  const order = Object.keys(NAMES);
  const next = order[(order.indexOf(localStorage.getItem(KEY) ?? "auto") + 1) % 3];
  localStorage.setItem(KEY, next);
  light(next);
  name();
});
const name = () => {
  const text = `Light: ${NAMES[localStorage.getItem(KEY) ?? "auto"]}`;
  for (const button of document.querySelectorAll("[data-light-button]"))
    if (button.textContent !== text) button.textContent = text;
};
let brought = false; // on a phone the views are a strip: bring the present one into it
const bring = () => {
  const present = document.querySelector(".ticket [aria-current]");
  if (brought || !present) return;
  brought = true;
  const strip = present.closest("ol");
  strip.scrollLeft = present.offsetLeft - (strip.clientWidth - present.clientWidth) / 2;
};
// an address may name a question (#shop.air_C): go to its field once it is there
let asked = location.hash.slice(1);
const ask = () => {
  const field = asked && document.querySelector(`shop-field[data-key="${CSS.escape(asked)}"]`);
  if (!field?.input) return;
  asked = "";
  field.scrollIntoView({ block: "center" });
  field.input.focus();
};
addEventListener("hashchange", () => ((asked = location.hash.slice(1)), ask()));
new MutationObserver(ask).observe(document.documentElement, { childList: true, subtree: true });
new MutationObserver(bring).observe(document.documentElement, { childList: true, subtree: true });
new MutationObserver(name).observe(document.documentElement, { childList: true, subtree: true });

// Presses made while the app is not connected are kept and done when it is (NiceGUI and its socket hold them back):
// say so on the buttons, and on the whole page where it takes longer than a blink.
const BLINK = 600; // ms
let since = Date.now();
const connected = () => Boolean(window.did_handshake && window.socket?.connected);
const connection = () => {
  if (connected()) since = Date.now();
  document.documentElement.dataset.connected = Date.now() - since > BLINK ? "no" : "yes";
  if (connected()) for (const button of document.querySelectorAll(".kept-press")) button.classList.remove("kept-press");
};
setInterval(connection, 200);
document.addEventListener("click", (event) => {
  if (!connected()) event.target.closest?.(".knob")?.classList.add("kept-press");
});

// undo and redo by the keys that everybody knows, unless a text is being typed
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  if (event.target.matches?.("input[type=text], textarea")) return;
  const key = event.key.toLowerCase();
  const which = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" ? "redo" : "";
  const button = which && document.querySelector(`[data-step="${which}"]`);
  if (button && button.ariaDisabled !== "true") {
    event.preventDefault();
    button.click();
  }
});
