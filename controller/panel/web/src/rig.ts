// Connect, home, and what the rig says of itself, large enough to read from two metres.

import { post } from "./api";
import { attempt, button, element } from "./dom";
import { told, watchWhileShown } from "./state";

const act = (what: string, how: object = {}) => attempt(() => post(`/api/act/${what}`, how));

function reading(label: string, unit: string): { box: HTMLElement; show: (value: number | null) => void } {
  const value = element("span", { class: "value" }, "–");
  const box = element("p", { class: "reading" }, element("span", { class: "label" }, label), value,
    element("span", { class: "unit" }, unit));
  return {
    box,
    show: (number) => {
      value.textContent = number === null ? "–" : number.toFixed(1);
    },
  };
}

export function readings(): { box: HTMLElement; update: () => void } {
  const force = reading("Force", "N");
  const travel = reading("Travel", "mm");
  return {
    box: element("div", { class: "readings" }, force.box, travel.box),
    update: () => {
      force.show(told.bench.force_N);
      travel.show(told.bench.travel_mm);
    },
  };
}

export function rigView(): HTMLElement {
  const port = element("input", { id: "port", name: "port", autocomplete: "off",
    placeholder: "as bench.toml says" });
  const connect = button("Connect", () => act("connect", { rig: port.value.trim() }));
  const disconnect = button("Disconnect", () => act("disconnect"));
  const home = button("Home", () => {
    if (window.confirm(`${told.cautions}\n\nThe carriage will move. Are hands and tools clear?`)) {
      act("home");
    }
  });
  const now = readings();
  const facts = element("p", {});
  watchWhileShown(() => {
    const { connected, homed, rig, doing } = told.bench;
    const idle = doing === "nothing" && told.operator;
    connect.disabled = connected || !idle;
    port.disabled = connect.disabled;
    disconnect.disabled = !connected || !idle;
    home.disabled = !connected || !idle;
    facts.textContent = !connected
      ? "No rig is connected."
      : `${rig} is connected; ${homed ? "its position is known." : "its position is unknown until it is homed."}`;
    now.update();
  });
  return element("section", {},
    element("h2", {}, "The rig"),
    element("p", { class: "cautions" }, told.cautions),
    element("div", { class: "row" }, element("label", { for: "port" }, "Port or virtual:FILE"), port, connect,
      disconnect, home),
    facts, now.box);
}
