// The gates and blind feeders on the ring: where the metal enters, and where a lump of it feeds a heavy place, is chosen with
// the mouse, or with Enter for the middle of the picture, and goes into the brief. The server turns the places into the
// model's own coordinates.

import { make } from "./everywhere.js";
import { THREE } from "./three.js";


export class Gates {
  constructor(view) {
    this.view = view;
    this.words = view.words;
    this.found = [];
    this.chosen = [];
    this.kind = "gate";
    const w = this.words;
    this.button = make("button", { type: "button", textContent: w.gates, hidden: true, "aria-pressed": "false" });
    this.button.addEventListener("click", () => (this.on ? this.leave() : this.begin()));
    this.list = make("ol");
    this.basedOn = make("input", { type: "hidden", name: "based_on" });
    this.points = make("input", { type: "hidden", name: "points" });
    this.feeders = make("input", { type: "hidden", name: "feeders" });
    const kinds = ["gate", "feeder"].map((kind) => {
      const one = make("input", { type: "radio", name: "kind", value: kind, checked: kind === this.kind });
      one.addEventListener("change", () => (this.kind = kind));
      return make("label", {}, one, ` ${w[kind]}`);
    });
    const choice = make("fieldset", { className: "kinds" }, make("legend", { textContent: w.gatesSet }), ...kinds);
    this.save = make("button", { className: "button", textContent: w.gatesSave });
    this.clear = make("button", { textContent: w.gatesClear, onclick: () => this.take([]) });
    const leave = make("button", { type: "button", className: "quiet", textContent: w.gatesLeave, onclick: () => this.leave(true) });
    const form = make("form", { method: "post", className: "doings" }, this.basedOn, this.points, this.feeders, this.save, this.clear, leave);
    form.action = `${location.pathname.replace(/\/$/, "")}/gates`;
    const how = make("p", { textContent: w.gatesHow });
    this.panel = make("section", { className: "gates", hidden: true, "aria-label": w.gates }, how, choice, this.list, form);
  }

  get on() {
    return !this.panel.hidden;
  }

  // The gates and feeders that the tree has; ``head`` is the version of the brief that a saving begins from.
  show(gates, feeders, head) {
    const of = (kind, all) => all.map((one) => ({ kind, point: one.point_mm }));
    this.found = [...of("gate", gates), ...of("feeder", feeders)];
    this.basedOn.value = head;
    this.button.hidden = !head;
    if (!head) this.leave();
  }

  async begin() {
    await this.view.showRing();
    this.view.pick("gates");
    this.panel.hidden = false;
    this.take(this.found);
  }

  leave(back = false) {
    if (!this.on) return;
    this.panel.hidden = true;
    this.view.pick("");
    this.view.draw();
    if (back) this.button.focus();
  }

  put(point) {
    const fresh = { kind: this.kind, point: point.toArray().map((part) => Math.round(part * 1000) / 1000) };
    this.take([...this.chosen, fresh]);
    this.view.readout.textContent = `${this.name(this.chosen.indexOf(fresh))}: ${this.place(fresh.point)}`;
  }

  // Gates come first, each kind in the order in which it was chosen.
  take(chosen) {
    this.chosen = ["gate", "feeder"].flatMap((kind) => chosen.filter((one) => one.kind === kind));
    const places = (kind) => JSON.stringify(this.chosen.filter((one) => one.kind === kind).map((one) => one.point));
    this.points.value = places("gate");
    this.feeders.value = places("feeder");
    this.view.marks.clear();
    const rows = this.chosen.map(({ kind, point }, number) => {
      const called = this.name(number);
      this.view.mark(new THREE.Vector3(...point), kind === "gate" ? "--act" : "--cut", this.sign(number));
      const name = `${this.words.gateOut}: ${called}`;
      const out = make("button", { type: "button", className: "quiet", textContent: this.words.gateOut, "aria-label": name });
      out.addEventListener("click", () => {
        this.take(this.chosen.toSpliced(number, 1));
        (this.list.querySelectorAll("button")[number] ?? this.view.canvas).focus();
      });
      return make("li", {}, `${called}: ${this.place(point)}`, " ", out);
    });
    this.list.replaceChildren(...rows);
    this.save.disabled = this.chosen.length === 0;
    this.view.draw();
  }

  // What stands in a mark: the number of a gate, a letter for a feeder.
  sign(number) {
    const gates = this.chosen.filter((one) => one.kind === "gate").length;
    return number < gates ? String(number + 1) : String.fromCharCode(65 + number - gates);
  }

  name(number) {
    return `${this.words[this.chosen[number].kind]} ${this.sign(number)}`;
  }

  // A place in words: how far round from the head, and how far along the finger.
  place([x, y, z]) {
    const round = Math.round((Math.atan2(x, y) * 180) / Math.PI);
    return this.words.gatePlace.replace("{angle}", `${round}°`).replace("{along}", this.view.amount(z, "mm"));
  }
}
