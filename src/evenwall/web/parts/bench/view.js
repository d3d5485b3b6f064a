// What the page holds of itself between two looks at the clock; everything that must last is in store.js.

export const $ = (id) => document.getElementById(id);

export const view = {
  moment: null, // the last one
  cue: "", beats: new Map(), step: "", doubt: "", notes: null, // what was called last
  lastPress: 0, doubtful: 0, // instants of the last press, and of one that is asked for twice
  awake: null, // whether the browser keeps the screen on; null: not asked yet
  line: null, // { text, until, key }: something that was said; shown where the words of the moment are others
  drawn: "", // what the screen shows, to draw only what changed
};

export const BUSY = ["stir", "pour", "close", "wet", "turn", "brush", "wipe", "prop"];
