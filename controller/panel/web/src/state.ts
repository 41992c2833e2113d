// What the program tells of itself, and who wants to know.

export interface Bench {
  connected: boolean;
  homed: boolean;
  rig: string;
  doing: string;
  step: string;
  fraction: number;
  left_s: number | null;
  question: string;
  question_number: number;
  known: string;
  notes: string[];
  force_N: number | null;
  travel_mm: number | null;
  message: string;
  exit: number;
  last_record: string;
}

// Travel in millimetres, force in newtons, number of the stroke.
export type Point = [number, number, number];

// A command that converses: what it said, and its live reading.
export interface Talk {
  lines: string[];
  status: string;
  asking: boolean; // for a line
}

export interface Told {
  workshop: string;
  cautions: string;
  bench: Bench;
  talk: Talk;
  online: boolean;
  taken: boolean; // by another page
  operator: boolean;
}

export const told: Told = {
  workshop: "",
  cautions: "",
  bench: {
    connected: false, homed: false, rig: "", doing: "nothing", step: "", fraction: 0, left_s: null,
    question: "", question_number: 0, known: "", notes: [], force_N: null, travel_mm: null, message: "", exit: 0, last_record: "",
  },
  talk: { lines: [], status: "", asking: false },
  online: false,
  taken: false,
  operator: false,
};

const watchers = new Set<() => void>();
const pointWatchers = new Set<(points: Point[]) => void>();

export function watch(watcher: () => void): void {
  watchers.add(watcher);
}

// For as long as the present view is shown.
let ofView: (() => void)[] = [];

export function watchWhileShown(watcher: () => void): void {
  ofView.push(watcher);
  watchers.add(watcher);
}

let onLeaving: (() => void)[] = [];

export function whenViewLeaves(act: () => void): void {
  onLeaving.push(act);
}

export function viewLeaves(): void {
  for (const watcher of ofView) watchers.delete(watcher);
  for (const act of onLeaving) act();
  ofView = [];
  onLeaving = [];
}

export function watchPoints(watcher: (points: Point[]) => void): void {
  pointWatchers.add(watcher);
}

export function changed(): void {
  for (const watcher of watchers) watcher();
}

export function pointsCame(points: Point[]): void {
  for (const watcher of pointWatchers) watcher(points);
}
