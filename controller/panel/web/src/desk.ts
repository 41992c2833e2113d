// Questions that take a moment: asked here, answered by the live connection under the same ticket.

import { post } from "./api";

export interface DeskAnswer {
  ticket: string;
  exit: number;
  answer?: Record<string, unknown>;
  error?: string;
}

const waiting = new Map<string, (told: DeskAnswer) => void>();
const HERE = crypto.randomUUID();

// The latest question of a place counts; the answer to an earlier one is passed over.
export async function ask(place: string, target: string, how: object): Promise<DeskAnswer> {
  const ticket = `${HERE}/${place}`;
  const told = new Promise<DeskAnswer>((good) => waiting.set(ticket, good));
  try {
    await post(target, { ...how, ticket });
  } catch (error) {
    waiting.delete(ticket);
    throw error;
  }
  return told;
}

export async function answered(place: string, target: string, how: object): Promise<Record<string, unknown>> {
  const told = await ask(place, target, how);
  if (told.error) throw new Error(told.error);
  return told.answer ?? {};
}

export function deskTold(told: DeskAnswer): void {
  waiting.get(told.ticket)?.(told);
  waiting.delete(told.ticket);
}
