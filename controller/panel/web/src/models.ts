// Fit the sweeps of a fork, and turn the fitted fork's knobs: pressure, spacers, altitude, temperature.

import { answered } from "./desk";
import { attempt, button, element } from "./dom";
import { Curves } from "./curves";
import { knob, knobValues, pressureKnob, RIDE_KNOBS, spacersKnob, type Knob } from "./knobs";
import { told, watchWhileShown } from "./state";
import { shown, units } from "./units";
import { below, library, modelChoice } from "./workshop";

const KNOBS: Knob[] = [pressureKnob("pressure", "Pressure, at the gauge", 80), spacersKnob("spacers"), ...RIDE_KNOBS];

interface Parameter {
  name: string;
  value: number | null;
  standard_uncertainty: number | null;
  unit: string;
  status: string;
  sweep?: string;
}

// What the sweeps say of the fork; what was given stands in its file.
function parameterTable(parameters: Parameter[]): HTMLElement {
  const rows = parameters.filter((each) => !each.sweep && each.status !== "given").map((each) => {
    const value = each.value === null || each.standard_uncertainty === null
      ? "not determined"
      : `${each.value.toPrecision(4)} ± ${each.standard_uncertainty.toPrecision(2)} ${each.unit === "1" ? "" : each.unit}`;
    return element("tr", {}, element("th", { scope: "row" }, each.name.replaceAll("_", " ")), element("td", {}, value));
  });
  return element("table", { class: "narrow" }, element("tbody", {}, ...rows));
}

function fitForm(fitted: () => void): HTMLElement {
  const list = element("select", { id: "records", multiple: true, size: "8" });
  const name = element("input", { id: "model-name", autocomplete: "off", placeholder: "larch" });
  const said = element("div", { role: "status" });
  attempt(async () => {
    const { records } = await library();
    list.replaceChildren(...records.filter((each) => each.usable && each.state === "complete").map((each) =>
      element("option", { value: below("sweeps", each.file) },
        `${each.fork}, ${shown(each.pressure_gauge_Pa, units().pressure)}, ${each.spacers} spacers: ${below("sweeps", each.file)}`)));
  });
  const go = button("Fit these sweeps", () => attempt(async () => {
    said.textContent = "Fitting …";
    try {
      const model = await answered("fit", "/api/act/fit", {
        records: [...list.selectedOptions].map((option) => option.value), name: name.value.trim() });
      said.replaceChildren(`Residual ${shown(Number(model.rms_residual_N), { ...units().force, digits: 2 })}.`, parameterTable(model.parameters as Parameter[]));
      fitted();
    } catch (error) {
      said.textContent = "";
      throw error;
    }
  }));
  watchWhileShown(() => { go.disabled = !told.operator; });
  return element("details", {},
    element("summary", {}, "Fit sweeps of one fork"),
    element("div", { class: "form" },
      element("div", { class: "field wide" }, element("label", { for: "records" }, "Sweeps (several with Ctrl or Shift)"), list),
      element("div", { class: "field" }, element("label", { for: "model-name" }, "Name of the model"), name),
      go),
    said);
}

export function modelsView(): HTMLElement {
  const select = element("select", { id: "model" });
  const canvas = element("canvas", { role: "img", "aria-label": "The fitted fork's force against travel at this setting" });
  const curves = new Curves(canvas);
  const notes = element("p", { role: "status" });
  const predict = () => attempt(async () => {
    if (!select.value) return;
    const at = await answered("predict", "/api/look_up/predict", { model: select.value, ...knobValues(KNOBS) });
    const travel_mm = at.travel_mm as number[];
    curves.show([
      { label: "slow spring, no friction", travel_mm, force_N: at.spring_N as number[], tone: "ink" },
      { label: `pressed at ${Number(at.speed_mm_s).toFixed(0)} mm/s`, travel_mm, force_N: at.compression_N as number[] },
      { label: "let back", travel_mm, force_N: at.rebound_N as number[], dash: [8, 5] },
    ]);
    notes.textContent = (at.warnings as string[]).join(" ");
  });
  const refill = () => attempt(async () => { await modelChoice(select); predict(); });
  select.addEventListener("change", predict);
  refill();
  return element("section", {},
    element("h2", {}, "A fitted fork"),
    fitForm(refill),
    element("div", { class: "form" },
      element("div", { class: "field wide" }, element("label", { for: "model" }, "Model"), select),
      ...KNOBS.map((each) => knob(each, predict))),
    element("div", { class: "canvas" }, canvas), notes);
}
