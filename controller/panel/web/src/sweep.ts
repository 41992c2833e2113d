// Choose a fork and its setting, go through the check list, and watch the loop grow.

import { get, post } from "./api";
import { attempt, button, element, field, find } from "./dom";
import { Loop, LoopPoints } from "./loop";
import { questionBox } from "./question";
import { readings } from "./rig";
import { told, watch, watchPoints, watchWhileShown, whenViewLeaves, type Point } from "./state";
import { pressureWords, shown, units } from "./units";

interface ForkEntry {
  file: string;
  name?: string;
  travel_mm?: number;
  has_air_spring?: boolean;
  maximum_pressure_psi?: number;
  error?: string;
}

// Kept while other views are shown.
const points = new LoopPoints();
let loop: Loop | null = null;

const valueOf = (id: string) => find<HTMLInputElement>(id).value.trim();

function wanted(): object {
  const count = (id: string) => Number.parseInt(valueOf(id), 10);
  const said: Record<string, unknown> = {
    fork: find<HTMLSelectElement>("fork").value,
    pressure: valueOf("pressure"),
    spacers: count("spacers"),
    speed: valueOf("speed"),
    cycles: count("cycles"),
    settle: valueOf("settle"),
  };
  if (valueOf("to")) said.to = valueOf("to");
  return said;
}

async function fillForks(select: HTMLSelectElement, hint: HTMLElement): Promise<void> {
  const { forks } = (await get("/api/look_up/forks")) as { forks: ForkEntry[] };
  select.replaceChildren(
    ...forks.map((fork) => element("option", { value: fork.file, disabled: Boolean(fork.error) }, fork.name ?? fork.file)));
  const tell = () => {
    const fork = forks.find((each) => each.file === select.value);
    hint.textContent = fork?.error ??
      (fork ? `${shown(fork.travel_mm ?? 0, units().travel)} of travel` +
        (fork.has_air_spring ? `, at most ${pressureWords(fork.maximum_pressure_psi ?? 0)}` : "") : "No fork file in forks/.");
  };
  select.addEventListener("change", tell);
  tell();
}

export function sweepView(): HTMLElement {
  const select = element("select", { id: "fork" });
  const hint = element("small", {});
  const canvas = element("canvas", { role: "img", "aria-label": "Force against travel of the sweep that runs" });
  const begin = button("Begin the sweep", () => {
    attempt(() => post("/api/act/sweep", wanted()));
  });
  const now = readings();
  const question = questionBox();
  const bar = element("progress", { max: "1", value: "0", "aria-label": "How far the sweep is" });
  const step = element("p", { class: "step" });
  const known = element("p", { class: "known", role: "status" });
  const ended = element("p", { class: "ended" });
  const form = element("form", { class: "form" },
      element("div", { class: "field" }, element("label", { for: "fork" }, "Fork"), select, hint),
      field("pressure", "Pressure, at the gauge", pressureWords(80), "with its unit: psi, bar, kPa"),
      field("spacers", "Spacers", "0"),
      field("speed", "Speed", "4 mm/s"),
      field("cycles", "Measuring cycles", "3"),
      field("to", "To", "", "empty: nine tenths of the travel"),
      field("settle", "Rest before", "30 s"),
      begin);
  // Enter in a field begins nothing that moves.
  form.addEventListener("submit", (event) => event.preventDefault());
  attempt(() => fillForks(select, hint));
  queueMicrotask(() => {
    loop = new Loop(canvas, points);
  });
  whenViewLeaves(() => {
    loop?.destroy();
    loop = null;
  });
  watchWhileShown(() => {
    const { doing, connected, fraction, left_s, message, last_record } = told.bench;
    const sweeping = doing === "sweeping";
    // Then the loop is what is looked at.
    form.hidden = sweeping;
    begin.disabled = !told.operator || !connected || doing !== "nothing";
    bar.hidden = !sweeping;
    bar.value = fraction;
    const left = left_s === null ? "estimating how long" : `${Math.ceil(left_s)} s left`;
    step.textContent = sweeping ? `${told.bench.step || "getting ready"} – ${left}` : connected ? "" : "Connect a rig first.";
    const said = told.bench.known.replaceAll("+-", "±");
    if (known.textContent !== said) known.textContent = said;
    ended.textContent = sweeping ? "" : message || (last_record ? `Kept as ${last_record}.` : "");
    now.update();
    question.update();
  });
  return element("section", { class: "sweep" },
    element("h2", {}, "One sweep"), form,
    question.box, bar, step, now.box, known,
    element("div", { class: "canvas" }, canvas), ended);
}

let was = "nothing";
watch(() => {
  const { doing } = told.bench;
  if (doing === "sweeping" && was !== doing) points.clear();
  was = doing;
});
watchPoints((more) => {
  points.add(more);
  loop?.redrawSoon();
});

// What was measured before this page was opened.
export async function fetchLoop(): Promise<void> {
  const so_far = (await get("/api/look_up/loop")).points as Point[];
  points.clear();
  points.add(so_far);
  loop?.redrawSoon();
}
