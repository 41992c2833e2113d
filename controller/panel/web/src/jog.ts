// The carriage by hand: it moves while the button is held, by pointer or by key, and no longer.

import { post } from "./api";
import { cautionsRead } from "./cautions";
import { attempt, element } from "./dom";
import { whenViewLeaves } from "./state";

const HOLD_MS = 100;

export function jogButton(label: string, toward: "compression" | "extension"): HTMLButtonElement {
  const made = element("button", { type: "button", class: "hold" }, label);
  let timer: number | undefined;
  const letGo = () => {
    if (timer === undefined) return;
    window.clearInterval(timer);
    timer = undefined;
    void post("/api/act/let_go").catch(() => undefined);
  };
  const hold = () => {
    if (timer !== undefined || made.disabled || !cautionsRead()) return;
    timer = window.setInterval(() => void post("/api/act/hold").catch(() => undefined), HOLD_MS);
    attempt(async () => {
      try {
        await post("/api/act/jog", { toward });
      } catch (error) {
        letGo();
        throw error;
      }
    });
  };
  made.addEventListener("pointerdown", (event) => {
    made.setPointerCapture(event.pointerId);
    hold();
  });
  made.addEventListener("keydown", (event) => {
    if (event.key === " " || event.key === "Enter") {
      event.preventDefault();
      hold();
    }
  });
  for (const end of ["pointerup", "pointercancel", "lostpointercapture", "keyup", "blur", "contextmenu"]) {
    made.addEventListener(end, letGo);
  }
  document.addEventListener("visibilitychange", letGo);
  whenViewLeaves(() => {
    letGo();
    document.removeEventListener("visibilitychange", letGo);
  });
  return made;
}
