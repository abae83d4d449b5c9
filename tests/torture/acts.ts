import { POT_OF_PEOPLE, SITE_ID, TECHNICIAN_ID } from './fleet.js';
import { OWNER, sleep } from './served.js';

/** Plans and visits of people, sent over HTTP until each is answered, also across restarts of the server. */
export class Acts {
  /** Ids of visits that were answered with success. */
  readonly acknowledged = new Set<string>();
  /** Stops that were planned or taken off a round: each makes or withdraws an alert. */
  stopsChanged = 0;
  /** Requests that a kill left without an answer, and that were sent again. */
  sentAgain = 0;
  readonly refused: string[] = [];
  readonly #url: string;
  #cookie: string | null = null;
  #next = 0;
  #running = false;
  #isAnswered = false;
  #done: Promise<void> = Promise.resolve();
  #stopId: string | null = null;

  constructor(httpPort: number) {
    this.#url = `http://127.0.0.1:${httpPort}`;
  }

  start(): void {
    this.#running = true;
    this.#done = this.#loop();
  }

  async stop(): Promise<void> {
    this.#running = false;
    await this.#done;
  }

  /** Adds a webhook that hears of every alert; the secret stays unused here. */
  async addWebhook(target: string): Promise<void> {
    const answer = await this.#send('POST', '/api/v1/firm-addresses', { channel: 'webhook', target });
    if (answer.status !== 201) throw new Error(`the webhook was refused with ${answer.status}: ${answer.text}`);
  }

  /** Fetches what the day's page shows; how long that took, in milliseconds. @throws Error where it is refused */
  async look(): Promise<number> {
    const startedMs = performance.now();
    const answer = await this.#send('GET', '/api/v1/today');
    if (answer.status !== 200) throw new Error(`today was refused with ${answer.status}: ${answer.text}`);
    return performance.now() - startedMs;
  }

  async #loop(): Promise<void> {
    while (this.#running) {
      try {
        await this.#visit();
        await this.#changeStop();
      } catch (error) {
        // The server was killed under the request: what was not answered is sent again.
        if (!(error instanceof TypeError)) throw error;
        if (this.#isAnswered) this.sentAgain += 1;
        this.#isAnswered = false;
        await sleep(20);
      }
    }
  }

  async #visit(): Promise<void> {
    const id = `visit-${String(this.#next).padStart(8, '0')}`;
    const answer = await this.#send('PUT', `/api/v1/visits/${id}`, {
      siteId: SITE_ID,
      technicianId: TECHNICIAN_ID,
      happenedAt: new Date(Date.UTC(2026, 0, 3) + this.#next * 60_000).toISOString(),
      actions: [{ containerId: POT_OF_PEOPLE, work: 'other', note: `act ${this.#next}` }],
    });
    if (answer.status !== 200) this.refused.push(`${id}: ${answer.status} ${answer.text}`);
    else this.acknowledged.add(id);
    this.#next += 1;
  }

  async #changeStop(): Promise<void> {
    if (this.#stopId !== null) {
      const answer = await this.#send('DELETE', `/api/v1/rounds/stops/${encodeURIComponent(this.#stopId)}`);
      // 404 or 409: it was done before the kill, and the answer was lost.
      if (answer.status !== 204 && answer.status !== 404 && answer.status !== 409)
        this.refused.push(`stop: ${answer.status} ${answer.text}`);
      this.#stopId = null;
    } else {
      const task = { containerId: POT_OF_PEOPLE, kind: 'check_sensor', note: `asked ${this.#next}` };
      const asked = await this.#send('POST', '/api/v1/tasks', task);
      if (asked.status !== 201) this.refused.push(`task: ${asked.status} ${asked.text}`);
      const day = await this.#day();
      const plan = { siteId: SITE_ID, technicianId: TECHNICIAN_ID, day, position: null };
      const answer = await this.#send('POST', '/api/v1/rounds/stops', plan);
      // 409: it was planned before the kill, and the answer was lost. A day that has just ended cannot be planned.
      const isOver = answer.status === 400 && answer.text.includes('"pointer":"/day"');
      if (answer.status !== 201 && answer.status !== 409 && !isOver)
        this.refused.push(`plan: ${answer.status} ${answer.text}`);
      if (answer.status === 201) this.#stopId = (JSON.parse(answer.text) as { readonly id: string }).id;
    }
    this.stopsChanged += 1;
  }

  /** The site's day by the server's clock, which need not be ours. */
  async #day(): Promise<string> {
    const { text } = await this.#send('GET', '/api/v1/today');
    return (JSON.parse(text) as { readonly day: string }).day;
  }

  async #send(method: string, path: string, body?: unknown): Promise<{ status: number; text: string }> {
    this.#cookie ??= await this.#logIn();
    const response = await fetch(`${this.#url}${path}`, {
      method,
      headers: {
        'x-brimline': '1',
        cookie: this.#cookie,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    const answer = { status: response.status, text: await response.text() };
    this.#isAnswered = true;
    return answer;
  }

  async #logIn(): Promise<string> {
    const response = await fetch(`${this.#url}/api/v1/session`, {
      method: 'POST',
      headers: { 'x-brimline': '1', 'content-type': 'application/json' },
      body: JSON.stringify(OWNER),
    });
    await response.text();
    const cookie = response.headers.get('set-cookie');
    if (cookie === null) throw new Error(`log-in was answered with ${response.status}`);
    return cookie.split(';')[0] ?? '';
  }
}
