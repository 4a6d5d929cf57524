// Measuring: what lies at a point of the picture.

import { THREE } from "./three.js";

// The metal at a place of the screen: its surface, or the cut, which is seen where a ray would come out from within.
export function hitAt(view, x, y) {
  const box = view.canvas.getBoundingClientRect();
  const caster = new THREE.Raycaster();
  caster.setFromCamera(new THREE.Vector2(((x - box.left) / box.width) * 2 - 1, 1 - ((y - box.top) / box.height) * 2), view.camera);
  const { ray } = caster;
  const metal = view.solids.children.filter((one) => one.visible && view.solid.includes(one.userData.role));
  const hits = caster.intersectObjects(metal, false);
  if (!view.cutBox.checked) return hits[0] && { ...hits[0], ray };
  const hit = hits.find((one) => view.plane.distanceToPoint(one.point) > 0);
  if (!hit) return null;
  if (hit.face.normal.dot(ray.direction) <= 0) return { ...hit, ray };
  const point = ray.intersectPlane(view.plane, new THREE.Vector3());
  return point && { point, ray, onCut: true };
}

// What a point tells: the wall there, the figure there, and its distance from the point before.
export function tell(view, hit) {
  if (view.picked.length === 2) {
    view.picked = [];
    view.marks.clear();
  }
  view.picked.push(hit.point.clone());
  view.mark(hit.point, "--mark");
  const told = [];
  const wall = hit.onCut ? null : through(hit, hit.ray.direction);
  if (wall !== null) told.push(`${view.words.wall} ${view.amount(wall, "mm")}`);
  const figure = hit.onCut ? (view.volume?.at(hit.point) ?? null) : figureAt(view, hit);
  if (figure !== null) told.push(`${view.field.title}: ${view.amount(figure, view.field.unit)}`);
  if (view.picked.length === 2) {
    const [one, other] = view.picked;
    told.unshift(`${view.words.distance} ${view.amount(one.distanceTo(other), "mm")}`);
    const line = new THREE.BufferGeometry().setFromPoints([one, other]);
    view.marks.add(new THREE.Line(line, new THREE.LineBasicMaterial({ color: view.colour("--mark"), depthTest: false })));
  } else told.push(view.words.second);
  view.readout.textContent = told.join(" · ");
}

// How thick the metal is straight through, from a point of its surface.
function through(hit, direction) {
  const normal = hit.face.normal.clone();
  if (normal.dot(direction) > 0) normal.negate();
  const ray = new THREE.Raycaster(hit.point.clone().addScaledVector(normal, -1e-3), normal.clone().negate());
  const { material } = hit.object;
  const side = material.side;
  material.side = THREE.DoubleSide; // the far wall is met from within
  const next = ray.intersectObject(hit.object, false)[0];
  material.side = side;
  return next ? next.distance + 1e-3 : null;
}

function figureAt(view, hit) {
  const values = hit.object.geometry.attributes._figure;
  if (!view.field || !values) return null;
  const at = hit.object.geometry.attributes.position;
  const corners = [hit.face.a, hit.face.b, hit.face.c];
  const weights = new THREE.Vector3();
  const points = corners.map((i) => new THREE.Vector3().fromBufferAttribute(at, i));
  THREE.Triangle.getBarycoord(hit.point, ...points, weights);
  return corners.reduce((sum, corner, i) => sum + values.getX(corner) * weights.getComponent(i), 0);
}
