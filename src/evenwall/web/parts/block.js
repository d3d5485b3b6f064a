// Arrays from the server: see binary.py for the form of a block.
const KINDS = { f4: Float32Array, u4: Uint32Array, u1: Uint8Array };

/** {arrays: {name: typed array}, shapes: {name: [..]}, meta} of the block of bytes at an address. */
export async function fetchBlock(address, signal) {
  const answer = await fetch(address, { signal, credentials: "same-origin" });
  if (!answer.ok) throw new Error(await answer.text());
  return readBlock(await answer.arrayBuffer());
}

export function readBlock(buffer) {
  const mark = String.fromCharCode(...new Uint8Array(buffer, 0, 4));
  if (mark !== "EWB1") throw new Error("not a block of arrays");
  const length = new DataView(buffer).getUint32(4, true);
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 8, length)));
  const arrays = {};
  const shapes = {};
  for (const [name, place] of Object.entries(header.arrays)) {
    const count = place.shape.reduce((a, b) => a * b, 1);
    arrays[name] = new KINDS[place.type](buffer, 8 + length + place.at, count);
    shapes[name] = place.shape;
  }
  return { arrays, shapes, meta: header.meta };
}
