// The live connection: what the program tells, and twice a second a sign that this page lives. Without
// that sign the program stops the rig.

import { get, pageKey } from "./api";
import { deskTold, type DeskAnswer } from "./desk";
import { changed, pointsCame, told, type Bench, type Point, type Talk } from "./state";

const SIGN_MS = 500;
const RETRY_MS = 1000;

function take(text: string): void {
  const message = JSON.parse(text) as Record<string, unknown>;
  if (message.desk) return deskTold(message.desk as DeskAnswer);
  if (message.points) return pointsCame(message.points as Point[]);
  if (message.bench) told.bench = message.bench as Bench;
  if (message.talk) told.talk = message.talk as Talk;
  if (typeof message.seat === "string") {
    told.operator = message.seat === "mine";
    told.taken = message.seat === "taken";
  }
  if (typeof message.workshop === "string") told.workshop = message.workshop;
  if (typeof message.cautions === "string") told.cautions = message.cautions;
  changed();
}

export function connect(): void {
  const socket = new WebSocket(`ws://${location.host}/live`);
  const sign = () => socket.send(JSON.stringify({ page: pageKey() }));
  let timer: number | undefined;
  socket.onopen = () => {
    told.online = true;
    sign();
    timer = window.setInterval(sign, SIGN_MS);
    changed();
  };
  socket.onmessage = (event) => take(String(event.data));
  socket.onclose = () => {
    window.clearInterval(timer);
    told.online = false;
    // Whatever this page was before, it has to ask again.
    told.operator = false;
    changed();
    window.setTimeout(retry, RETRY_MS);
  };
}

async function retry(): Promise<void> {
  try {
    await get("/api/state");
    connect();
  } catch {
    window.setTimeout(retry, RETRY_MS);
  }
}
