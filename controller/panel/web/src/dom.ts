// Elements without a library: text is always text, never markup.

type Child = Node | string;

export function element<K extends keyof HTMLElementTagNameMap>(
  name: K,
  attributes: Record<string, string | boolean> = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (typeof value === "boolean") made.toggleAttribute(key, value);
    else made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
}

export function button(label: string, act: () => void): HTMLButtonElement {
  const made = element("button", { type: "button" }, label);
  made.addEventListener("click", act);
  return made;
}

// A labelled field of text, with a hint below it where there is one.
export function field(id: string, label: string, value: string, hint = ""): HTMLElement {
  const input = element("input", { id, name: id, value, autocomplete: "off" });
  const parts: Node[] = [element("label", { for: id }, label), input];
  if (hint) {
    input.setAttribute("aria-describedby", `${id}-hint`);
    parts.push(element("small", { id: `${id}-hint` }, hint));
  }
  return element("div", { class: "field" }, ...parts);
}

export function find<T extends HTMLElement>(id: string): T {
  return document.getElementById(id) as T;
}

export function notice(text: string): void {
  const place = find("notice");
  place.textContent = text;
  place.hidden = text === "";
}

// Runs what a button asks for, and shows why it could not be done.
export function attempt(work: () => Promise<unknown>): void {
  notice("");
  work().catch((error: unknown) => notice(error instanceof Error ? error.message : String(error)));
}
