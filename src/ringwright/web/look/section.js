// The section: the metal is cut by a plane, the cut is filled by counting walls in the stencil, and coloured by the figure
// that is shown: from the volume where the step reckoned inside the metal, else along the cut's outline from the surface.

import { THREE } from "./three.js";

const RIBBON = 0.022;

// A figure in the cells of a regular grid, as the server sends it: see papers/voxelfiles.py.
export class Volume {
  constructor(data) {
    const length = new DataView(data).getUint32(0, true);
    const head = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 4, length)));
    this.cells = head.cells;
    this.corner = head.corner_mm;
    this.h = head.h_mm;
    this.low = head.low;
    this.high = head.high;
    this.counts = new Uint16Array(data, 4 + length);
  }

  // The figure of a cell; not a number outside the grid or where there is none.
  cell(i, j, k) {
    const [nx, ny, nz] = this.cells;
    if (i < 0 || j < 0 || k < 0 || i >= nx || j >= ny || k >= nz) return NaN;
    const count = this.counts[i + nx * (j + ny * k)];
    return count ? this.low + ((count - 1) / 65534) * (this.high - this.low) : NaN;
  }

  // The figure at a place of the picture; at the metal's skin, from the next cell that has one.
  at(point) {
    const here = toFlask(point).map((part, axis) => Math.floor((part - this.corner[axis]) / this.h));
    return this.near(...here);
  }

  near(i, j, k) {
    const found = this.cell(i, j, k);
    if (Number.isFinite(found)) return found;
    let sum = 0;
    let many = 0;
    for (let x = -1; x <= 1; x += 1) {
      for (let y = -1; y <= 1; y += 1) {
        for (let z = -1; z <= 1; z += 1) {
          const one = this.cell(i + x, j + y, k + z);
          if (Number.isFinite(one)) {
            sum += one;
            many += 1;
          }
        }
      }
    }
    return many ? sum / many : NaN;
  }
}

// The flask's frame has z up; the picture has y up.
const toFlask = (point) => [point.x, -point.z, point.y];
const toPicture = (x, y, z) => [x, z, -y];

export function fill(group, solids, normal, at, about) {
  const plane = [about.plane];
  const count = { depthWrite: false, depthTest: false, colorWrite: false, stencilWrite: true, stencilFunc: THREE.AlwaysStencilFunc };
  for (const mesh of solids) {
    for (const [side, step] of [[THREE.BackSide, THREE.IncrementWrapStencilOp], [THREE.FrontSide, THREE.DecrementWrapStencilOp]]) {
      const steps = { stencilFail: step, stencilZFail: step, stencilZPass: step };
      add(group, mesh.geometry, new THREE.MeshBasicMaterial({ ...count, ...steps, side, clippingPlanes: plane }), 0.5);
    }
  }
  const within = { side: THREE.DoubleSide, stencilWrite: true, stencilRef: 0, stencilFunc: THREE.NotEqualStencilFunc };
  const material = new THREE.MeshBasicMaterial({ ...within, color: about.volume ? about.scale.unknownLinear : about.colour });
  const sheet = add(group, new THREE.PlaneGeometry(about.reach * 6, about.reach * 6), material, 0.7);
  sheet.lookAt(normal);
  sheet.position.copy(normal).multiplyScalar(at);
  const over = { ...within, polygonOffset: true, polygonOffsetFactor: -2, polygonOffsetUnits: -4 };
  let last = sheet;
  if (about.volume) last = slice(group, normal, at, about, over) ?? sheet;
  else if (about.figure) last = outlines(group, solids, normal, at, about, over) ?? sheet;
  last.onAfterRender = (renderer) => renderer.clearStencil();
  return material;
}

function add(group, geometry, material, order) {
  const mesh = new THREE.Mesh(geometry, material);
  mesh.renderOrder = order;
  group.add(mesh);
  return mesh;
}

