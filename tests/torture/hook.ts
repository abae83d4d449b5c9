import http from 'node:http';
import type { AddressInfo } from 'node:net';

/** A receiver of webhooks that fails now and then, so that some entries wait when the server is killed. */
export interface Hook {
  readonly url: string;
  /** How often each `webhook-id` was taken. */
  readonly taken: ReadonlyMap<string, number>;
  /** From now on it takes everything. */
  mend(): void;
  close(): Promise<void>;
}

const REFUSED_ONE_IN = 5;

export async function listenForHooks(): Promise<Hook> {
  const taken = new Map<string, number>();
  let calls = 0;
  let mended = false;
  const server = http.createServer((request, response) => {
    request.resume();
    request.on('end', () => {
      calls += 1;
      if (!mended && calls % REFUSED_ONE_IN === 0) {
        response.writeHead(503, { 'retry-after': '1' }).end();
        return;
      }
      const id = String(request.headers['webhook-id']);
      taken.set(id, (taken.get(id) ?? 0) + 1);
      response.writeHead(204).end();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', () => resolve()));
  return {
    url: `http://localhost:${(server.address() as AddressInfo).port}/hook`,
    taken,
    mend: () => {
      mended = true;
    },
    close: () =>
      new Promise((resolve) => {
        server.closeAllConnections();
        server.close(() => resolve());
      }),
  };
}
