// Tones, vibration, speech and listening. Every tone goes through `analyser`, so that it can be measured.

import { settings, words } from "./words.js";

let context = null;
export let analyser = null;

// [frequency Hz, starts s, lasts s] of each note
const TONES = {
  tick: [[880, 0, 0.08]],
  go: [[660, 0, 0.14], [990, 0.16, 0.3]],
  stop: [[520, 0, 0.35], [390, 0.4, 0.6]],
  late: [[740, 0, 0.15], [740, 0.22, 0.15], [740, 0.44, 0.35]],
  ask: [[600, 0, 0.12], [800, 0.16, 0.2]],
  done: [[520, 0, 0.1], [660, 0.11, 0.1], [780, 0.22, 0.2]],
  press: [[1200, 0, 0.05]],
  undo: [[500, 0, 0.1], [380, 0.12, 0.15]],
  frame_forth: [[440, 0, 0.1], [587, 0.1, 0.14]],
  frame_back: [[587, 0, 0.1], [440, 0.1, 0.14]],
  cradle_forth: [[880, 0, 0.08], [1175, 0.08, 0.12]],
  frame_beat: [[330, 0, 0.06]],
  cradle_beat: [[700, 0, 0.05]],
  cradle_back: [[1175, 0, 0.08], [880, 0.08, 0.12]],
};
const SHAKES = { go: [200], stop: [500, 150, 500], late: [150, 100, 150, 100, 300], ask: [120, 80, 120], done: [80], press: [40] };

export function unlock() {
  try {
    context ??= new AudioContext();
    if (!analyser) {
      analyser = context.createAnalyser();
      analyser.fftSize = 4096;
      analyser.connect(context.destination);
    }
    context.resume();
  } catch {
    context = null; // a browser without sound: the screen says it all
  }
}

export function audible() {
  return context?.state === "running";
}

export function tone(name) {
  if (SHAKES[name]) navigator.vibrate?.(SHAKES[name]);
  if (!settings.sound || !context || !TONES[name]) return;
  context.resume();
  const at = context.currentTime + 0.01;
  for (const [frequency, starts, lasts] of TONES[name]) {
    const source = context.createOscillator();
    const gain = context.createGain();
    source.type = "triangle";
    source.frequency.value = frequency;
    gain.gain.setValueAtTime(0, at + starts);
    gain.gain.linearRampToValueAtTime(0.6, at + starts + 0.01);
    gain.gain.setValueAtTime(0.6, at + starts + lasts - 0.02);
    gain.gain.linearRampToValueAtTime(0, at + starts + lasts);
    source.connect(gain).connect(analyser);
    source.start(at + starts);
    source.stop(at + starts + lasts);
  }
}

export function speak(text, { urgent = false } = {}) {
  const speech = window.speechSynthesis;
  if (!settings.voice || !speech || !text) return;
  if (urgent) speech.cancel();
  const saying = new SpeechSynthesisUtterance(text);
  saying.lang = words.table.speech;
  saying.onend = () => {
    quietSince = Date.now();
  };
  saying.voice = speech.getVoices().find((voice) => voice.lang.startsWith(words.code)) ?? null;
  speech.speak(saying);
}

export function canListen() {
  return Boolean(window.SpeechRecognition ?? window.webkitSpeechRecognition);
}

let listening = null;
let quietSince = 0;
const ECHO = 800; // ms after speaking in which the microphone may still hear us

// Listen for the words of the table; `heard(kind)` is called with mixed, gelled, tick or undo.
export function listen(heard) {
  const Recognition = window.SpeechRecognition ?? window.webkitSpeechRecognition;
  if (!Recognition || listening) return;
  listening = new Recognition();
  listening.continuous = true;
  listening.lang = words.table.speech;
  listening.onresult = (event) => {
    if (window.speechSynthesis?.speaking || Date.now() - quietSince < ECHO) return; // our own voice says "gelled" too
    const kind = heardIn(event.results[event.resultIndex][0].transcript);
    if (kind) heard(kind);
  };
  listening.onend = () => listening?.start();
  listening.onerror = (event) => {
    if (["not-allowed", "service-not-allowed", "audio-capture"].includes(event.error)) deafen();
  };
  listening.start();
}

export function heardIn(said) {
  const spoken = ` ${said.toLowerCase()} `;
  return Object.keys(words.table.voice).find((kind) => words.table.voice[kind].some((word) => spoken.includes(` ${word} `)));
}

export function deafen() {
  const old = listening;
  listening = null;
  old?.abort();
}

let lock = null;

// Keep the screen on where the browser lets us; false where it doesn't (plain http, older browsers).
export async function stayAwake() {
  if (!navigator.wakeLock) return false;
  try {
    if (!lock || lock.released) lock = await navigator.wakeLock.request("screen");
    return true;
  } catch {
    return false;
  }
}