// One layer of cells of the volume, each in its colour; a cell at the skin that is not known takes those beside it.
function slice(group, normal, at, { volume, shade, scale }, over) {
  const axis = [normal.x, normal.z, normal.y].findIndex((part) => Math.abs(part) > 0.5);
  const here = axis === 1 ? -at : at;
  const layer = Math.floor((here - volume.corner[axis]) / volume.h);
  const [u, v] = [0, 1, 2].filter((one) => one !== axis);
  const [wide, tall] = [volume.cells[u] + 2, volume.cells[v] + 2];
  const pixels = new Uint8Array(4 * wide * tall);
  const cell = [0, 0, 0];
  let known = 0;
  for (let b = 0; b < tall; b += 1) {
    for (let a = 0; a < wide; a += 1) {
      [cell[axis], cell[u], cell[v]] = [layer, a - 1, b - 1];
      const value = volume.near(...cell);
      if (!Number.isFinite(value)) continue;
      pixels.set(scale.bytes(shade(value)), 4 * (a + wide * b));
      pixels[4 * (a + wide * b) + 3] = 255;
      known += 1;
    }
  }
  if (!known) return null;
  const texture = new THREE.DataTexture(pixels, wide, tall);
  texture.colorSpace = THREE.SRGBColorSpace;
  texture.needsUpdate = true;
  const corner = (a, b) => {
    const place = [0, 0, 0];
    place[axis] = here;
    place[u] = volume.corner[u] + volume.h * (a - 1);
    place[v] = volume.corner[v] + volume.h * (b - 1);
    return toPicture(...place);
  };
  const sheet = new THREE.BufferGeometry();
  const corners = [corner(0, 0), corner(wide, 0), corner(wide, tall), corner(0, tall)];
  sheet.setAttribute("position", new THREE.Float32BufferAttribute(corners.flat(), 3));
  sheet.setAttribute("uv", new THREE.Float32BufferAttribute([0, 0, 1, 0, 1, 1, 0, 1], 2));
  sheet.setIndex([0, 1, 2, 0, 2, 3]);
  return add(group, sheet, new THREE.MeshBasicMaterial({ ...over, map: texture, alphaTest: 0.5 }), 0.75);
}

// A band along the cut's outline, on the side of the metal, in the colours of the figure at the surface.
function outlines(group, solids, normal, at, { shade, scale, reach }, over) {
  const places = [];
  const colours = [];
  const tint = new THREE.Color();
  const [p, q, r] = [new THREE.Vector3(), new THREE.Vector3(), new THREE.Vector3()];
  const inward = new THREE.Vector3();
  for (const mesh of solids) {
    const { position, _figure: figure } = mesh.geometry.attributes;
    const { index } = mesh.geometry;
    if (!figure || !index) continue;
    const far = new Float32Array(position.count);
    for (let i = 0; i < far.length; i += 1) {
      far[i] = normal.x * position.getX(i) + normal.y * position.getY(i) + normal.z * position.getZ(i) - at;
    }
    for (let i = 0; i < index.count; i += 3) {
      const corners = [index.getX(i), index.getX(i + 1), index.getX(i + 2)];
      const above = corners.map((one) => far[one] > 0);
      if (above[0] === above[1] && above[1] === above[2]) continue;
      const ends = [];
      for (const [a, b] of [[0, 1], [1, 2], [2, 0]]) {
        if (above[a] === above[b]) continue;
        const [one, other] = [corners[a], corners[b]];
        const share = far[one] / (far[one] - far[other]);
        p.fromBufferAttribute(position, one).lerp(q.fromBufferAttribute(position, other), share);
        ends.push([p.clone(), figure.getX(one) + (figure.getX(other) - figure.getX(one)) * share]);
      }
      p.fromBufferAttribute(position, corners[0]);
      q.fromBufferAttribute(position, corners[1]).sub(p);
      r.fromBufferAttribute(position, corners[2]).sub(p);
      inward.crossVectors(q, r).negate();
      inward.addScaledVector(normal, -inward.dot(normal));
      if (inward.lengthSq() < 1e-16) continue;
      inward.setLength(RIBBON * reach);
      const [[from, first], [to, second]] = ends;
      const [low, high] = [from.clone().add(inward), to.clone().add(inward)];
      const quad = [[from, first], [to, second], [high, second], [from, first], [high, second], [low, first]];
      for (const [place, value] of quad) {
        places.push(place.x, place.y, place.z);
        scale.light(shade(value), tint);
        colours.push(tint.r, tint.g, tint.b);
      }
    }
  }
  if (!places.length) return null;
  const band = new THREE.BufferGeometry();
  band.setAttribute("position", new THREE.Float32BufferAttribute(places, 3));
  band.setAttribute("color", new THREE.Float32BufferAttribute(colours, 3));
  return add(group, band, new THREE.MeshBasicMaterial({ ...over, vertexColors: true }), 0.75);
}
