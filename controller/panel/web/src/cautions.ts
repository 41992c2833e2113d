// Asked before something moves: the cautions in full before the first motion that this page asks for. In the page
// itself, since a window of the browser's own would silence the page's signs of life while it stands.

import { button, element } from "./dom";
import { told } from "./state";

let read = false;

export function mayMove(question: string): Promise<boolean> {
  return new Promise((good) => {
    const dialog = element("dialog", { "aria-labelledby": "may-move" });
    const end = (yes: boolean) => () => {
      read ||= yes;
      dialog.close();
      dialog.remove();
      good(yes);
    };
    const no = button("No", end(false));
    dialog.append(...(read ? [] : [element("p", { class: "cautions" }, told.cautions)]),
      element("p", { id: "may-move", class: "large" }, question),
      button("Yes, it may move", end(true)), no);
    dialog.addEventListener("cancel", end(false));
    document.body.append(dialog);
    dialog.showModal();
    no.focus();
  });
}

// Whether they were read already; if not they are shown, and what was asked for is to be asked for again.
export function cautionsRead(): boolean {
  if (!read) void mayMove("The carriage moves while you hold the button. Are hands and tools clear?");
  return read;
}
