// What this page says to the program. The key that entering gave it goes with every request that does
// something; the browser sends the cookie by itself.

export class Refused extends Error {
  constructor(
    message: string,
    readonly status: number,
  ) {
    super(message);
  }
}

const KEY = "page-key";

export function pageKey(): string {
  return sessionStorage.getItem(KEY) ?? "";
}

async function answered(response: Response): Promise<Record<string, unknown>> {
  const body = (await response.json()) as Record<string, unknown>;
  if (!response.ok) throw new Refused(String(body.error ?? response.statusText), response.status);
  return body;
}

export async function get(target: string): Promise<Record<string, unknown>> {
  return answered(await fetch(target));
}

export async function post(target: string, body: object = {}): Promise<Record<string, unknown>> {
  return answered(
    await fetch(target, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Page-Key": pageKey() },
      body: JSON.stringify(body),
    }),
  );
}

// By the token behind the # of the address that the program printed. It is taken out of the address
// at once; a page that is loaded again keeps its key.
export async function enter(): Promise<void> {
  const token = location.hash.match(/^#([0-9a-f]{64})$/)?.[1];
  if (!token) return;
  history.replaceState(null, "", location.pathname + "#bench");
  const body = await post("/api/enter", { token });
  sessionStorage.setItem(KEY, String(body.key));
}
