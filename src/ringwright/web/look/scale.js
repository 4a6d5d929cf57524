// The colour scale: dark where a figure is well, light where it is not; evenly lighter, and told apart by every kind of
// colour vision. The papers use the same stops.

import { THREE } from "./three.js";

export class Scale {
  constructor(stops, unknown) {
    this.stops = stops;
    this.unknown = unknown;
    this.linear = stops.map((one) => new THREE.Color().setRGB(...one.map((part) => part / 255), THREE.SRGBColorSpace));
    this.unknownLinear = new THREE.Color().setRGB(...unknown.map((part) => part / 255), THREE.SRGBColorSpace);
  }

  // Where a value lies between the good end (0) and the bad end (1) of a field; not a number where it is not known.
  share(value, [low, high], lowIsBad) {
    const share = (value - low) / (high - low || 1);
    return Number.isFinite(share) ? Math.min(1, Math.max(0, lowIsBad ? 1 - share : share)) : NaN;
  }

  // The colour of a share, as light; written into ``into``.
  light(share, into) {
    if (!Number.isFinite(share)) return into.copy(this.unknownLinear);
    const at = Math.min(this.linear.length - 2, Math.floor(share * (this.linear.length - 1)));
    return into.copy(this.linear[at]).lerp(this.linear[at + 1], share * (this.linear.length - 1) - at);
  }

  // The same as three bytes of sRGB.
  bytes(share) {
    if (!Number.isFinite(share)) return this.unknown;
    const at = Math.min(this.stops.length - 2, Math.floor(share * (this.stops.length - 1)));
    const rest = share * (this.stops.length - 1) - at;
    return this.stops[at].map((part, i) => Math.round(part + (this.stops[at + 1][i] - part) * rest));
  }

  // A bar from the low end to the high end.
  bar(lowIsBad) {
    const bar = document.createElement("canvas");
    bar.width = 200;
    bar.height = 12;
    const draw = bar.getContext("2d");
    for (let x = 0; x < bar.width; x += 1) {
      draw.fillStyle = `rgb(${this.bytes(this.share(x / (bar.width - 1), [0, 1], lowIsBad))})`;
      draw.fillRect(x, 0, 1, bar.height);
    }
    return bar;
  }
}
