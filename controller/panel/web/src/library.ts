// The records of the workshop: what each is of, how it ended, and its loop.

import { post } from "./api";
import { attempt, button, element } from "./dom";
import { Loop, LoopPoints } from "./loop";
import type { Point } from "./state";
import { inUnit, units } from "./units";
import { below, library, type RecordEntry } from "./workshop";

function verdict(entry: RecordEntry): string {
  if (!entry.usable) return `ruled out: ${entry.unusable_reason}`;
  return entry.state === "complete" ? "complete" : `interrupted: ${entry.state_reason}`;
}

export function libraryView(): HTMLElement {
  const rows = element("tbody", {});
  const canvas = element("canvas", { role: "img", "aria-label": "Force against travel of the chosen record" });
  const about = element("p", { role: "status" });
  const points = new LoopPoints();
  let loop: Loop | null = null;
  const show = (entry: RecordEntry) => attempt(async () => {
    const file = below("sweeps", entry.file);
    const record = await post("/api/look_up/record", { file });
    points.clear();
    points.add(record.points as Point[]);
    loop ??= new Loop(canvas, points);
    loop.redrawSoon();
    about.textContent = `${entry.fork}: ${String(record.rows)} rows. ${(record.remarks as string[]).join(" ")}`;
  });
  attempt(async () => {
    const { records } = await library();
    const entries = [...records].sort((a, b) => b.created.localeCompare(a.created));
    rows.replaceChildren(...entries.map((entry) => element("tr", {},
      element("td", {}, button(below("sweeps", entry.file), () => show(entry))),
      element("td", {}, entry.fork),
      element("td", { class: "number" }, entry.pressure_gauge_Pa ? inUnit(entry.pressure_gauge_Pa, units().pressure).toFixed(units().pressure.digits) : "–"),
      element("td", { class: "number" }, String(entry.spacers)),
      element("td", {}, entry.created.replace("T", " ").replace("Z", "")),
      element("td", {}, verdict(entry)))));
    if (entries.length === 0) about.textContent = "No record yet.";
  });
  const head = ["Record", "Fork", units().pressure.unit, "Spacers", "Begun (UTC)", "How it ended"]
    .map((text) => element("th", { scope: "col" }, text));
  return element("section", {},
    element("h2", {}, "Records"),
    element("div", { class: "table" }, element("table", {}, element("thead", {}, element("tr", {}, ...head)), rows)),
    about, element("div", { class: "canvas" }, canvas));
}
