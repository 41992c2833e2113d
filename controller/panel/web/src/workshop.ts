// What the workshop holds, as choices.

import { get } from "./api";
import { element } from "./dom";

export interface RecordEntry {
  file: string;
  created: string;
  fork: string;
  pressure_gauge_Pa: number;
  spacers: number;
  state: string;
  state_reason: string;
  usable: boolean;
  unusable_reason: string;
}

export interface Library {
  records: RecordEntry[];
  models: { file: string; usable?: boolean }[];
  reports: { file: string }[];
}

export async function library(): Promise<Library> {
  return (await get("/api/look_up/library")) as unknown as Library;
}

// The path below a folder of the workshop.
export function below(folder: string, file: string): string {
  return file.split(`/${folder}/`).pop() ?? file;
}

export async function modelChoice(select: HTMLSelectElement): Promise<void> {
  const { models } = await library();
  select.replaceChildren(...models.map(({ file, usable }) => {
    const name = below("models", file);
    return element("option", { value: name, disabled: usable === false }, usable === false ? `${name} (not usable)` : name);
  }));
}
