// Reading the wall: by tap, by the middle of the picture, and the keys of the 3-D view.
import { THREE } from "nicegui-scene";
import { turn, zoom } from "./camera.js";
import { passes } from "./lamp.js";

const STEP = 0.12; // of a turn by a key [rad]
const STILL = 5; // a tap moves less than so many pixels

export function picking(view) {
  const canvas = view.parts.canvas;
  let from;
  canvas.addEventListener("pointerdown", (event) => (from = [event.clientX, event.clientY]));
  canvas.addEventListener("pointerup", (event) => {
    if (from && Math.hypot(event.clientX - from[0], event.clientY - from[1]) < STILL) {
      const box = canvas.getBoundingClientRect();
      pick(view, (event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
    }
  });
  canvas.addEventListener("keydown", (event) => key(view, event));
}

function key(view, event) {
  const keys = {
    ArrowLeft: () => turn(view, -STEP, 0),
    ArrowRight: () => turn(view, STEP, 0),
    ArrowUp: () => turn(view, 0, -STEP),
    ArrowDown: () => turn(view, 0, STEP),
    "+": () => zoom(view, 0.9),
    "-": () => zoom(view, 1.1),
    Home: () => view.home(),
    Enter: () => pick(view, 0.5, 0.5),
  };
  if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  keys[event.key]();
}

/** Read the wall where the sight line through (x, y), parts of the picture, first meets it. */
function pick(view, x, y) {
  if (!view.picker) return;
  const caster = new THREE.Raycaster();
  view.camera.updateMatrixWorld();
  caster.setFromCamera(new THREE.Vector2(2 * x - 1, 1 - 2 * y), view.camera);
  const cut = view.shared.cut.value;
  const hit = caster
    .intersectObject(view.picker)
    .find(({ point }) => point.x * cut.x + point.y * cut.y + point.z * cut.z <= cut.w + 1e-9);
  if (!hit) return;
  const thickness = view.playing ? wallAt(view.geometry, hit) : undefined;
  view.spot = { at: hit.point.toArray(), name: view.parts.reading(thickness) };
  view.parts.read(view.spot.name + through(view, thickness), hit.point);
  const detail = { point: hit.point.toArray(), normal: hit.face.normal.toArray(), thickness };
  view.dispatchEvent(new CustomEvent("picked", { detail }));
  view.draw();
}

function through(view, thickness) {
  const half = view.shared.half_value.value;
  return half > 0 && thickness !== undefined ? `, ${Math.round(100 * passes(thickness, half))} % of the light` : "";
}

/** The wall where a face was hit, linear between its corners. */
function wallAt(geometry, { face, point }) {
  const at = (i) => new THREE.Vector3().fromBufferAttribute(geometry.attributes.position, i);
  const shares = new THREE.Triangle(at(face.a), at(face.b), at(face.c)).getBarycoord(point, new THREE.Vector3());
  const wall = geometry.attributes.thickness.array;
  return shares ? shares.x * wall[face.a] + shares.y * wall[face.b] + shares.z * wall[face.c] : wall[face.a];
}
