// From where a place of the ring is seen.

import { THREE } from "./three.js";

// The direction out of the metal at a place of its surface.
export function outward(place, solids) {
  let best = Infinity;
  const normal = new THREE.Vector3(place.x, place.y, place.z * 0.3);
  for (const one of solids) {
    if (one.userData.role !== "metal") continue;
    const at = one.geometry.attributes.position;
    const index = one.geometry.index;
    const a = new THREE.Vector3();
    const b = new THREE.Vector3();
    const c = new THREE.Vector3();
    for (let i = 0; i < index.count; i += 3) {
      a.fromBufferAttribute(at, index.getX(i));
      const far = a.distanceToSquared(place);
      if (far < best) {
        best = far;
        b.fromBufferAttribute(at, index.getX(i + 1)).sub(a);
        c.fromBufferAttribute(at, index.getX(i + 2)).sub(a);
        if (b.cross(c).lengthSq() > 1e-12) normal.copy(b);
      }
    }
  }
  return normal.lengthSq() ? normal.normalize() : new THREE.Vector3(0.6, 0.5, 0.7).normalize();
}

// The direction nearest to the wanted one from which the place is seen.
export function free(place, wanted, solids, far) {
  const ways = [wanted.clone().add(new THREE.Vector3(0, 0.15, 0.35)).normalize()];
  for (let turn = 0; turn < 12; turn += 1) {
    for (const tilt of [0, 0.6, -0.6]) {
      ways.push(new THREE.Vector3(Math.cos((turn * Math.PI) / 6), Math.sin((turn * Math.PI) / 6), tilt * 1.6).normalize());
    }
  }
  ways.push(new THREE.Vector3(0, 0.05, 1).normalize(), new THREE.Vector3(0, 0.05, -1).normalize());
  ways.sort((one, other) => other.dot(wanted) - one.dot(wanted));
  ways.unshift(wanted.clone().add(new THREE.Vector3(0, 0.15, 0.35)).normalize());
  const ray = new THREE.Raycaster();
  const metal = solids.filter((one) => one.userData.role === "metal");
  for (const way of ways.slice(0, 20)) {
    const eye = place.clone().addScaledVector(way, far * 0.8);
    ray.set(eye, way.clone().negate());
    const hit = ray.intersectObjects(metal, false)[0];
    if (!hit || hit.distance > far * 0.8 - 0.4) return way;
  }
  return ways[0];
}
