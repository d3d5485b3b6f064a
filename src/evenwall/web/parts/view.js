// <wall-view>: the one 3-D view of the app. Orbit, tap to read the wall, cut it with a plane, play the film's life.
// Attributes: shape (address of triangles), film (address of thicknesses), wanted and top [m], unit (mm | in),
// colours, marks (JSON [{name, at, kind}]), label, hand, follow (id of a view whose camera it shares).
// Events: `picked` {point, normal, thickness, node}.
import { THREE, OrbitControls } from "nicegui-scene";
import { fetchBlock } from "./block.js";
import { corners, stand } from "./camera.js";
import { table, gradient } from "./colours.js";
import { exposure } from "./lamp.js";
import { capMesh, handShape, sharedUniforms, wallMeshes } from "./paint.js";
import { panel } from "./panel.js";
import { picking } from "./pick.js";

THREE.ColorManagement.enabled = false;
const AXES = { x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, 1] };

// Properties must not be called like attributes: the page would set them instead of the attribute.
class WallView extends HTMLElement {
  static observedAttributes = ["shape", "film", "wanted", "top", "unit", "colours", "marks", "label", "up"];

  connectedCallback() {
    if (this.renderer || this.failed) return;
    this.classList.add("wall-view");
    this.parts = panel(this);
    try {
      this.start();
    } catch (error) {
      this.failed = true;
      this.parts.say("This browser can't draw in 3-D; the list beside this picture says the same in words.");
      console.warn(error);
      return;
    }
    for (const name of WallView.observedAttributes) this.attributeChangedCallback(name);
  }

  disconnectedCallback() {
    this.stop = true;
    this.watcher?.disconnect();
    this.controls?.dispose();
    this.renderer?.dispose();
    this.geometry?.dispose();
  }

  start() {
    const canvas = this.parts.canvas;
    this.renderer = new THREE.WebGLRenderer({ canvas, antialias: true, stencil: true, alpha: true });
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.renderer.outputColorSpace = THREE.LinearSRGBColorSpace;
    this.scene = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(22, 1, 0.005, 20);
    this.upright();
    this.shared = sharedUniforms();
    this.cap = capMesh();
    this.arrow = new THREE.ArrowHelper(new THREE.Vector3(0, 0, -1), new THREE.Vector3(), 0.1, 0xb5512a);
    this.arrow.visible = false;
    this.palm = handShape();
    this.palm.visible = false;
    this.scene.add(this.cap, this.arrow, this.palm);
    this.cap.visible = false;
    this.cutAt = { axis: "", at: 0.5 };
    this.watcher = new ResizeObserver(() => this.fit());
    this.watcher.observe(this.parts.stage);
    this.theme = matchMedia("(prefers-color-scheme: dark)");
    this.theme.addEventListener("change", () => this.draw());
    document.addEventListener("evenwall-theme", () => this.draw());
    picking(this);
  }

  attributeChangedCallback(name) {
    if (!this.renderer) return;
    const text = this.getAttribute(name);
    if (name === "shape" && text) this.loadShape(text);
    if (name === "film") text ? this.loadFilm(text) : this.clearFilm();
    if (name === "up") this.upright();
    if (name === "colours") {
      this.shared.colours.value.image.data.set(table(text ?? "cividis"));
      this.shared.colours.value.needsUpdate = true;
    }
    if (name === "marks") this.noted = JSON.parse(text || "[]");
    if (name === "label") this.parts.canvas.setAttribute("aria-label", text ?? "The piece");
    if (["wanted", "top", "unit", "colours"].includes(name)) this.scale();
    this.draw();
  }

  /** Take the axis that is up (z, -y ...) from the attribute; the looks turn with it. */
  upright() {
    const text = this.getAttribute("up") || "z";
    if (text === this.upAxis) return;
    this.upAxis = text;
    const up = new THREE.Vector3(...AXES[text.at(-1)]).multiplyScalar(text.startsWith("-") ? -1 : 1);
    this.tilt = new THREE.Quaternion().setFromUnitVectors(new THREE.Vector3(0, 0, 1), up);
    this.camera.up.copy(up);
    this.controls?.dispose();
    this.controls = new OrbitControls(this.camera, this.parts.canvas);
    this.controls.addEventListener("change", () => this.moved());
    this.controls.addEventListener("start", () => (this.steered = true));
    if (this.geometry) this.layHand();
    if (this.geometry) this.home();
  }

  // --- what is shown -------------------------------------------------------------------------------------------

  async loadShape(address) {
    this.parts.say("");
    try {
      const { arrays, meta } = await fetchBlock(address);
      if (this.getAttribute("shape") !== address || this.stop) return;
      this.setShape(arrays.vertices, arrays.faces, meta);
    } catch (error) {
      this.parts.say(`The piece could not be fetched: ${error.message}`);
    }
  }

