// How the wall is painted: one small shader for the mold wall, the skin under it and the stencil that caps a cut.
import { THREE } from "nicegui-scene";
import { GLOW } from "./lamp.js";

const VERTEX = `
  attribute float thickness;
  uniform float inward;
  varying vec3 seen; varying vec3 turned; varying float t; varying vec3 place;
  void main() {
    vec3 p = position - normal * thickness * inward;
    place = p;
    t = thickness;
    vec4 eye = modelViewMatrix * vec4(p, 1.0);
    seen = eye.xyz;
    turned = normalMatrix * normal;
    gl_Position = projectionMatrix * eye;
  }`;

const FRAGMENT = `${GLOW}
  uniform sampler2D colours; uniform vec2 range; uniform vec3 plain; uniform float coloured; uniform vec4 cut; uniform float half_value; uniform float exposure;
  varying vec3 seen; varying vec3 turned; varying float t; varying vec3 place;
  void main() {
    if (dot(cut.xyz, place) > cut.w) discard;
    vec3 n = normalize(turned);
    if (dot(n, seen) > 0.0) n = -n;
    if (half_value > 0.0) { gl_FragColor = vec4(glow(t, half_value, -dot(n, normalize(seen)), exposure), 1.0); return; }
    float light = 0.62 + 0.30 * max(dot(n, normalize(vec3(-0.45, 0.6, 0.66))), 0.0)
                       + 0.16 * max(dot(n, normalize(vec3(0.7, -0.2, 0.5))), 0.0);
    float x = clamp((t - range.x) / max(range.y - range.x, 1e-9), 0.0, 1.0);
    vec3 c = mix(plain, texture2D(colours, vec2(x * 0.996 + 0.002, 0.5)).rgb, coloured);
    gl_FragColor = vec4(c * light, 1.0);
  }`;

const NOWHERE = new THREE.Vector4(0, 0, 0, 1);

function material(uniforms, options) {
  return new THREE.ShaderMaterial({ vertexShader: VERTEX, fragmentShader: FRAGMENT, uniforms, ...options });
}

function own(shared, inward) {
  return { ...shared, inward: { value: inward } };
}

/** Uniforms that all surfaces of one view share. */
export function sharedUniforms() {
  const colours = new THREE.DataTexture(new Uint8Array(1024), 256, 1);
  colours.minFilter = colours.magFilter = THREE.LinearFilter;
  return {
    colours: { value: colours },
    range: { value: new THREE.Vector2(0, 0.005) },
    plain: { value: new THREE.Color(0.8, 0.76, 0.68) },
    coloured: { value: 0 },
    cut: { value: NOWHERE.clone() },
    half_value: { value: 0 },
    exposure: { value: 1 },
  };
}

/** Meshes of one geometry: outer wall, inner skin, and what writes the stencil where the wall is solid. */
export function wallMeshes(geometry, shared) {
  const stencil = (side, inward, add) =>
    new THREE.Mesh(
      geometry,
      material(own(shared, inward), {
        side,
        colorWrite: false,
        depthWrite: false,
        depthTest: false,
        stencilWrite: true,
        stencilFunc: THREE.AlwaysStencilFunc,
        stencilFail: add,
        stencilZFail: add,
        stencilZPass: add,
      })
    );
  const more = THREE.IncrementWrapStencilOp;
  const less = THREE.DecrementWrapStencilOp;
  const outer = new THREE.Mesh(geometry, material(own(shared, 0), { side: THREE.FrontSide }));
  const inner = new THREE.Mesh(geometry, material(own(shared, 1), { side: THREE.BackSide }));
  const solid = [stencil(THREE.BackSide, 0, more), stencil(THREE.FrontSide, 0, less)];
  const hollow = [stencil(THREE.BackSide, 1, less), stencil(THREE.FrontSide, 1, more)];
  outer.renderOrder = 3;
  inner.renderOrder = 3;
  for (const mesh of [...solid, ...hollow]) mesh.renderOrder = 1;
  for (const mesh of [outer, inner, ...solid, ...hollow]) mesh.frustumCulled = false;
  return { outer, inner, solid, hollow };
}

/** The cap over a cut: a square in the plane, drawn where the stencil says that the wall is solid. */
export function capMesh() {
  const cap = new THREE.Mesh(
    new THREE.PlaneGeometry(1, 1),
    new THREE.MeshBasicMaterial({
      side: THREE.DoubleSide,
      stencilWrite: true,
      stencilRef: 0,
      stencilFunc: THREE.NotEqualStencilFunc,
      stencilFail: THREE.ReplaceStencilOp,
      stencilZFail: THREE.ReplaceStencilOp,
      stencilZPass: THREE.ReplaceStencilOp,
    })
  );
  cap.renderOrder = 2;
  cap.frustumCulled = false;
  return cap;
}

/** A flat hand, 85 mm across the palm and 190 mm long, to show how large the piece is. */
export function handShape() {
  const hand = new THREE.Group();
  const slab = (x, y, w, h, r, turn = 0) => {
    const shape = new THREE.Shape();
    shape.moveTo(-w / 2 + r, 0);
    shape.lineTo(w / 2 - r, 0);
    shape.absarc(w / 2 - r, r, r, -Math.PI / 2, 0, false);
    shape.absarc(w / 2 - r, h - r, r, 0, Math.PI / 2, false);
    shape.absarc(-w / 2 + r, h - r, r, Math.PI / 2, Math.PI, false);
    shape.absarc(-w / 2 + r, r, r, Math.PI, (3 * Math.PI) / 2, false);
    const material = new THREE.MeshBasicMaterial({ side: THREE.DoubleSide });
    const mesh = new THREE.Mesh(new THREE.ShapeGeometry(shape, 8), material);
    mesh.position.set(x, y, 0);
    mesh.rotation.z = turn;
    hand.add(mesh);
  };
  slab(0, 0, 0.085, 0.1, 0.028);
  const fingers = [[0.032, 0.07], [0.0108, 0.08], [-0.0108, 0.084], [-0.032, 0.064]];
  for (const [x, length] of fingers) slab(x, 0.09, 0.0195, length + 0.01, 0.0097);
  slab(-0.03, 0.03, 0.023, 0.075, 0.0115, 0.72);
  return hand;
}
