import type { LogLine } from './publishers.js';

const REQUEST_TIMEOUT_MS = 10_000;

/** An action of a visit that somebody recorded in the product. */
export interface RecordedPour {
  readonly visitId: string;
  readonly containerId: string;
  readonly litres: number;
}

/** A stop of one's own round that is still to be made. */
export interface RoundToGo {
  readonly stopId: string;
  readonly siteId: string;
  readonly state: 'planned' | 'on_the_way';
  readonly position: number;
  readonly startMinute: number | null;
  readonly endMinute: number | null;
  readonly driveMinutes: number;
}

interface Session {
  cookie: string;
}

/** Talks to the product over HTTP as its people do. Every refusal is logged and then lived with. */
export class HttpCrew {
  readonly #url: string;
  readonly #people: ReadonlyMap<string, string>;
  readonly #log: LogLine;
  readonly #sessions = new Map<string, Session>();
  readonly #said = new Map<string, number>();
  readonly #seen = new Set<string>();

  constructor(url: string, people: ReadonlyMap<string, string>, log: LogLine) {
    this.#url = url;
    this.#people = people;
    this.#log = log;
  }

  #complain(what: string): void {
    const count = (this.#said.get(what) ?? 0) + 1;
    this.#said.set(what, count);
    if (count <= 2 || count % 50 === 0) this.#log(count > 1 ? `${what} (${count} times)` : what);
  }

  async #request(login: string, method: string, path: string, body: unknown): Promise<unknown> {
    const session = this.#sessions.get(login) ?? (await this.#signIn(login));
    if (session === null) return null;
    const response = await fetch(`${this.#url}${path}`, {
      method,
      headers: {
        cookie: session.cookie,
        'x-brimline': 'simulators',
        ...(body === null ? {} : { 'content-type': 'application/json' }),
      },
      signal: AbortSignal.timeout(REQUEST_TIMEOUT_MS),
      ...(body === null ? {} : { body: JSON.stringify(body) }),
    });
    const text = await response.text();
    if (response.status === 401) this.#sessions.delete(login);
    if (!response.ok) {
      this.#complain(
        `${method} ${path.split('?')[0]} as ${login} was refused with ${response.status}: ${text.slice(0, 300)}`,
      );
      return null;
    }
    return text === '' ? {} : (JSON.parse(text) as unknown);
  }

  async #signIn(login: string): Promise<Session | null> {
    const password = this.#people.get(login);
    if (password === undefined) {
      this.#complain(`nobody called ${login} in the credentials file`);
      return null;
    }
    const response = await fetch(`${this.#url}/api/v1/session`, {
      method: 'POST',
      headers: { 'content-type': 'application/json', 'x-brimline': 'simulators' },
      body: JSON.stringify({ login, password }),
      signal: AbortSignal.timeout(REQUEST_TIMEOUT_MS),
    });
    await response.text();
    const cookies = response.headers.getSetCookie().map((line) => line.split(';')[0]!);
    if (!response.ok || cookies.length === 0) {
      this.#complain(`signing in as ${login} was refused with ${response.status}`);
      return null;
    }
    const session = { cookie: cookies.join('; ') };
    this.#sessions.set(login, session);
    return session;
  }

  /** Runs a request so that nothing it does can stop the simulator. */
  async #safely<T>(what: string, run: () => Promise<T>, otherwise: T): Promise<T> {
    try {
      return await run();
    } catch (error) {
      this.#complain(`${what}: ${error instanceof Error ? error.message : String(error)}`);
      return otherwise;
    }
  }

  /** Pours of visits that were recorded since the last call, by anybody but this simulator. */
  async newPours(login: string, fromIso: string, toIso: string): Promise<RecordedPour[]> {
    return this.#safely('reading visits', async () => {
      const query = new URLSearchParams({ from: fromIso, to: toIso });
      const answer = await this.#request(login, 'GET', `/api/v1/visits?${query}`, null);
      const items = (answer as { items?: unknown[] } | null)?.items ?? [];
      const pours: RecordedPour[] = [];
      for (const item of items) {
        const visit = (item as { visit?: unknown }).visit as
          | { id?: string; actions?: { containerId?: string; work?: string; litres?: number | null }[] }
          | undefined;
        if (visit?.id === undefined || this.#seen.has(visit.id)) continue;
        this.#seen.add(visit.id);
        if (visit.id.startsWith(OWN_VISITS)) continue;
        for (const action of visit.actions ?? []) {
          if (action.work !== 'refill' || action.containerId === undefined || !action.litres) continue;
          pours.push({ visitId: visit.id, containerId: action.containerId, litres: action.litres });
        }
      }
      return pours;
    }, []);
  }

  /** One's own round of a day, without what is done. */
  async round(login: string, day: string): Promise<RoundToGo[]> {
    return this.#safely('reading a round', async () => {
      const answer = await this.#request(login, 'GET', `/api/v1/rounds?day=${day}`, null);
      const items = (answer as { items?: { stops?: unknown[] }[] } | null)?.items ?? [];
      return items.flatMap((round) => (round.stops ?? []).flatMap(toGo));
    }, []);
  }

  async setOut(login: string, stopId: string): Promise<void> {
    const path = `/api/v1/rounds/stops/${encodeURIComponent(stopId)}/set-out`;
    await this.#safely('setting out', () => this.#request(login, 'POST', path, {}), null);
  }

  async recordVisit(login: string, visitId: string, body: unknown): Promise<void> {
    await this.#safely('recording a visit', () => this.#request(login, 'PUT', `/api/v1/visits/${visitId}`, body), null);
  }

  async enterWeather(login: string, days: readonly unknown[]): Promise<void> {
    await this.#safely('entering weather', () => this.#request(login, 'POST', '/api/v1/weather', { days }), null);
  }
}

/** Ids of visits that the simulated crews report begin so. */
export const OWN_VISITS = 'sim-visit-';

function toGo(view: unknown): RoundToGo[] {
  const { stop, planned } = view as {
    stop?: { id?: string; siteId?: string; state?: string; position?: number };
    planned?: { startMinute?: number; endMinute?: number; driveMinutes?: number } | null;
  };
  if (stop?.id === undefined || stop.siteId === undefined) return [];
  if (stop.state !== 'planned' && stop.state !== 'on_the_way') return [];
  return [
    {
      stopId: stop.id,
      siteId: stop.siteId,
      state: stop.state,
      position: stop.position ?? 0,
      startMinute: planned?.startMinute ?? null,
      endMinute: planned?.endMinute ?? null,
      driveMinutes: planned?.driveMinutes ?? 0,
    },
  ];
}
