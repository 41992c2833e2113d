// Sliders of a fitted fork: each tells its value with its unit, and that it was turned.

import { element, find } from "./dom";
import { inUnit, PSI, units } from "./units";

export interface Knob {
  id: string;
  label: string;
  min: number;
  max: number;
  step: number;
  value: number;
  unit: string; // as the program is told
  show?: (value: number) => string;
}

const pressure = (psi: number) => {
  const { pressure: as } = units();
  return `${inUnit(psi * PSI.perOne, as).toFixed(as.unit === "bar" ? 2 : 0)} ${as.unit}`;
};

export const pressureKnob = (id: string, label: string, value: number): Knob =>
  ({ id, label, min: 30, max: 150, step: 1, value, unit: "psi", show: pressure });
export const spacersKnob = (id: string): Knob => ({ id, label: "Spacers", min: 0, max: 6, step: 1, value: 0, unit: "" });
export const RIDE_KNOBS: Knob[] = [
  { id: "altitude", label: "Altitude of the ride", min: 0, max: 3500, step: 100, value: 0, unit: "m" },
  { id: "temperature", label: "Temperature", min: -10, max: 40, step: 1, value: 20, unit: "degC",
    show: (value) => `${value} °C` },
  { id: "vented_at", label: "Lower legs vented at", min: 0, max: 150, step: 5, value: 0, unit: "mm",
    show: (value) => `${inUnit(value, units().travel).toFixed(units().travel.digits === 2 ? 2 : 0)} ${units().travel.unit}` },
];

export function knob(of: Knob, turned: () => void): HTMLElement {
  const shown = element("output", { for: of.id });
  const slider = element("input", { id: of.id, type: "range", min: String(of.min), max: String(of.max),
    step: String(of.step), value: String(of.value) });
  const tell = () => {
    const value = Number(slider.value);
    shown.textContent = of.show ? of.show(value) : `${value} ${of.unit}`.trim();
    slider.setAttribute("aria-valuetext", shown.textContent);
  };
  slider.addEventListener("input", () => { tell(); turned(); });
  tell();
  return element("div", { class: "knob" }, element("label", { for: of.id }, of.label), slider, shown);
}

// As the program wants them: a quantity with its unit, or a count.
export function knobValues(knobs: Knob[]): Record<string, unknown> {
  const said: Record<string, unknown> = {};
  for (const { id, unit } of knobs) {
    const { value } = find<HTMLInputElement>(id);
    said[id] = unit ? `${value} ${unit}` : Number(value);
  }
  return said;
}
