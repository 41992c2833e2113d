// Two fitted forks at settings that sliders choose: both springs in one figure, their difference with its band, where
// one is firmer and by how much, and the page to publish.

import { answered } from "./desk";
import { attempt, button, element, field, find } from "./dom";
import { Curves } from "./curves";
import { knob, knobValues, pressureKnob, RIDE_KNOBS, spacersKnob, type Knob } from "./knobs";
import { told, watchWhileShown } from "./state";
import { inUnit, shown, units, unitsName } from "./units";
import { below, library, modelChoice } from "./workshop";

interface Span {
  from_mm: number;
  to_mm: number;
  firmer: "a" | "b" | "neither";
  mean_difference_N: number;
  standard_uncertainty_N: number;
}

type Letter = "a" | "b";
const LETTERS: Letter[] = ["a", "b"];
const KNOBS: Record<Letter, Knob[]> = {
  a: [pressureKnob("pressure_a", "Pressure, at the gauge", 80), spacersKnob("spacers_a")],
  b: [pressureKnob("pressure_b", "Pressure, at the gauge", 80), spacersKnob("spacers_b")],
};
const DASHES: Record<Letter, number[]> = { a: [], b: [9, 5] };

const valueOf = (id: string) => find<HTMLInputElement>(id).value.trim();

function side(letter: Letter, turned: () => void): HTMLElement {
  const select = element("select", { id: `model-${letter}` });
  select.addEventListener("change", turned);
  return element("fieldset", {},
    element("legend", {}, `Fork ${letter.toUpperCase()}`),
    element("div", { class: "field" }, element("label", { for: `model-${letter}` }, "Model"), select),
    ...KNOBS[letter].map((each) => knob(each, turned)));
}

function asked(): Record<string, unknown> {
  const load = valueOf("load");
  return { a: valueOf("model-a"), b: valueOf("model-b"), ...knobValues([...KNOBS.a, ...KNOBS.b, ...RIDE_KNOBS]),
    ...(load ? { load } : {}) };
}

function table(spans: Span[], names: Record<Letter, string>): HTMLElement {
  const { travel, force } = units();
  const head = ["Travel", "Firmer", "By, on average"].map((text) => element("th", { scope: "col" }, text));
  const place = (mm: number) => inUnit(mm, travel).toFixed(travel.digits === 2 ? 2 : 0);
  const rows = spans.map((span) => element("tr", {},
    element("td", {}, `${place(span.from_mm)} to ${place(span.to_mm)} ${travel.unit}`),
    element("td", {}, span.firmer === "neither" ? "no difference resolved" : names[span.firmer]),
    element("td", { class: "number" },
      `${inUnit(Math.abs(span.mean_difference_N), force).toFixed(1)} ± ${shown(span.standard_uncertainty_N, force)}`)));
  return element("table", {}, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...rows));
}

// Without the folder that the models lie in.
const spoken = (text: string) => text.replaceAll("+-", "±").replaceAll(`${told.workshop}/models/`, "");

function reportForm(): HTMLElement {
  const name = element("input", { id: "report-name", autocomplete: "off", placeholder: "larch-basalt" });
  const list = element("ul", {});
  const fill = () => attempt(async () => {
    const { reports } = await library();
    list.replaceChildren(...reports.map(({ file }) => {
      const folder = below("reports", file).split("/")[0] ?? "";
      return element("li", {}, element("a", { href: `/document/${encodeURIComponent(folder)}`, target: "_blank", rel: "noopener" }, folder));
    }));
  });
  const go = button("Write the report", () => attempt(async () => {
    const { records } = await library();
    const of = (letter: Letter) => {
      const model = valueOf(`model-${letter}`).replace(/\.json$/, "");
      return records.filter((each) => each.usable && each.state === "complete" && below("sweeps", each.file).startsWith(model))
        .map((each) => below("sweeps", each.file));
    };
    const said = asked();
    await answered("report", "/api/act/report", { a: said.a, b: said.b, name: name.value.trim(),
      ...(said.load ? { load: said.load } : {}), units: unitsName() === "imperial" ? "imperial" : "metric",
      records_a: of("a"), records_b: of("b") });
    fill();
  }));
  watchWhileShown(() => { go.disabled = !told.operator; });
  fill();
  return element("section", {},
    element("h3", {}, "Reports"),
    element("div", { class: "form" },
      element("div", { class: "field" }, element("label", { for: "report-name" }, "Name of a new one"), name,
        element("small", {}, "of the sweeps whose names begin as the models' do")), go),
    list);
}

export function compareView(): HTMLElement {
  const both = element("canvas", { role: "img", "aria-label": "Both forks' slow springs, force against travel" });
  const apart = element("canvas", { role: "img", "aria-label": "Difference of the two forks' force, A less B, against travel, with its band" });
  const springs = new Curves(both);
  const difference = new Curves(apart, "A less B");
  const words = element("div", { class: "words" });

  const drawSprings = async () => {
    const { altitude, temperature, vented_at, ...said } = asked();
    const curves = await Promise.all(LETTERS.map(async (letter) => {
      const at = await answered(`predict-${letter}`, "/api/look_up/predict", { model: said[letter], altitude, temperature,
        vented_at, pressure: said[`pressure_${letter}`], spacers: said[`spacers_${letter}`] });
      return { label: `${letter.toUpperCase()}: ${String(said[letter]).replace(/\.json$/, "")}`, dash: DASHES[letter],
        tone: letter === "a" ? "ink" as const : "line" as const,
        travel_mm: at.travel_mm as number[], force_N: at.spring_N as number[] };
    }));
    springs.show(curves);
  };
  const drawDifference = async () => {
    const found = await answered("compare", "/api/look_up/compare", asked());
    const names = { a: String((found.a as { fork: string }).fork), b: String((found.b as { fork: string }).fork) };
    const apartBy = found.difference as
      { travel_mm: number[]; difference_N: number[]; standard_uncertainty_N: number[]; band_factor: number };
    difference.show([{ label: "A less B", travel_mm: apartBy.travel_mm, force_N: apartBy.difference_N, tone: "ink",
      band_N: apartBy.standard_uncertainty_N.map((one) => one * apartBy.band_factor) }]);
    words.replaceChildren(
      element("h3", {}, "In words"),
      ...(unitsName() === "imperial" ? [element("p", {}, "(These words are in metric units; the report has them in inches and pounds.)")] : []),
      ...(found.sentences as string[]).map((text) => element("p", {}, spoken(text))),
      element("h3", {}, "As set"), table(found.spans as Span[], names),
      element("h3", {}, "By thirds of the travel"), table(found.thirds as Span[], names));
  };
  const turned = () => {
    if (!find<HTMLSelectElement>("model-a").value) return;
    attempt(() => Promise.all([drawSprings(), drawDifference()]));
  };
  const load = field("load", "Load along the fork", "430 N", "for the sag");
  load.addEventListener("change", turned);
  const view = element("section", {},
    element("h2", {}, "Two forks"),
    element("div", { class: "form" }, side("a", turned), side("b", turned),
      element("fieldset", {}, element("legend", {}, "Both"), ...RIDE_KNOBS.map((each) => knob(each, turned)), load)),
    element("div", { class: "canvas" }, both), element("div", { class: "canvas" }, apart), words, reportForm());
  attempt(async () => {
    const selects = [...view.querySelectorAll<HTMLSelectElement>("select")];
    for (const select of selects) await modelChoice(select);
    const second = selects[1];
    if (second && second.options.length > 1) second.selectedIndex = 1;
    if (view.isConnected) turned();
  });
  return view;
}
