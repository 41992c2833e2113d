// Two fitted forks: where one is firmer, by how much, and the page to publish.

import { answered } from "./desk";
import { attempt, button, element, find } from "./dom";
import { Curves } from "./curves";
import { told, watchWhileShown } from "./state";
import { below, library, modelChoice } from "./workshop";

interface Span {
  from_mm: number;
  to_mm: number;
  firmer: "a" | "b" | "neither";
  mean_difference_N: number;
  standard_uncertainty_N: number;
}

function side(letter: "a" | "b", pressure: string): HTMLElement {
  const upper = letter.toUpperCase();
  return element("fieldset", {},
    element("legend", {}, `Fork ${upper}`),
    element("div", { class: "field" }, element("label", { for: `model-${letter}` }, "Model"), element("select", { id: `model-${letter}` })),
    element("div", { class: "field" }, element("label", { for: `pressure-${letter}` }, "Pressure"),
      element("input", { id: `pressure-${letter}`, value: pressure, autocomplete: "off" })),
    element("div", { class: "field" }, element("label", { for: `spacers-${letter}` }, "Spacers"),
      element("input", { id: `spacers-${letter}`, value: "0", inputmode: "numeric", autocomplete: "off" })));
}

const valueOf = (id: string) => find<HTMLInputElement>(id).value.trim();
const countOf = (id: string) => Number.parseInt(valueOf(id), 10);

function asked(): Record<string, unknown> {
  return {
    a: valueOf("model-a"), b: valueOf("model-b"),
    pressure_a: valueOf("pressure-a"), spacers_a: countOf("spacers-a"),
    pressure_b: valueOf("pressure-b"), spacers_b: countOf("spacers-b"),
    load: valueOf("load"),
  };
}

function table(spans: Span[], names: { a: string; b: string }): HTMLElement {
  const head = ["Travel", "Firmer", "By, on average"].map((text) => element("th", { scope: "col" }, text));
  const rows = spans.map((span) => element("tr", {},
    element("td", {}, `${span.from_mm.toFixed(0)} to ${span.to_mm.toFixed(0)} mm`),
    element("td", {}, span.firmer === "neither" ? "no difference resolved" : names[span.firmer]),
    element("td", { class: "number" },
      `${Math.abs(span.mean_difference_N).toFixed(1)} ± ${span.standard_uncertainty_N.toFixed(1)} N`)));
  return element("table", {}, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...rows));
}

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
    const of = async (letter: string) => {
      const model = valueOf(`model-${letter}`).replace(/\.json$/, "");
      return records.filter((each) => each.usable && each.state === "complete" && below("sweeps", each.file).startsWith(model))
        .map((each) => below("sweeps", each.file));
    };
    const said = asked();
    await answered("report", "/api/act/report", { a: said.a, b: said.b, load: said.load, name: name.value.trim(),
      records_a: await of("a"), records_b: await of("b") });
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
  const canvas = element("canvas", { role: "img", "aria-label": "Difference of the two forks' force, A less B, against travel" });
  const curves = new Curves(canvas);
  const words = element("div", { class: "words", role: "status" });
  const go = button("Compare", () => attempt(async () => {
    const found = await answered("compare", "/api/look_up/compare", asked());
    const names = { a: String((found.a as { fork: string }).fork), b: String((found.b as { fork: string }).fork) };
    const difference = found.difference as { travel_mm: number[]; difference_N: number[]; band_N?: number[] };
    curves.show([{ label: `${names.a} less ${names.b}`, travel_mm: difference.travel_mm, force_N: difference.difference_N, tone: "ink" }]);
    words.replaceChildren(...(found.sentences as string[]).map((text) => element("p", {}, text.replaceAll("+-", "±"))),
      element("h3", {}, "As set"), table(found.spans as Span[], names),
      element("h3", {}, "By thirds of the travel"), table(found.thirds as Span[], names));
  }));
  const view = element("section", {},
    element("h2", {}, "Two forks"),
    element("div", { class: "form" }, side("a", "80 psi"), side("b", "70 psi"),
      element("div", { class: "field" }, element("label", { for: "load" }, "Load along the fork"),
        element("input", { id: "load", value: "430 N", autocomplete: "off" })), go),
    words, element("div", { class: "canvas" }, canvas), reportForm());
  attempt(async () => {
    const selects = [...view.querySelectorAll<HTMLSelectElement>("select")];
    for (const select of selects) await modelChoice(select);
    const second = selects[1];
    if (second && second.options.length > 1) second.selectedIndex = 1;
  });
  return view;
}
