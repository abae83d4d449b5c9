import type { ApiClient } from './client.js';

const FORGOTTEN_AFTER_MS = 10_000;

/**
 * Asks for what the first screen needs while the page itself still begins: on a slow line the answers then come beside
 * one another and not one after the other. Each is handed out once; what nobody takes is forgotten.
 */
export function withEarly(client: ApiClient, paths: readonly string[]): ApiClient {
  const asked = new Map<string, Promise<unknown>>();
  for (const path of paths) {
    const answer = client.get(path);
    // Whoever takes it meets the fault; an answer that nobody takes must not be reported as nobody's.
    answer.catch(() => {});
    asked.set(path, answer);
  }
  // What was asked so early is soon no longer true.
  setTimeout(() => asked.clear(), FORGOTTEN_AFTER_MS);
  return {
    send: client.send,
    get<Body>(path: string, signal?: AbortSignal) {
      const early = asked.get(path);
      if (early === undefined) return client.get<Body>(path, signal);
      asked.delete(path);
      return early as ReturnType<typeof client.get<Body>>;
    },
  };
}
