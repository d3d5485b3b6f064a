// Where the camera of a 3-D view stands: looks that show all of the piece, turning and coming nearer by keys.
import { THREE } from "nicegui-scene";

const FIRST_LOOK = [0.55, -1, 0.6]; // from the front, right and above, the piece standing with z up
const MARGIN = 0.92;
const ARROW = 1.25; // room for gravity's arrow

/** Stand so that the whole piece is seen from the direction `look` (as if z were up). */
export function stand(view, look = FIRST_LOOK) {
  const box = view.geometry.boundingBox.clone();
  if (view.palm.visible) box.expandByObject(view.palm);
  const centre = box.getCenter(new THREE.Vector3());
  const away = new THREE.Vector3(...look).normalize().applyQuaternion(view.tilt);
  view.controls.target.copy(centre);
  view.camera.position.copy(centre).add(away);
  view.camera.lookAt(centre);
  view.camera.updateMatrixWorld();
  const far = reach(view.camera, box, centre) * (view.playing?.gravity ? ARROW : 1);
  view.camera.position.copy(centre).addScaledVector(away, far);
  view.camera.near = far / 60;
  view.camera.far = far * 8;
  view.camera.updateProjectionMatrix();
  view.controls.update();
}

/** How far the camera must stand so that all corners of the box are in the picture. */
function reach(camera, box, centre) {
  const back = camera.quaternion.clone().invert();
  const high = Math.tan((camera.fov * Math.PI) / 360) * MARGIN;
  let far = 0;
  for (const corner of corners(box)) {
    corner.sub(centre).applyQuaternion(back);
    far = Math.max(far, corner.z + Math.abs(corner.y) / high, corner.z + Math.abs(corner.x) / high / (camera.aspect || 1));
  }
  return far;
}

/** Go round the piece by angles. */
export function turn(view, sideways, upward) {
  view.steered = true;
  const { camera, controls } = view;
  const level = new THREE.Quaternion().setFromUnitVectors(camera.up, new THREE.Vector3(0, 1, 0));
  const offset = camera.position.clone().sub(controls.target).applyQuaternion(level);
  const round = new THREE.Spherical().setFromVector3(offset);
  round.theta += sideways;
  round.phi = Math.min(Math.PI - 0.05, Math.max(0.05, round.phi + upward));
  offset.setFromSpherical(round).applyQuaternion(level.invert());
  camera.position.copy(controls.target).add(offset);
  controls.update();
}

/** Come nearer (under 1) or go away. */
export function zoom(view, by) {
  view.steered = true;
  view.camera.position.sub(view.controls.target).multiplyScalar(by).add(view.controls.target);
  view.controls.update();
}

/** The eight corners of a box. */
export function corners({ min, max }) {
  return [...Array(8).keys()].map(
    (k) => new THREE.Vector3(k & 1 ? max.x : min.x, k & 2 ? max.y : min.y, k & 4 ? max.z : min.z)
  );
}
