import type { SiteWorld } from '../fleet/world.js';
import { Draw } from '../rng.js';
import type { HttpCrew, RoundToGo } from './http-crew.js';

const MINUTE_MS = 60_000;
/** How often the crews look at their phones, business time. */
const LOOK_EVERY_MS = 10 * MINUTE_MS;
/** A stop without a planned hour starts here, and later ones at this distance. */
const FIRST_STOP_MINUTE = 8 * 60;
const BETWEEN_STOPS_MINUTES = 40;
const UNPLANNED_MINUTES = 30;
/** A stop that is this late is made at once. */
const DAY_END_MINUTE = 20 * 60;

/** A stop whose work ends now. */
export interface DueCall {
  readonly site: SiteWorld;
  readonly login: string;
  readonly startedMs: number;
  readonly day: string;
}

/**
 * The simulated crews go where the product sends them: they look at their rounds, set out, work for about as long as was
 * planned, and are done. Days without any round are told apart, so that somebody else can keep the gardens alive.
 */
export class RoundFollower {
  readonly #http: HttpCrew;
  readonly #logins: readonly string[];
  readonly #sites: ReadonlyMap<string, SiteWorld>;
  readonly #seed: string;
  readonly #gone = new Set<string>();
  readonly #done = new Set<string>();
  #rounds: readonly (RoundToGo & { readonly login: string })[] = [];
  #lookedMs = Number.NEGATIVE_INFINITY;
  /** The last day on which somebody had a round. */
  lastDayWithRounds = '';

  constructor(http: HttpCrew, logins: readonly string[], sites: readonly SiteWorld[], seed: string) {
    this.#http = http;
    this.#logins = logins;
    this.#sites = new Map(sites.map((site) => [site.plan.id, site]));
    this.#seed = seed;
  }

  /** Whether somebody is still to go to that site today. */
  isToCome(site: SiteWorld): boolean {
    return this.#rounds.some((stop) => stop.siteId === site.plan.id && !this.#done.has(stop.stopId));
  }

  /** What is done by now on the rounds of the day. */
  async due(nowMs: number, day: string, dayStartMs: number): Promise<readonly DueCall[]> {
    if (nowMs - this.#lookedMs >= LOOK_EVERY_MS) {
      this.#lookedMs = nowMs;
      const all = await Promise.all(
        this.#logins.map(async (login) => (await this.#http.round(login, day)).map((stop) => ({ ...stop, login }))),
      );
      this.#rounds = all.flat();
      if (this.#rounds.length > 0) this.lastDayWithRounds = day;
    }
    const nowMinute = (nowMs - dayStartMs) / MINUTE_MS;
    const calls: DueCall[] = [];
    for (const login of this.#logins) {
      const next = this.#rounds.find((stop) => stop.login === login && !this.#done.has(stop.stopId));
      if (next === undefined) continue;
      const call = this.#go(next, nowMinute, dayStartMs, day);
      if (call !== null) calls.push(call);
    }
    return calls;
  }

  #go(
    stop: RoundToGo & { readonly login: string },
    nowMinute: number,
    dayStartMs: number,
    day: string,
  ): DueCall | null {
    const site = this.#sites.get(stop.siteId);
    const start = stop.startMinute ?? FIRST_STOP_MINUTE + BETWEEN_STOPS_MINUTES * stop.position;
    const lasts = stop.endMinute === null ? UNPLANNED_MINUTES : stop.endMinute - start;
    if (nowMinute >= start - stop.driveMinutes && !this.#gone.has(stop.stopId)) {
      this.#gone.add(stop.stopId);
      if (stop.state === 'planned') void this.#http.setOut(stop.login, stop.stopId);
    }
    const took = lasts * new Draw(this.#seed, 'took', stop.stopId).spread(0.15);
    if (nowMinute < Math.min(start + took, DAY_END_MINUTE)) return null;
    this.#done.add(stop.stopId);
    const startedMinute = Math.max(0, Math.min(nowMinute, start + took) - took);
    return site === undefined
      ? null
      : { site, login: stop.login, startedMs: dayStartMs + startedMinute * MINUTE_MS, day };
  }
}
