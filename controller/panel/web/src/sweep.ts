// Choose a fork and its setting, go through the check list, and watch the loop grow.

import { get, post } from "./api";
import { attempt, button, element, find } from "./dom";
import { Loop } from "./loop";
import { readings } from "./rig";
import { told, watchPoints, watchWhileShown } from "./state";

interface ForkEntry {
  file: string;
  name?: string;
  travel_mm?: number;
  has_air_spring?: boolean;
  maximum_pressure_psi?: number;
  error?: string;
}

let loop: Loop | null = null;

function field(id: string, label: string, value: string, hint = ""): HTMLElement {
  const input = element("input", { id, name: id, value, autocomplete: "off" });
  const parts: Node[] = [element("label", { for: id }, label), input];
  if (hint) {
    input.setAttribute("aria-describedby", `${id}-hint`);
    parts.push(element("small", { id: `${id}-hint` }, hint));
  }
  return element("div", { class: "field" }, ...parts);
}

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
      (fork ? `${fork.travel_mm?.toFixed(0)} mm of travel` +
        (fork.has_air_spring ? `, at most ${fork.maximum_pressure_psi?.toFixed(0)} psi` : "") : "No fork file in forks/.");
  };
  select.addEventListener("change", tell);
  tell();
}

function questionBox(): { box: HTMLElement; update: () => void } {
  const text = element("p", { id: "question" });
  const answer = (yes: boolean) => () => attempt(() => post("/api/act/answer", { yes }));
  const yes = button("Done", answer(true));
  const no = button("No, end here", answer(false));
  const box = element("div", { class: "question", role: "alertdialog", "aria-labelledby": "question", hidden: true },
    text, yes, no);
  return {
    box,
    update: () => {
      const { question } = told.bench;
      box.hidden = question === "";
      if (text.textContent !== question) text.textContent = question;
      yes.disabled = no.disabled = !told.operator;
    },
  };
}

export function sweepView(): HTMLElement {
  const select = element("select", { id: "fork" });
  const hint = element("small", {});
  const canvas = element("canvas", { role: "img", "aria-label": "Force against travel of the sweep that runs" });
  const begin = button("Begin the sweep", () => {
    attempt(async () => {
      await post("/api/act/sweep", wanted());
      loop?.clear();
    });
  });
  const now = readings();
  const question = questionBox();
  const bar = element("progress", { max: "1", value: "0", "aria-label": "How far the sweep is" });
  const step = element("p", { class: "step" });
  const ended = element("p", { class: "ended" });
  const form = element("form", { class: "form" },
      element("div", { class: "field" }, element("label", { for: "fork" }, "Fork"), select, hint),
      field("pressure", "Pressure, at the gauge", "80 psi", "with its unit: psi, bar, kPa"),
      field("spacers", "Spacers", "0"),
      field("speed", "Speed", "4 mm/s"),
      field("cycles", "Measuring cycles", "3"),
      field("to", "To", "", "empty: nine tenths of the travel"),
      field("settle", "Rest before", "30 s"),
      begin);
  attempt(() => fillForks(select, hint));
  queueMicrotask(() => {
    loop?.destroy();
    loop = new Loop(canvas);
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
    ended.textContent = sweeping ? "" : message || (last_record ? `Kept as ${last_record}.` : "");
    now.update();
    question.update();
  });
  return element("section", { class: "sweep" },
    element("h2", {}, "One sweep"), form,
    question.box, bar, step, now.box,
    element("div", { class: "canvas" }, canvas), ended);
}

watchPoints((points) => loop?.add(points));
