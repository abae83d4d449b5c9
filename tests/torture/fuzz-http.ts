import fc from 'fast-check';
import { type ApiDescription, routeRequests } from '../support/bad-requests.js';
import { startTestServer, TestClock } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';
import type { Target } from './fuzz.js';

const REQUESTS_A_TURN = 5;

/** Every route of the API as its own description tells it, as the owner, who is let in everywhere. */
export const fuzzHttp: Target = {
  name: 'http',
  run: async ({ seed, untilMs }) => {
    const server = await startTestServer({ seed: twoAccountsWrites(), clock: new TestClock(Date.UTC(2026, 5, 5, 8)) });
    try {
      const owner = await server.login('owner');
      const description = (await (await fetch(`${server.url}/api/openapi.json`)).json()) as ApiDescription;
      const routes = routeRequests(description);
      const faults: string[] = [];
      let inputs = 0;
      for (let turn = 0; Date.now() < untilMs; turn++) {
        for (const { key, method, requests } of routes) {
          if (Date.now() >= untilMs) break;
          for (const { url, body } of fc.sample(requests, { numRuns: REQUESTS_A_TURN, seed: seed * 1_000 + turn })) {
            const answer = await owner.request(method, url, body);
            inputs += 1;
            if (answer.status >= 500) faults.push(`${key}: ${answer.status} for ${url} ${JSON.stringify(body)}`);
          }
        }
      }
      return { inputs, faults };
    } finally {
      await server.close();
    }
  },
};
