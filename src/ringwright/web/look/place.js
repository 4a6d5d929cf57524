// A place of the ring: its mark, and from where it is seen.

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

// A ring about a place, with a name in it where it has one; it is seen through everything.
export function mark(place, colour, name) {
  const size = 64;
  const sheet = document.createElement("canvas");
  sheet.width = sheet.height = size;
  const draw = sheet.getContext("2d");
  for (const [width, style] of [[14, "#ffffff"], [7, `#${colour.getHexString()}`]]) {
    draw.strokeStyle = style;
    draw.lineWidth = width;
    draw.beginPath();
    draw.arc(size / 2, size / 2, size / 2 - 10, 0, 2 * Math.PI);
    draw.stroke();
  }
  if (name) {
    draw.fillStyle = "#ffffff";
    draw.beginPath();
    draw.arc(size / 2, size / 2, size / 2 - 12, 0, 2 * Math.PI);
    draw.fill();
    draw.fillStyle = `#${colour.getHexString()}`;
    draw.font = "bold 30px sans-serif";
    draw.textAlign = "center";
    draw.textBaseline = "middle";
    draw.fillText(name, size / 2, size / 2 + 2);
  }
  const material = new THREE.SpriteMaterial({ map: new THREE.CanvasTexture(sheet), depthTest: false, sizeAttenuation: false });
  const sprite = new THREE.Sprite(material);
  sprite.position.copy(place);
  sprite.scale.setScalar(name ? 0.05 : 0.035);
  sprite.renderOrder = 9;
  return sprite;
}
