// The ring in three dimensions: turned by mouse, touch and keys, coloured by a figure, cut by a plane, measured.
// Lengths are in mm, in the ring's own frame: z along the finger, y to the head. It is drawn only when something changes.
// Where drawing is slow, the ring is drawn coarser while it turns, and whole as soon as it rests.

import { coarse } from "./coarse.js";
import { make } from "./everywhere.js";
import { Gates } from "./gates.js";
import { hitAt, tell } from "./measure.js";
import { free, mark, outward } from "./place.js";
import { Scale } from "./scale.js";
import { Volume, fill } from "./section.js";
import { THREE, OrbitControls, GLTFLoader } from "./three.js";

const METRES = 1000;
const TURN = Math.PI / 24;
const SLOW_MS = 60;
const REST_MS = 250;
const VIEWS = { front: [0, 0.12, 1], side: [1, 0.12, 0.02], along: [0, 1, 0.02], aslant: [0.7, 0.55, 0.9] };
const SOLID = ["metal", "tree", "pattern"];
const AXES = { across: [1, 0, 0], upright: [0, 1, 0], lengthwise: [0, 0, 1] };
const still = matchMedia("(prefers-reduced-motion: reduce)");

class RingView extends HTMLElement {
  connectedCallback() {
    if (this.canvas) return;
    this.words = JSON.parse(this.dataset.words);
    this.build();
    try {
      this.renderer = new THREE.WebGLRenderer({ canvas: this.canvas, antialias: true, stencil: true });
    } catch {
      this.say(this.words.nogl);
      return;
    }
    this.renderer.localClippingEnabled = true;
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.world = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(30, 1, 1, 1000);
    this.camera.position.set(45, 35, 58);
    this.world.add(this.camera, new THREE.HemisphereLight(0xffffff, 0x8a8578, 1.5));
    const lamp = new THREE.DirectionalLight(0xffffff, 1.7);
    lamp.position.set(-14, 22, 30);
    this.camera.add(lamp);
    this.controls = new OrbitControls(this.camera, this.canvas);
    this.controls.addEventListener("change", () => this.turned());
    this.plane = new THREE.Plane(new THREE.Vector3(-1, 0, 0), 0);
    this.solids = new THREE.Group();
    this.marks = new THREE.Group();
    this.cap = new THREE.Group();
    this.world.add(this.solids, this.cap, this.marks);
    this.picked = [];
    this.picking = "";
    this.solid = SOLID;
    this.reach = 20;
    new ResizeObserver(() => this.fit()).observe(this.stage);
    document.addEventListener("theme", () => this.dress());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.dress());
    this.dress();
    this.fit();
  }

  // ---- what stands around the picture

  build() {
    const w = this.words;
    const views = Object.keys(VIEWS).map((name) =>
      make("button", { type: "button", textContent: w[name], onclick: () => this.lookFrom(name) }),
    );
    this.bodySelect = make("select", { onchange: () => this.chooseBody() });
    this.bodyLabel = make("label", { hidden: true }, make("span", { textContent: w.show }), this.bodySelect);
    this.colourSelect = make("select", { onchange: () => this.choose(this.colourSelect.value) });
    this.stonesBox = make("input", { type: "checkbox", checked: true, onchange: () => this.dressStones() });
    this.cutBox = make("input", { type: "checkbox", onchange: () => this.cut() });
    this.axisSelect = make("select", { onchange: () => this.cut(), "aria-label": w.section });
    for (const name of Object.keys(AXES)) this.axisSelect.append(make("option", { value: name, textContent: w[name] }));
    this.axisSelect.value = "lengthwise";
    this.slider = make("input", { type: "range", min: -100, max: 100, step: 1, value: 0, "aria-label": w.at });
    this.slider.addEventListener("input", () => this.cut());
    this.sliderText = make("output", { textContent: "" });
    this.otherBox = make("input", { type: "checkbox", onchange: () => this.cut() });
    this.cutTools = make(
      "span", { className: "cut-tools", hidden: true }, this.axisSelect, this.slider, this.sliderText,
      make("label", { className: "tick" }, this.otherBox, w.other),
    );
    this.measureButton = make("button", { type: "button", textContent: w.measure, "aria-pressed": "false" });
    this.measureButton.addEventListener("click", () => this.measure());
    this.gates = new Gates(this);
    const tools = make(
      "div", { className: "tools" },
      make("span", { className: "group", role: "group", "aria-label": w.from }, ...views),
      this.bodyLabel,
      this.measureButton,
      this.gates.button,
      make("label", { className: "wider" }, make("span", { textContent: w.colour }), this.colourSelect),
      make("label", { className: "tick" }, this.stonesBox, w.stones),
      make("label", { className: "tick" }, this.cutBox, w.section),
      this.cutTools,
    );
    this.canvas = make("canvas", { tabIndex: 0, role: "img", "aria-label": w.ring });
    this.legend = make("div", { className: "legend", hidden: true });
    this.message = make("p", { className: "message", "aria-live": "polite" });
    this.readout = make("p", { className: "readout", "aria-live": "polite" });
    this.cross = make("span", { className: "cross", hidden: true });
    this.stage = make("div", { className: "stage" }, this.canvas, this.message, this.legend, this.readout, this.cross);
    this.append(tools, this.stage, this.gates.panel);
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    let down = null;
    this.canvas.addEventListener("pointerdown", (event) => (down = [event.clientX, event.clientY]));
    this.canvas.addEventListener("pointerup", (event) => {
      if (down && Math.hypot(event.clientX - down[0], event.clientY - down[1]) < 4) this.pickAt(event.clientX, event.clientY);
      down = null;
    });
  }

  say(text) {
    this.message.textContent = text;
  }

  colour(name) {
    return new THREE.Color(getComputedStyle(this).getPropertyValue(name).trim() || "#888888");
  }

  dress() {
    this.renderer.setClearColor(this.colour("--stage"));
    this.cut();
  }

  // ---- what is shown

  async show(scene) {
    this.scene = scene;
    if (!this.renderer) return;
    this.gates.show([], [], 0);
    if (!scene.bodies?.length) {
      this.say(this.words.none);
      return;
    }
    this.scale = new Scale(scene.scale, scene.unknown);
    const before = this.colourSelect.value;
    const bodyBefore = this.bodySelect.value;
    this.bodySelect.replaceChildren(...scene.bodies.map((one) => new Option(one.title, one.name)));
    if (scene.bodies.some((one) => one.name === bodyBefore)) this.bodySelect.value = bodyBefore;
    this.bodyLabel.hidden = scene.bodies.length < 2;
    this.files = new Map();
    const first = this.choose("");
    try {
      const found = await (await fetch(scene.fieldsUrl)).json();
      this.fields = found.fields;
      this.flask = found.flask;
      this.gates.show(found.gates, found.feeders, found.head);
    } catch {
      this.fields = [];
    }
    if (this.bodySelect.value === "tree") this.choose(this.colourSelect.value);
    const options = [new Option(this.words.plain, "")];
    for (const field of this.fields) options.push(new Option(`${field.step}: ${field.title}`, field.url));
    this.colourSelect.replaceChildren(...options);
    await first;
    if (before && this.fields.some((one) => one.url === before)) {
      this.colourSelect.value = before;
      await this.choose(before);
    }
  }

  async choose(fieldUrl) {
    const wanted = fieldUrl ? this.fields.find((one) => one.url === fieldUrl) : null;
    if (wanted && this.scene.bodies.length > 1) this.bodySelect.value = wanted.body === "tree" ? "tree" : this.scene.bodies[0].name;
    const body = this.scene.bodies.find((one) => one.name === this.bodySelect.value) ?? this.scene.bodies[0];
    const turn = (this.turn = (this.turn ?? 0) + 1);
    const empty = this.solids.children.length === 0;
    if (empty) this.say(this.words.loading);
    try {
      const [ring, coloured, volume] = await Promise.all([
        this.load(body.url), fieldUrl ? this.load(fieldUrl) : null, wanted?.volume ? this.loadVolume(wanted.volume) : null,
      ]);
      if (turn !== this.turn) return;
      this.field = wanted ?? null;
      this.volume = volume;
      this.put(ring, coloured);
      this.say("");
      if (empty || this.shownBody !== body.name) {
        this.axisSelect.value = body.name === "tree" ? "across" : "lengthwise"; // both cut a ring through its round
        this.whole();
      }
      this.shownBody = body.name;
      this.dataset.ready = fieldUrl || body.url;
    } catch (fault) {
      console.error(fault);
      this.say(this.words.failed);
    }
    this.draw();
  }

  chooseBody() {
    this.colourSelect.value = "";
    this.choose("");
  }

  load(url) {
    if (!this.files.has(url)) {
      const coming = fetch(url)
        .then((answer) => (answer.ok ? answer.arrayBuffer() : Promise.reject(new Error(`${url}: ${answer.status}`))))
        .then((data) => new Promise((done, failed) => new GLTFLoader().parse(data, "", done, failed)));
      coming.catch(() => this.files.delete(url));
      this.files.set(url, coming);
    }
    return this.files.get(url);
  }

  loadVolume(url) {
    if (!this.files.has(url)) {
      const coming = fetch(url)
        .then((answer) => (answer.ok ? answer.arrayBuffer() : Promise.reject(new Error(`${url}: ${answer.status}`))))
        .then((data) => new Volume(data));
      coming.catch(() => this.files.delete(url));
      this.files.set(url, coming);
    }
    return this.files.get(url);
  }

  put(ring, coloured) {
    this.solids.clear();
    this.cap.clear();
    const shown = new Map();
    const meshes = (source) => {
      const found = [];
      source?.scene.traverse((one) => one.isMesh && found.push(one));
      return found;
    };
    for (const one of [...meshes(ring), ...meshes(coloured)]) shown.set(one.name, one);
    const tree = [...shown.values()].some((one) => this.role(one) === "tree");
    for (const found of shown.values()) {
      const role = this.role(found);
      const mesh = new THREE.Mesh(found.geometry, this.material(role, found.geometry));
      if (!found.geometry.userData.mm) {
        found.geometry.scale(METRES, METRES, METRES);
        if (role === "tree") found.geometry.rotateX(-Math.PI / 2); // z is up in a flask, y in the picture
        found.geometry.computeBoundingSphere();
        found.geometry.computeBoundingBox();
        found.geometry.userData.mm = true;
      }
      mesh.userData = { role, name: found.name, full: found.geometry, coarse: null };
      if (role === "stone" || role === "mould") {
        mesh.renderOrder = 2;
        const lines = new THREE.LineSegments(
          new THREE.EdgesGeometry(found.geometry, 4),
          new THREE.LineBasicMaterial({ color: 0x31506e, transparent: true, opacity: 0.55 }),
        );
        mesh.add(lines);
      }
      this.solids.add(mesh);
    }
    if (tree && this.flask) this.solids.add(this.flaskWalls());
    this.slow = null;
    this.showLegend();
    this.dressStones();
    this.cut();
  }

  role(mesh) {
    return mesh.userData.role ?? mesh.parent?.userData.role ?? "metal";
  }

  flaskWalls() {
    const { diameter_mm: across, height_mm: tall } = this.flask;
    const walls = new THREE.CylinderGeometry(across / 2, across / 2, tall, 64, 1, true).translate(0, -tall / 2, 0);
    walls.computeBoundingBox();
    const mesh = new THREE.Mesh(walls, this.material("mould", walls));
    mesh.userData = { role: "mould", name: "flask", full: walls, coarse: null };
    mesh.renderOrder = 2;
    mesh.add(new THREE.LineSegments(new THREE.EdgesGeometry(walls, 30), new THREE.LineBasicMaterial({ color: 0x8a857a })));
    return mesh;
  }

  material(role, geometry) {
    if (role === "stone" || role === "mould") {
      return new THREE.MeshPhongMaterial({
        color: role === "stone" ? 0x7fb0dc : 0xb9b2a4, specular: 0xffffff, shininess: 120, transparent: true,
        opacity: role === "stone" ? 0.5 : 0.22, depthWrite: false, side: THREE.DoubleSide, flatShading: true,
      });
    }
    const about = { side: THREE.FrontSide, flatShading: true };
    if (this.field && geometry.attributes._figure) {
      this.paint(geometry);
      return new THREE.MeshLambertMaterial({ ...about, vertexColors: true });
    }
    return new THREE.MeshPhongMaterial({ ...about, color: role === "metal" ? 0xcfa75a : 0x9aa7b0, specular: 0x554a30, shininess: 35 });
  }

  // The colours are worked here from the figures, so that legend and ring cannot differ.
  paint(geometry) {
    const values = geometry.attributes._figure.array;
    const colours = new Float32Array(values.length * 3);
    const tint = new THREE.Color();
    for (let i = 0; i < values.length; i += 1) this.scale.light(this.shade(values[i]), tint).toArray(colours, 3 * i);
    geometry.setAttribute("color", new THREE.BufferAttribute(colours, 3));
  }

  shade(value) {
    return this.scale.share(value, this.ends(), this.field.low_is_bad ?? true);
  }

  // Where the colours end: the field's own limits, or all that is found on the surface and inside.
  ends() {
    const { limits, least, most } = this.field;
    return limits ?? [Math.min(least ?? Infinity, this.volume?.low ?? Infinity), Math.max(most ?? -Infinity, this.volume?.high ?? -Infinity)];
  }

  showLegend() {
    this.legend.hidden = !this.field;
    if (!this.field) return;
    const [low, high] = this.ends();
    const bar = this.scale.bar(this.field.low_is_bad ?? true);
    const title = document.createElement("strong");
    title.textContent = this.field.title;
    const ends = document.createElement("span");
    ends.className = "ends";
    for (const value of [low, (low + high) / 2, high]) {
      const one = document.createElement("span");
      one.textContent = this.amount(value, this.field.unit);
      ends.append(one);
    }
    const all = document.createElement("span");
    all.className = "small";
    all.textContent = this.volume && this.cutBox.checked ? this.words.inside : `${this.words.least} ${this.amount(this.field.least, this.field.unit)}, ${this.words.most} ${this.amount(this.field.most, this.field.unit)}`;
    this.legend.replaceChildren(title, bar, ends, all);
  }

  amount(value, unit) {
    if (!Number.isFinite(value)) return this.words.unknown;
    const digits = Math.abs(value) >= 100 ? 0 : Math.abs(value) >= 10 ? 1 : 2;
    return `${value.toLocaleString(document.documentElement.lang, { maximumFractionDigits: digits, minimumFractionDigits: digits })} ${unit}`.trim();
  }

  dressStones() {
    for (const one of this.solids.children) {
      if (one.userData.role === "stone") one.visible = this.stonesBox.checked;
    }
    this.draw();
  }

  // ---- the section: the solids are cut, and the cut metal is filled by counting its walls in the stencil

  cut() {
    const on = this.cutBox.checked;
    this.cutTools.hidden = !on;
    for (const one of this.cap.children) {
      if (!this.solids.children.some((solid) => solid.geometry === one.geometry)) one.geometry.dispose();
      one.material.map?.dispose();
      one.material.dispose();
    }
    this.cap.clear();
    const normal = new THREE.Vector3(...AXES[this.axisSelect.value]);
    const at = (this.slider.value / 100) * this.reach;
    this.plane.set(normal.clone().multiplyScalar(this.otherBox.checked ? 1 : -1), this.otherBox.checked ? -at : at);
    this.sliderText.textContent = this.amount(at, "mm");
    for (const one of this.solids.children) {
      one.material.clippingPlanes = on ? [this.plane] : [];
      if (!one.material.transparent) one.material.side = on ? THREE.DoubleSide : THREE.FrontSide;
      one.material.needsUpdate = true;
      for (const line of one.children) line.material.clippingPlanes = on ? [this.plane] : [];
    }
    const metal = this.solids.children.filter((one) => SOLID.includes(one.userData.role));
    if (on && metal.length) {
      this.capMaterial = fill(this.cap, metal, normal, at, {
        plane: this.plane, reach: this.reach, colour: this.colour("--cut"), scale: this.scale, shade: (value) => this.shade(value),
        figure: Boolean(this.field), volume: this.field && metal.some((one) => one.userData.role === "tree") ? this.volume : null,
      });
    }
    if (this.field) this.showLegend();
    this.draw();
  }

  // ---- looking

  // The solids together, without the flask's walls, which may reach beyond the picture.
  box() {
    const box = new THREE.Box3();
    for (const one of this.solids.children) if (one.userData.role !== "mould") box.union(one.userData.full.boundingBox);
    return box;
  }

  whole() {
    const box = this.box();
    const ball = box.getBoundingSphere(new THREE.Sphere());
    this.reach = Math.max(...box.min.toArray().map(Math.abs), ...box.max.toArray().map(Math.abs));
    this.controls.target.copy(ball.center);
    this.far = (ball.radius / Math.sin((this.camera.fov * Math.PI) / 360)) * Math.max(1, 1.08 / Math.min(1, this.camera.aspect));
    this.camera.near = this.far / 50;
    this.camera.far = this.far * 6;
    this.camera.updateProjectionMatrix();
    this.lookFrom("aslant", true);
    this.cut();
  }

  lookFrom(name, atOnce = false) {
    if (!this.far) return;
    this.move(this.box().getCenter(new THREE.Vector3()), new THREE.Vector3(...VIEWS[name]).normalize(), this.far, atOnce);
  }

  move(target, direction, far, atOnce = false) {
    cancelAnimationFrame(this.moving);
    const from = this.camera.position.clone();
    const aimed = this.controls.target.clone();
    const start = performance.now();
    const offset = from.clone().sub(aimed);
    const length = atOnce || still.matches ? 0 : 350;
    const step = () => {
      const share = length ? Math.min(1, (performance.now() - start) / length) : 1;
      const eased = share * share * (3 - 2 * share);
      const aim = aimed.clone().lerp(target, eased);
      const way = offset.clone().normalize().lerp(direction, eased);
      if (way.lengthSq() < 1e-4) way.set(0.1, 0.1, 1);
      this.camera.position.copy(aim).addScaledVector(way.normalize(), offset.length() + (far - offset.length()) * eased);
      this.controls.target.copy(aim);
      this.controls.update();
      this.turned();
      if (share < 1) this.moving = requestAnimationFrame(step);
    };
    step();
  }

  key(event) {
    const turn = { ArrowLeft: [-TURN, 0], ArrowRight: [TURN, 0], ArrowUp: [0, -TURN], ArrowDown: [0, TURN] }[event.key];
    if (turn) {
      const way = new THREE.Spherical().setFromVector3(this.camera.position.clone().sub(this.controls.target));
      way.theta += turn[0];
      way.phi = Math.min(Math.PI - 0.02, Math.max(0.02, way.phi + turn[1]));
      this.camera.position.setFromSpherical(way).add(this.controls.target);
    } else if (["+", "=", "-"].includes(event.key)) {
      const way = this.camera.position.clone().sub(this.controls.target);
      this.camera.position.copy(this.controls.target).addScaledVector(way, event.key === "-" ? 1.15 : 1 / 1.15);
    } else if (event.key === "Home") {
      this.lookFrom("aslant");
    } else if (event.key === "Enter" && this.picking) {
      const box = this.canvas.getBoundingClientRect();
      this.pickAt(box.left + box.width / 2, box.top + box.height / 2);
    } else if (event.key === "Escape" && this.picking) {
      if (this.measuring) this.measure();
      else this.gates.leave();
    } else return;
    event.preventDefault();
    this.controls.update();
    this.turned();
  }

  // A remark's place: seen from outside along the metal's surface there, or from wherever nothing stands before it.
  async goTo(point, name) {
    this.gates.leave();
    if (this.measuring) this.measure();
    await this.showRing();
    this.detail(true);
    const place = new THREE.Vector3(...point);
    this.marks.clear();
    this.mark(place, "--mark");
    const out = outward(place, this.solids.children);
    const found = free(place, out, this.solids.children, this.far);
    this.move(place.clone().multiplyScalar(0.4), found, this.far * 0.85);
    this.readout.textContent = name ? `${this.words.place}: ${name}` : "";
    this.dataset.place = JSON.stringify(point);
    this.draw();
    if (matchMedia("(max-width: 60rem)").matches) this.scrollIntoView({ block: "nearest" });
  }

  // The ring, where the tree is shown.
  async showRing() {
    if (this.bodySelect.value !== "tree") return;
    this.bodySelect.selectedIndex = 0;
    this.colourSelect.value = "";
    await this.choose("");
  }

  mark(place, colour, name = "") {
    this.marks.add(mark(place, this.colour(colour), name));
  }

  // ---- measuring

  measure() {
    if (!this.measuring) this.gates.leave();
    this.pick(this.measuring ? "" : "measure");
    this.readout.textContent = this.measuring ? this.words.measuring : "";
    this.draw();
  }

  get measuring() {
    return this.picking === "measure";
  }

  // What a click on the metal, or Enter for the middle of the picture, is for: "measure", "gates", or nothing.
  pick(what) {
    this.picking = what;
    this.measureButton.setAttribute("aria-pressed", String(what === "measure"));
    this.gates.button.setAttribute("aria-pressed", String(what === "gates"));
    this.cross.hidden = !what;
    this.picked = [];
    this.marks.clear();
    this.readout.textContent = "";
    if (what) this.canvas.focus({ preventScroll: true });
  }

  pickAt(x, y) {
    if (!this.picking) return;
    this.detail(true);
    const hit = hitAt(this, x, y);
    if (!hit) {
      this.readout.textContent = this.words.missed;
      return;
    }
    if (this.picking === "gates") this.gates.put(hit.point);
    else tell(this, hit);
    this.draw();
  }

  // ---- drawing

  fit() {
    const { clientWidth: width, clientHeight: height } = this.stage;
    if (!this.renderer || !width || !height) return;
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  draw() {
    if (this.asked || !this.renderer) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      const start = performance.now();
      this.renderer.render(this.world, this.camera);
      this.drawn = (this.drawn ?? 0) + 1;
      if (this.slow === null && this.drawn > 1 && this.solids.children.length) {
        this.finish();
        this.slow = performance.now() - start > SLOW_MS;
      }
    });
  }

  // Wait until the picture is truly drawn.
  finish() {
    const gl = this.renderer.getContext();
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  }

  // The ring is being turned: where that is slow, it is shown coarser until it has rested for a moment.
  turned() {
    if (this.slow) {
      this.detail(false);
      clearTimeout(this.resting);
      this.resting = setTimeout(() => this.detail(true), REST_MS);
    }
    this.draw();
  }

  detail(full) {
    let changed = false;
    for (const one of this.solids.children) {
      const { full: whole } = one.userData;
      if (!full && whole.index && whole.index.count > 60_000) one.userData.coarse ??= coarse(whole, this.reach);
      const wanted = full ? whole : (one.userData.coarse ?? whole);
      if (one.geometry !== wanted) {
        one.geometry = wanted;
        changed = true;
      }
    }
    if (changed) this.cut();
  }

  // Frames a second while the ring turns once; each is read back, so that the picture is truly drawn.
  frames(count, full = false) {
    this.detail(full || !this.slow);
    const way = new THREE.Spherical().setFromVector3(this.camera.position.clone().sub(this.controls.target));
    const start = performance.now();
    for (let i = 0; i < count; i += 1) {
      way.theta += (2 * Math.PI) / count;
      this.camera.position.setFromSpherical(way).add(this.controls.target);
      this.camera.lookAt(this.controls.target);
      this.renderer.render(this.world, this.camera);
      this.finish();
    }
    const rate = (1000 * count) / (performance.now() - start);
    this.detail(true);
    return rate;
  }
}

customElements.define("ring-view", RingView);
