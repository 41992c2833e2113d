// Check the load cell with one weight, or calibrate step by step. The program asks and judges; this page shows what
// it says and passes on what the operator writes.

import { get, post } from "./api";
import { mayMove } from "./cautions";
import { attempt, button, element, field, find } from "./dom";
import { questionBox } from "./question";
import { told, watchWhileShown } from "./state";

interface Certificate {
  file: string;
  kind?: string;
  date?: string;
  valid_until?: string;
  warnings?: string[];
  error?: string;
}

const KINDS: Record<string, { label: string; loads: string; hint: string; series: string }> = {
  force: { label: "Load cell", loads: "0, 5, 10, 20, 30, 40, 50 kg", hint: "weights in kg, or N of a reference", series: "3" },
  travel: { label: "Screw", loads: "0, 25, 50, 75, 100, 125, 150 mm", hint: "places of the dial, or blocks", series: "3" },
  frame: { label: "Frame", loads: "250, 500, 750, 1000 N", hint: "pressed onto a rigid block", series: "2" },
};

const valueOf = (id: string) => find<HTMLInputElement>(id).value.trim();

async function certificates(): Promise<Certificate[]> {
  return (await get("/api/look_up/certificates")).calibrations as Certificate[];
}

function checkForm(begins: (() => void)[]): { form: HTMLElement; fill: () => void } {
  const select = element("select", { id: "certificate" });
  const go = button("Check with this weight", () => attempt(async () => {
    const operator = valueOf("checker");
    await post("/api/act/calibrate_check", { certificate: select.value, load: valueOf("load"),
      ...(operator ? { operator } : {}) });
  }));
  begins.push(() => { go.disabled = !mayBegin() || !select.value; });
  const fill = () => attempt(async () => {
    const list = (await certificates()).filter(({ kind }) => kind === "force");
    select.replaceChildren(...list.map(({ file, date }) => element("option", { value: file }, `${file}, of ${date ?? "?"}`)));
    for (const begin of begins) begin();
  });
  fill();
  const form = element("div", { class: "form" },
    element("div", { class: "field wide" }, element("label", { for: "certificate" }, "Certificate of the load cell"), select),
    field("load", "Weight or force", "20 kg", "what will hang on it, as 20 kg or 200 N"),
    field("checker", "Who checks", ""), go);
  return { form, fill };
}

function guidedForm(begins: (() => void)[]): HTMLElement {
  const kind = element("select", { id: "kind" },
    ...Object.entries(KINDS).map(([name, { label }]) => element("option", { value: name }, label)));
  const loads = field("loads", "Loads or places", KINDS.force?.loads ?? "", KINDS.force?.hint ?? "");
  const series = field("series", "Series", "3", "up and down, at least three; of a frame two");
  const weightClass = field("weight-class", "Class of the weights", "M1", "OIML R 111; empty: not known");
  const resume = element("input", { id: "resume", type: "checkbox" });
  kind.addEventListener("change", () => {
    const chosen = KINDS[kind.value];
    if (!chosen) return;
    find<HTMLInputElement>("loads").value = chosen.loads;
    find("loads-hint").textContent = chosen.hint;
    find<HTMLInputElement>("series").value = chosen.series;
    weightClass.hidden = kind.value !== "force";
  });
  const go = button("Begin step by step", () => attempt(async () => {
    const moves = kind.value !== "force";
    if (moves && !(await mayMove("The carriage will move when you say so. Are hands and tools clear?"))) return;
    const operator = valueOf("calibrator");
    await post(`/api/act/calibrate_${kind.value}`, {
      loads: valueOf("loads"), series: Number.parseInt(valueOf("series"), 10), name: valueOf("certificate-name"),
      resume: resume.checked, ...(operator ? { operator } : {}),
      ...(!moves && valueOf("weight-class") ? { weight_class: valueOf("weight-class") } : {}),
    });
  }));
  begins.push(() => { go.disabled = !mayBegin(); });
  return element("div", { class: "form" },
    element("div", { class: "field" }, element("label", { for: "kind" }, "What"), kind), loads, series, weightClass,
    field("calibrator", "Who calibrates", ""),
    field("certificate-name", "Name of the certificate", `force-${new Date().toISOString().slice(0, 10)}`),
    element("div", { class: "field" }, element("label", { for: "resume" }, "Go on with one that was stopped"), resume), go);
}

