// The way in for a phone: the key of the QR code is used when the person taps, not when a camera app looks ahead.

import * as w from "./words.js";

const start = document.getElementById("start");
const [title, fault, , button] = start.firstElementChild.children;
await w.load();
title.textContent = w.page("start");
button.textContent = w.page("phone_enter");
fault.setAttribute("role", "alert");
start.hidden = false;
button.onclick = async () => {
  const used = await fetch("/bench/enter", { method: "POST", body: location.hash.slice(1) });
  if (used.ok) location.replace((await used.json()).to);
  else fault.textContent = w.page("phone_used");
};
