// What the bench asks of the operator. An answer names its question, so that a late one counts for no other.

import { post } from "./api";
import { attempt, button, element } from "./dom";
import { told } from "./state";

export function questionBox(): { box: HTMLElement; update: () => void } {
  const text = element("p", { id: "question" });
  const answer = (yes: boolean) => () =>
    attempt(() => post("/api/act/answer", { question: told.bench.question_number, yes }));
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
