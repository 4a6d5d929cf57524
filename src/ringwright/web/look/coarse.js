// Where drawing is slow, the ring is drawn coarser while it turns.

import { THREE } from "./three.js";

const COARSE_CELLS = 45;

// A coarser solid: all corners in one cell of a grid become one.
export function coarse(whole, reach) {
  const from = whole.attributes.position.array;
  const colours = whole.attributes.color?.array;
  const low = whole.boundingBox.min;
  const cell = reach / COARSE_CELLS;
  const many = Math.ceil((2.2 * reach) / cell) + 2;
  const found = new Map();
  const place = new Uint32Array(from.length / 3);
  const sums = [];
  for (let i = 0; i < place.length; i += 1) {
    const key = Math.floor((from[3 * i] - low.x) / cell)
      + many * (Math.floor((from[3 * i + 1] - low.y) / cell) + many * Math.floor((from[3 * i + 2] - low.z) / cell));
    let at = found.get(key);
    if (at === undefined) {
      at = found.size;
      found.set(key, at);
      sums.push([0, 0, 0, 0, 0, 0, 0]);
    }
    place[i] = at;
    const sum = sums[at];
    for (let k = 0; k < 3; k += 1) {
      sum[k] += from[3 * i + k];
      if (colours) sum[3 + k] += colours[3 * i + k];
    }
    sum[6] += 1;
  }
  const faces = [];
  const index = whole.index.array;
  for (let i = 0; i < index.length; i += 3) {
    const [a, b, c] = [place[index[i]], place[index[i + 1]], place[index[i + 2]]];
    if (a !== b && b !== c && c !== a) faces.push(a, b, c);
  }
  const made = new THREE.BufferGeometry();
  const part = (start) => new THREE.Float32BufferAttribute(sums.flatMap((sum) => [0, 1, 2].map((k) => sum[start + k] / sum[6])), 3);
  made.setAttribute("position", part(0));
  if (colours) made.setAttribute("color", part(3));
  made.setIndex(faces);
  made.boundingBox = whole.boundingBox;
  made.boundingSphere = whole.boundingSphere;
  return made;
}