  setShape(vertices, faces, meta = {}) {
    const before = this.geometry?.boundingSphere.radius;
    this.geometry?.dispose();
    this.spot = undefined;
    if (this.meshes) this.scene.remove(...this.all());
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(vertices, 3));
    geometry.setIndex(new THREE.BufferAttribute(faces, 1));
    geometry.computeVertexNormals();
    geometry.computeBoundingSphere();
    geometry.computeBoundingBox();
    const thickness = new THREE.BufferAttribute(new Float32Array(vertices.length / 3), 1);
    thickness.setUsage(THREE.DynamicDrawUsage);
    geometry.setAttribute("thickness", thickness);
    this.geometry = geometry;
    this.meshes = wallMeshes(geometry, this.shared);
    this.picker = new THREE.Mesh(geometry, new THREE.MeshBasicMaterial({ side: THREE.DoubleSide }));
    this.scene.add(...this.all());
    this.layHand();
    if (!this.join()) {
      if (!this.steered) this.home();
      else if (before) this.keepLook(geometry.boundingSphere.radius / before);
      this.cutTo(this.cutAt.axis, this.cutAt.at);
    }
    if (this.pending) this.setFilm(this.pending);
    this.dispatchEvent(new CustomEvent("shown"));
  }

  /** The piece grew so many times about the origin: the same look at it from so much farther. */
  keepLook(grown) {
    this.camera.position.multiplyScalar(grown);
    this.controls.target.multiplyScalar(grown);
    this.controls.update();
  }

  /** The hand lies beside the piece on the table that the piece stands on. */
  layHand() {
    this.palm.visible = this.hasAttribute("hand");
    const back = this.tilt.clone().invert();
    const box = new THREE.Box3().setFromBufferAttribute(this.geometry.attributes.position);
    const stood = new THREE.Box3();
    for (const corner of corners(box)) stood.expandByPoint(corner.applyQuaternion(back));
    const middle = stood.getCenter(new THREE.Vector3());
    this.palm.position.set(stood.max.x + 0.075, middle.y - 0.095, stood.min.z).applyQuaternion(this.tilt);
    this.palm.quaternion.copy(this.tilt);
    this.palm.updateMatrixWorld(true);
  }

  all() {
    const { outer, inner, solid, hollow } = this.meshes;
    return [outer, inner, ...solid, ...hollow];
  }

  async loadFilm(address) {
    try {
      const block = await fetchBlock(address);
      if (this.getAttribute("film") === address && !this.stop) this.setFilm(block);
    } catch (error) {
      this.parts.say(`The film could not be fetched: ${error.message}`);
    }
  }

  setFilm(block) {
    const { arrays, shapes, meta } = block;
    if (arrays.vertices) {
      this.pending = undefined;
      const { vertices, faces, ...rest } = arrays;
      this.setShape(vertices, faces, meta);
      return this.setFilm({ arrays: rest, shapes, meta });
    }
    if (!this.geometry || shapes.thickness.at(-1) !== this.geometry.attributes.position.count) {
      this.pending = block;
      return;
    }
    this.pending = undefined;
    this.playing = { ...meta, thickness: arrays.thickness, gravity: arrays.gravity, frames: shapes.thickness[0] };
    this.shared.coloured.value = 1;
    this.parts.film(this.playing);
    if (!this.join() && !this.steered) this.home();
    this.scale();
    this.frame(this.playing.frames - 1);
  }

  clearFilm() {
    this.playing = undefined;
    this.shared.coloured.value = 0;
    this.parts.film(undefined);
    this.arrow.visible = false;
    if (this.geometry) this.geometry.attributes.thickness.array.fill(0);
    if (this.geometry) this.geometry.attributes.thickness.needsUpdate = true;
  }

  /** Show snapshot k of the film. */
  frame(k) {
    if (!this.playing || !this.geometry) return;
    this.at = Math.max(0, Math.min(k, this.playing.frames - 1));
    const n = this.geometry.attributes.position.count;
    const attribute = this.geometry.attributes.thickness;
    attribute.array.set(this.playing.thickness.subarray(this.at * n, (this.at + 1) * n));
    attribute.needsUpdate = true;
    const g = this.playing.gravity?.subarray(3 * this.at, 3 * this.at + 3);
    this.arrow.visible = Boolean(g && Math.hypot(...g) > 0.1);
    if (this.arrow.visible) {
      const ball = this.geometry.boundingSphere;
      const way = new THREE.Vector3(...g).normalize();
      this.arrow.position.copy(ball.center).addScaledVector(way, ball.radius * 0.85);
      this.arrow.setDirection(way);
      this.arrow.setLength(ball.radius * 0.4, ball.radius * 0.14, ball.radius * 0.09);
    }
    this.parts.moment(this.at);
    const moment = this.playing.times?.[this.at];
    if (moment !== undefined) this.together((other) => other.near(moment));
    this.draw();
  }

  /** Show the snapshot nearest to so many seconds since mixing. */
  near(moment) {
    const times = this.playing?.times;
    if (!times) return;
    const late = times.findIndex((time) => time >= moment);
    const k = late < 0 ? times.length - 1 : late;
    this.frame(k > 0 && moment - times[k - 1] < times[k] - moment ? k - 1 : k);
  }

  scale() {
    const top = Number(this.getAttribute("top")) || this.playing?.top || 0.006;
    const low = this.getAttribute("colours") === "difference" ? -top : 0;
    this.shared.range.value.set(low, top);
    this.parts.scale({
      low,
      top,
      wanted: Number(this.getAttribute("wanted")) || undefined,
      unit: this.getAttribute("unit") ?? "mm",
      gradient: gradient(this.getAttribute("colours") ?? "cividis"),
      shown: Boolean(this.playing),
    });
  }

  // --- cutting, looking, reading -----------------------------------------------------------------------------

  /** Cut by a plane across `axis` (x, y, z, "" for none) at the part `at` (0 to 1) of the piece's extent. */
  cutTo(axis, at) {
    this.cutAt = { axis, at };
    const cut = this.shared.cut.value;
    if (!axis || !this.geometry) cut.set(0, 0, 0, 1);
    else {
      const box = this.geometry.boundingBox;
      const i = "xyz".indexOf(axis);
      const low = box.min.getComponent(i);
      const high = box.max.getComponent(i);
      const towards = axis === "y" ? -1 : 1; // the part that is taken away is the one nearer the first look
      const place = towards > 0 ? high - at * (high - low) : low + at * (high - low);
      cut.set(...AXES[axis].map((a) => a * towards), place * towards);
      this.cap.position.copy(this.geometry.boundingSphere.center).setComponent(i, place);
      this.cap.rotation.set(axis === "y" ? Math.PI / 2 : 0, axis === "x" ? Math.PI / 2 : 0, 0);
      this.cap.scale.setScalar(this.geometry.boundingSphere.radius * 2.4);
    }
    this.cap.visible = Boolean(axis);
    this.parts.cut(axis, at);
    this.together((other) => other.cutTo(axis, at));
    this.draw();
  }

  home(look) {
    if (this.geometry?.boundingBox) stand(this, look);
  }

  /** Have every view that is laid beside this one do the same, once. */
  together(act) {
    if (this.busy) return;
    const pair = (view) => view.getAttribute("follow") || view.id;
    const others = [...document.querySelectorAll("wall-view")].filter(
      (other) => other !== this && !other.busy && other.controls && pair(other) === pair(this)
    );
    this.busy = true;
    for (const other of others) act(other);
    this.busy = false;
  }

  /** Look as the view that this one is laid beside does; false where there is none yet. */
  join() {
    const lead = document.getElementById(this.getAttribute("follow") ?? "");
    if (!lead?.geometry) return false;
    this.busy = true;
    this.camera.position.copy(lead.camera.position);
    this.controls.target.copy(lead.controls.target);
    this.camera.near = lead.camera.near;
    this.camera.far = lead.camera.far;
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.cutTo(lead.cutAt.axis, lead.cutAt.at);
    this.busy = false;
    return true;
  }

  moved() {
    this.together((other) => {
      other.camera.position.copy(this.camera.position);
      other.controls.target.copy(this.controls.target);
      other.controls.update();
      other.draw();
    });
    this.draw();
  }

  /** Hold the piece against a lamp, `half` the thickness of wall that lets half of the light through; 0: as it is. */
  light(half) {
    this.shared.half_value.value = half;
    if (half > 0) this.shared.exposure.value = exposure(this.geometry.attributes.thickness.array, half);
    this.classList.toggle("in-lamplight", half > 0);
    this.draw();
  }

  // --- drawing on demand ---------------------------------------------------------------------------------------

  fit() {
    const { clientWidth: w, clientHeight: h } = this.parts.stage;
    if (!w || !h || !this.renderer) return;
    this.renderer.setSize(w, h, false);
    this.camera.aspect = w / h;
    this.camera.updateProjectionMatrix();
    if (!this.join() && !this.steered) this.home();
    this.draw();
  }

  draw() {
    if (this.waiting || !this.renderer || this.stop) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      if (!this.stop) this.render();
    });
  }

  render() {
    const style = getComputedStyle(this);
    if (this.meshes) {
      const cut = this.cap.visible;
      const wall = cut && Boolean(this.playing) && this.playing.hollow !== false;
      this.meshes.inner.visible = wall;
      for (const mesh of this.meshes.solid) mesh.visible = cut;
      for (const mesh of this.meshes.hollow) mesh.visible = wall;
      this.cap.material.color.copy(paint(style.borderTopColor));
    }
    for (const mesh of this.palm.children) mesh.material.color.copy(paint(style.outlineColor));
    this.renderer.render(this.scene, this.camera);
    this.frames = (this.frames ?? 0) + 1;
    this.parts.marks([...(this.noted ?? []), ...(this.spot ? [{ ...this.spot, kind: "spot" }] : [])], (at) => {
      const p = new THREE.Vector3(...at).project(this.camera);
      return [(p.x + 1) / 2, (1 - p.y) / 2, p.z];
    });
  }
}

/** A CSS colour that the browser resolved (rgb(...)) as the renderer takes it: plain sRGB numbers. */
function paint(text) {
  const [r, g, b] = text.match(/[\d.]+/g).map((x) => Number(x) / 255);
  return new THREE.Color(r, g, b);
}

customElements.define("wall-view", WallView);
