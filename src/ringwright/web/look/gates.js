// The gates on the ring: where the metal enters is chosen with the mouse, or with Enter for the middle of the picture, and
// goes into the brief. The server turns the places into the model's own coordinates.

import { make } from "./everywhere.js";
import { THREE } from "./three.js";


export class Gates {
  constructor(view) {
    this.view = view;
    this.words = view.words;
    this.found = [];
    this.chosen = [];
    const w = this.words;
    this.button = make("button", { type: "button", textContent: w.gates, hidden: true, "aria-pressed": "false" });
    this.button.addEventListener("click", () => (this.on ? this.leave() : this.begin()));
    this.list = make("ol");
    this.basedOn = make("input", { type: "hidden", name: "based_on" });
    this.points = make("input", { type: "hidden", name: "points" });
    this.save = make("button", { className: "button", textContent: w.gatesSave });
    this.clear = make("button", { textContent: w.gatesClear, onclick: () => this.take([]) });
    const leave = make("button", { type: "button", className: "quiet", textContent: w.gatesLeave, onclick: () => this.leave(true) });
    const form = make("form", { method: "post", className: "doings" }, this.basedOn, this.points, this.save, this.clear, leave);
    form.action = `${location.pathname.replace(/\/$/, "")}/gates`;
    const how = make("p", { textContent: w.gatesHow });
    this.panel = make("section", { className: "gates", hidden: true, "aria-label": w.gates }, how, this.list, form);
  }

  get on() {
    return !this.panel.hidden;
  }

  // The gates that the tree has; ``head`` is the version of the brief that a saving begins from.
  show(found, head) {
    this.found = found;
    this.basedOn.value = head;
    this.button.hidden = !head;
    if (!head) this.leave();
  }

  async begin() {
    await this.view.showRing();
    this.view.pick("gates");
    this.panel.hidden = false;
    this.take(this.found.map((one) => one.point_mm));
  }

  leave(back = false) {
    if (!this.on) return;
    this.panel.hidden = true;
    this.view.pick("");
    this.view.draw();
    if (back) this.button.focus();
  }

  put(point) {
    this.take([...this.chosen, point.toArray().map((part) => Math.round(part * 1000) / 1000)]);
    this.view.readout.textContent = `${this.words.gate} ${this.chosen.length}: ${this.place(this.chosen.at(-1))}`;
  }

  take(points) {
    this.chosen = points;
    this.points.value = JSON.stringify(points);
    this.view.marks.clear();
    const rows = points.map((point, number) => {
      this.view.mark(new THREE.Vector3(...point), "--act", String(number + 1));
      const name = `${this.words.gateOut}: ${this.words.gate} ${number + 1}`;
      const out = make("button", { type: "button", className: "quiet", textContent: this.words.gateOut, "aria-label": name });
      out.addEventListener("click", () => {
        this.take(this.chosen.filter((_one, at) => at !== number));
        (this.list.querySelectorAll("button")[number] ?? this.view.canvas).focus();
      });
      return make("li", {}, `${this.words.gate} ${number + 1}: ${this.place(point)}`, " ", out);
    });
    this.list.replaceChildren(...rows);
    this.save.disabled = points.length === 0;
    this.view.draw();
  }

  // A place in words: how far round from the head, and how far along the finger.
  place([x, y, z]) {
    const round = Math.round((Math.atan2(x, y) * 180) / Math.PI);
    return this.words.gatePlace.replace("{angle}", `${round}°`).replace("{along}", this.view.amount(z, "mm"));
  }
}
