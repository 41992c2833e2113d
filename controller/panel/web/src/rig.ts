// Connect, home, move by hand, and what the rig says of itself, large enough to read from two metres.

import { post } from "./api";
import { mayMove } from "./cautions";
import { attempt, button, element } from "./dom";
import { jogButton } from "./jog";
import { told, watchWhileShown } from "./state";
import { inUnit, units, type Quantity } from "./units";

const act = (what: string, how: object = {}) => attempt(() => post(`/api/act/${what}`, how));

function reading(label: string, quantity: Quantity): { box: HTMLElement; show: (value: number | null) => void } {
  const value = element("span", { class: "value" }, "–");
  const box = element("p", { class: "reading" }, element("span", { class: "label" }, label), value,
    element("span", { class: "unit" }, quantity.unit));
  return {
    box,
    show: (number) => {
      value.textContent = number === null ? "–" : inUnit(number, quantity).toFixed(quantity.digits);
    },
  };
}

export function readings(): { box: HTMLElement; update: () => void } {
  const force = reading("Force", units().force);
  const travel = reading("Travel", units().travel);
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
  const home = button("Home", () => attempt(async () => {
    if (await mayMove("The carriage will look for its home. Are hands and tools clear, and is the axle clamp open?")) {
      await post("/api/act/home");
    }
  }));
  const extend = jogButton("Hold: toward extension", "extension");
  const compress = jogButton("Hold: toward compression", "compression");
  const now = readings();
  const facts = element("p", {});
  const notes = element("p", {});
  watchWhileShown(() => {
    const { connected, homed, rig, doing } = told.bench;
    const idle = doing === "nothing" && told.operator;
    connect.disabled = connected || !idle;
    port.disabled = connect.disabled;
    disconnect.disabled = !connected || !idle;
    home.disabled = !connected || !idle;
    extend.disabled = compress.disabled = !connected || !told.operator || (doing !== "nothing" && doing !== "jogging");
    facts.textContent = !connected
      ? "No rig is connected."
      : `${rig} is connected; ${homed ? "its position is known." : "its position is unknown until it is homed."}`;
    notes.textContent = told.bench.notes.join(" ");
    now.update();
  });
  return element("section", {},
    element("h2", {}, "The rig"),
    element("p", { class: "cautions" }, told.cautions),
    element("div", { class: "row" }, element("label", { for: "port" }, "Port or virtual:FILE"), port, connect,
      disconnect),
    element("div", { class: "row" }, home, extend, compress),
    facts, notes, now.box);
}