const mayBegin = () => told.operator && told.bench.doing === "nothing";

// Keys of the conversation, as buttons.
const KEYS = [
  { label: "Take it, or go on", line: "" },
  { label: "Undo the last", line: "u" },
  { label: "Leave this out", line: "s" },
  { label: "Repeat the series", line: "r" },
  { label: "Stop here for now", line: "q" },
];

function conversation(): { box: HTMLElement; update: () => void } {
  const status = element("p", { class: "status", "aria-live": "off" });
  const lines = element("pre", { class: "talk", role: "log", tabindex: "0", "aria-label": "What the program says" });
  const write = (line: string) => attempt(() => post("/api/act/write", { line }));
  const typed = element("input", { id: "line", autocomplete: "off" });
  const send = element("button", {}, "Write");
  const form = element("form", { class: "row" }, element("label", { for: "line" }, "Value or word"), typed, send);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    write(typed.value);
    typed.value = "";
  });
  const buttons = KEYS.map(({ label, line }) => button(label, () => write(line)));
  const keys = element("div", { class: "row" }, ...buttons);
  const writing = element("div", {}, keys, form);
  const box = element("div", {}, status, lines, writing);
  return {
    box,
    update: () => {
      const text = told.talk.lines.join("\n");
      box.hidden = text === "";
      if (lines.textContent !== text) {
        lines.textContent = text;
        lines.scrollTop = lines.scrollHeight;
      }
      if (status.textContent !== told.talk.status) status.textContent = told.talk.status;
      // What is written counts for what is asked, and for nothing after it.
      for (const each of [...buttons, send]) each.disabled = !told.talk.asking;
      writing.hidden = told.bench.doing !== "calibrating" || !told.operator || told.bench.question !== "";
    },
  };
}

function certificateTable(): HTMLElement {
  const rows = element("tbody", {});
  attempt(async () => {
    rows.replaceChildren(...(await certificates()).map((each) => element("tr", {},
      element("td", {}, each.file), element("td", {}, each.kind ?? "–"), element("td", {}, each.date ?? "–"),
      element("td", {}, each.valid_until || "not said"),
      element("td", {}, each.error ?? each.warnings?.join(" ") ?? ""))));
  });
  const head = ["Certificate", "Of", "Made", "Valid until", "Remarks"].map((text) => element("th", { scope: "col" }, text));
  return element("div", { class: "table" },
    element("table", {}, element("thead", {}, element("tr", {}, ...head)), rows));
}

export function calibrateView(): HTMLElement {
  const begins: (() => void)[] = [];
  const talk = conversation();
  const question = questionBox();
  const check = checkForm(begins);
  const forms = element("div", {},
    element("h3", {}, "One weight"),
    element("p", {}, "The unloaded cell is read, then the weight that you hang. The answer says whether it still reads as its certificate says."),
    check.form,
    element("h3", {}, "Step by step"), guidedForm(begins));
  const table = element("div", {}, certificateTable());
  let was = told.bench.doing;
  watchWhileShown(() => {
    const { doing } = told.bench;
    forms.hidden = doing === "calibrating";
    if (was === "calibrating" && doing !== was) {
      table.replaceChildren(certificateTable());
      check.fill();
    }
    was = doing;
    for (const begin of begins) begin();
    question.update();
    talk.update();
  });
  return element("section", {}, element("h2", {}, "Calibrate"), question.box, talk.box, forms,
    element("h3", {}, "Certificates"), table);
}
