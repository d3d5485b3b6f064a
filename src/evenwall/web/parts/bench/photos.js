// Photos of the scale: kept in this browser (IndexedDB) until the server has them, a reload or a dead battery between.

import * as store from "./store.js";

const NAME = "bench.photos";

export const waiting = new Map(); // id of the photo's entry -> its file
let sending = null;

// Take `file` as the photo of `item`. Resolves once it is kept here; it is sent when the server is there.
export async function take(file, item) {
  const event = store.add("photo", { item });
  try {
    await inside("readwrite", (box) => box.put({ id: event.id, casting: store.casting, file }));
  } catch {
    store.state.forgetful = true; // private windows of some browsers keep nothing
  }
  waiting.set(event.id, file); // only now may the page say that it waits here
  store.state.changed += 1;
  return send();
}

// What an earlier load of this page left.
export async function recall() {
  try {
    const kept = await inside("readonly", (box) => box.getAll());
    for (const { id, casting, file } of kept ?? []) if (casting === store.casting) waiting.set(id, file);
  } catch {
    store.state.forgetful = true;
  }
  return send();
}

// Send what waits, one after the other; "" when all is kept by the server, else why not (null: it is away).
export function send() {
  sending ??= sendAll().finally(() => {
    sending = null;
  });
  return sending;
}

async function sendAll() {
  let fault = "";
  for (const [id, file] of waiting) {
    try {
      const answer = await fetch(`${store.API}/photos/${id}`, {
        method: "POST", headers: { "content-type": file.type }, body: file, signal: AbortSignal.timeout(60000),
      });
      if ([403, 404].includes(answer.status) || answer.status >= 500) return null; // not announced or let in yet
      if (!answer.ok) fault = (await answer.json()).error ?? answer.statusText;
      waiting.delete(id);
      store.state.changed += 1;
      await inside("readwrite", (box) => box.delete(id)).catch(() => {});
    } catch {
      return null;
    }
  }
  return fault;
}

// One transaction on the box of photos; resolves with its answer once it is on the disk.
function inside(mode, act) {
  return new Promise((go, stop) => {
    const opening = indexedDB.open(NAME, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("photos", { keyPath: "id" });
    opening.onerror = () => stop(opening.error);
    opening.onsuccess = () => {
      const db = opening.result;
      const work = db.transaction("photos", mode, { durability: "strict" });
      const asked = act(work.objectStore("photos"));
      work.oncomplete = () => {
        db.close();
        go(asked.result);
      };
      work.onabort = () => {
        db.close();
        stop(work.error);
      };
    };
  });
}
