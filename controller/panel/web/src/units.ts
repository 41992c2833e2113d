// Units as the user wishes them. What comes from the program is in newtons, millimetres and pascals.

import { element } from "./dom";

export interface Quantity {
  unit: string;
  perOne: number; // how many of the program's unit
  digits: number;
}

interface System {
  label: string;
  force: Quantity;
  travel: Quantity;
  pressure: Quantity;
}

const N: Quantity = { unit: "N", perOne: 1, digits: 1 };
const MM: Quantity = { unit: "mm", perOne: 1, digits: 1 };
export const PSI: Quantity = { unit: "psi", perOne: 6894.757293168362, digits: 1 };

const SYSTEMS: Record<string, System> = {
  metric: { label: "N, mm, psi", force: N, travel: MM, pressure: PSI },
  bar: { label: "N, mm, bar", force: N, travel: MM, pressure: { unit: "bar", perOne: 1e5, digits: 2 } },
  imperial: {
    label: "lbf, in, psi",
    force: { unit: "lbf", perOne: 4.4482216152605, digits: 1 },
    travel: { unit: "in", perOne: 25.4, digits: 2 },
    pressure: PSI,
  },
};

const KEY = "units";

export function unitsName(): string {
  const kept = localStorage.getItem(KEY) ?? "metric";
  return kept in SYSTEMS ? kept : "metric";
}

export function units(): System {
  return SYSTEMS[unitsName()] as System;
}

export function inUnit(value: number, quantity: Quantity): number {
  return value / quantity.perOne;
}

export function shown(value: number, quantity: Quantity): string {
  return `${inUnit(value, quantity).toFixed(quantity.digits)} ${quantity.unit}`;
}

// "80 psi" in the present units, for a field that begins with it.
export function pressureWords(psi: number): string {
  const { pressure } = units();
  return `${Number(((psi * PSI.perOne) / pressure.perOne).toPrecision(3))} ${pressure.unit}`;
}

export function unitChoice(changed: () => void): HTMLSelectElement {
  const select = element("select", { id: "units", "aria-label": "Units" },
    ...Object.entries(SYSTEMS).map(([name, { label }]) => element("option", { value: name }, label)));
  select.value = unitsName();
  select.addEventListener("change", () => {
    localStorage.setItem(KEY, select.value);
    changed();
  });
  return select;
}
