// The page's frame: its views, one Stop, who operates, and in which units.

import { enter, post } from "./api";
import { attempt, button, element, find, notice } from "./dom";
import { calibrateView } from "./calibrate";
import { compareView } from "./compare";
import { libraryView } from "./library";
import { connect } from "./live";
import { modelsView } from "./models";
import { rigView } from "./rig";
import { changed, told, viewLeaves, watch } from "./state";
import { fetchLoop, sweepView } from "./sweep";
import { unitChoice } from "./units";

const VIEWS: Record<string, () => HTMLElement> = {
  bench: rigView, calibrate: calibrateView, sweep: sweepView, library: libraryView, models: modelsView, compare: compareView,
};

function show(): void {
  const name = location.hash.slice(1) in VIEWS ? location.hash.slice(1) : "bench";
  viewLeaves();
  find("view").replaceChildren((VIEWS[name] ?? rigView)());
  for (const link of document.querySelectorAll<HTMLAnchorElement>("nav a")) {
    if (link.hash === `#${name}`) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  changed();
}

function seat(): void {
  const take = button("Operate the rig from here", () => attempt(async () => {
    await post("/api/operator", { take: true });
  }));
  const place = find("seat");
  watch(() => {
    if (!told.online) place.replaceChildren("The program does not answer; the rig stops by itself.");
    else if (told.operator) place.replaceChildren("This page operates the rig.");
    else place.replaceChildren(told.taken ? "This page watches; another one operates." : "This page watches.", take);
  });
}

function stop(): void {
  const control = find<HTMLButtonElement>("stop");
  control.addEventListener("click", () => attempt(() => post("/api/stop")));
  window.addEventListener("keydown", (event) => {
    if (event.key === "Escape") control.click();
  });
}

function live(): void {
  const place = find("live");
  watch(() => {
    const { doing, step, message } = told.bench;
    const text = doing === "nothing" ? message || "Nothing moves." : `${doing} ${step}`;
    if (place.textContent !== text) place.textContent = text;
  });
}

async function begin(): Promise<void> {
  seat();
  stop();
  live();
  find("choice").append(unitChoice(show));
  try {
    await enter();
  } catch (error) {
    notice(error instanceof Error ? error.message : String(error));
  }
  connect();
  attempt(fetchLoop);
  let shown = false;
  watch(() => {
    if (shown || told.cautions === "") return;
    shown = true;
    show();
  });
  window.addEventListener("hashchange", show);
  find("view").replaceChildren(element("p", {}, "Waiting for the program …"));
}

void begin();
