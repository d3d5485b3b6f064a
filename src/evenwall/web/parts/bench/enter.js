// The way in for a phone: the key of the QR code is used when the person taps, not when a camera app looks ahead.

const [button, fault] = document.querySelector("#start div").children;
const language = navigator.language.slice(0, 2);
const answer = await fetch(`/bench/api/words/${encodeURIComponent(language)}`);
const words = (await answer.json()).table.page;
button.textContent = words.phone_enter;
button.onclick = async () => {
  const used = await fetch("/bench/enter", { method: "POST", body: location.hash.slice(1) });
  if (used.ok) location.replace((await used.json()).to);
  else fault.textContent = words.phone_used;
};
