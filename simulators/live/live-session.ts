import { randomUUID } from 'node:crypto';
import { DAY_MS, HOUR_MS, isoSecond } from '../calendar.js';
import { stationIdOf } from '../files/fleet-json.js';
import type { FleetPlan, SiteWorld } from '../fleet/world.js';
import { Draw } from '../rng.js';
import { issueForecast } from '../weather/forecast.js';
import { RoundFollower } from './follow-rounds.js';
import type { HttpCrew } from './http-crew.js';
import { OWN_VISITS } from './http-crew.js';
import { type Arrival, fillShare, type LiveFleet, missingLitres } from './live-fleet.js';
import type { LogLine, Publishers } from './publishers.js';
import { callsOfDay, type PlannedCall } from './rounds.js';
import { encodePack, readingPack, stationPack } from './senml-pack.js';

const STATION_EVERY_MS = 15 * 60_000;
const MOST_READINGS_PER_PACK = 96;
/** A pot as full as this is left alone by the simulated crews. */
const FULL_ENOUGH = 0.62;
/** Whoever dispatches people from the page has taken a site over for this long. */
const TAKEN_OVER_MS = 20 * HOUR_MS;
const FORECAST_HOUR = 4;
/** From asking the node to hurry until the hose runs. */
const HOSE_READY_MS = 30_000;
const MINUTES_AT_A_POT = 4;
/** On a round every pot is filled that takes up anything worth reporting. */
const ROUND_FILLS_BELOW = 0.97;
/** Where nobody has a round by this hour, the crews go their fixed calls. */
const WAIT_FOR_ROUNDS_HOUR = 7.3;

/** One live running of a fleet against a server: what happens at each tick of the business clock. */
export class LiveSession {
  readonly #plan: FleetPlan;
  readonly #fleet: LiveFleet;
  readonly #mqtt: Publishers;
  readonly #http: HttpCrew | null;
  readonly #technicians: readonly string[];
  readonly #office: string | null;
  readonly #log: LogLine;
  readonly #draw: Draw;
  readonly #startMs: number;
  #lastStationMs: number;
  #calls: PlannedCall[] = [];
  #callsFor = '';
  #weatherDay: number;
  readonly #follower: RoundFollower | null;
  readonly #takenOver = new Map<SiteWorld, number>();
  /** Until when nodes were asked to report fast, as far as it was not followed yet. */
  readonly #asked = new Map<string, number>();
  readonly #followed = new Map<string, number>();
  /** Litres that a hose brought while the node looked on, by container: what is recorded of them later is in already. */
  readonly #filled = new Map<string, number>();
  readings = 0;
  pours = 0;

  constructor(parts: {
    readonly plan: FleetPlan;
    readonly fleet: LiveFleet;
    readonly mqtt: Publishers;
    readonly http: HttpCrew | null;
    /** Logins of the people who go the rounds; of the one who enters forecasts. */
    readonly technicians: readonly string[];
    readonly office: string | null;
    readonly startMs: number;
    readonly log: LogLine;
  }) {
    this.#plan = parts.plan;
    this.#fleet = parts.fleet;
    this.#mqtt = parts.mqtt;
    this.#http = parts.http;
    this.#technicians = parts.technicians;
    this.#office = parts.office;
    this.#log = parts.log;
    this.#startMs = parts.startMs;
    this.#draw = new Draw(parts.plan.seed, 'live');
    this.#follower =
      parts.http === null ? null : new RoundFollower(parts.http, parts.technicians, parts.fleet.sites, parts.plan.seed);
    this.#lastStationMs = Math.floor(parts.startMs / STATION_EVERY_MS) * STATION_EVERY_MS;
    const { calendar } = parts.fleet.sites[0]!;
    const today = calendar.dayIndex(parts.startMs);
    const issued = calendar.dayStartMs[today]! + FORECAST_HOUR * HOUR_MS <= parts.startMs;
    this.#weatherDay = issued ? today : today - 1;
  }

  /** Has every node hear what is asked of it. Nodes behind a gateway listen through it, under their own names. */
  listen(): void {
    for (const { plan, nodes } of this.#fleet.sites) {
      for (const { plan: node } of nodes) {
        const will = plan.gatewayId === null ? `nodes/${node.id}/state` : null;
        this.#mqtt.listen(node.id, `nodes/${node.id}/settings`, will, (payload) => {
          const untilMs = fastUntilOf(payload);
          if (untilMs === 'unreadable') this.#log(`${node.id}: its settings cannot be read: ${payload.slice(0, 80)}`);
          else if (untilMs !== null) this.#asked.set(node.id, untilMs);
        });
      }
    }
  }

  /** Nodes that were asked to hurry do; where the pot is on a round, whoever asked stands there with the hose. */
  #hurry(nowMs: number): void {
    for (const [nodeId, untilMs] of this.#asked) {
      this.#asked.delete(nodeId);
      if (untilMs <= Math.max(nowMs, this.#followed.get(nodeId) ?? 0)) continue;
      this.#followed.set(nodeId, untilMs);
      const place = this.#fleet.hurry(nodeId, untilMs);
      if (place === null || this.#follower?.isToCome(place.site) !== true) continue;
      const { site, potIndex } = place;
      this.#takenOver.set(site, nowMs + TAKEN_OVER_MS);
      const litres = this.#fleet.fill(site, potIndex, nowMs + HOSE_READY_MS);
      if (litres === 0) continue;
      const { id } = site.pots[potIndex]!;
      this.#filled.set(id, litres);
      this.#log(`${id}: the hose runs, ${litres} L`);
    }
  }

  /** Does all that is due by `nowMs`: readings, weather, calls. Never throws for what the server says. */
  async tick(nowMs: number): Promise<void> {
    await this.#followRounds(nowMs);
    this.#hurry(nowMs);
    this.#planCalls(nowMs);
    for (const call of this.#calls.filter((c) => c.atMs <= nowMs)) this.#make(call, nowMs);
    this.#calls = this.#calls.filter((c) => c.atMs > nowMs);
    for (const arrival of this.#fleet.advance(nowMs)) this.#publish(arrival);
    this.#stations(nowMs);
    await this.#forecasts(nowMs);
  }

  /** Lets water in where somebody recorded a refill in the product. */
  async takePours(nowMs: number): Promise<void> {
    const [login] = this.#technicians;
    if (this.#http === null || login === undefined) return;
    const from = isoSecond(Math.max(this.#startMs, nowMs - 2 * DAY_MS));
    for (const pour of await this.#http.newPours(login, from, isoSecond(nowMs + HOUR_MS))) {
      const found = this.#fleet.potOf(pour.containerId);
      if (found === null) continue;
      const { site, potIndex } = found;
      this.#takenOver.set(site, nowMs + TAKEN_OVER_MS);
      const litres = Math.round(Math.max(0, pour.litres - (this.#filled.get(pour.containerId) ?? 0)) * 10) / 10;
      this.#filled.delete(pour.containerId);
      if (litres === 0) continue;
      this.#fleet.pour(site, { potIndex, atMs: nowMs, by: 'crew', work: 'refill', litres, reportedLitres: litres });
      this.pours++;
      this.#log(`${pour.containerId}: ${litres} L go in, as visit ${pour.visitId} says`);
    }
  }

  /** The fixed calls of a day, for days on which the product has no rounds. */
  #planCalls(nowMs: number): void {
    const { calendar } = this.#fleet.sites[0]!;
    const index = calendar.dayIndex(nowMs);
    const day = calendar.days[index]!;
    if (day === this.#callsFor || nowMs < calendar.dayStartMs[index]! + WAIT_FOR_ROUNDS_HOUR * HOUR_MS) return;
    this.#callsFor = day;
    if (this.#follower?.lastDayWithRounds === day) return;
    const calls = callsOfDay(this.#fleet.sites, Math.max(1, this.#technicians.length), day, this.#plan.seed);
    this.#calls.push(...calls.filter((c) => c.atMs >= this.#startMs && c.atMs > nowMs - HOUR_MS));
  }

  /** What the crews do on the rounds that the product gives them. */
  async #followRounds(nowMs: number): Promise<void> {
    const follower = this.#follower;
    if (follower === null) return;
    const { calendar } = this.#fleet.sites[0]!;
    const index = calendar.dayIndex(nowMs);
    for (const call of await follower.due(nowMs, calendar.days[index]!, calendar.dayStartMs[index]!)) {
      if ((this.#takenOver.get(call.site) ?? 0) > nowMs) continue;
      this.#serve(call.site, call.login, { startedMs: call.startedMs, nowMs, day: call.day }, ROUND_FILLS_BELOW);
    }
  }

  #make(call: PlannedCall, nowMs: number): void {
    const { site, day } = call;
    if ((this.#takenOver.get(site) ?? 0) > nowMs || site.plan.habits.dueFrom < -10) return;
    const login = this.#technicians[call.technician % Math.max(1, this.#technicians.length)];
    this.#serve(site, login ?? null, { startedMs: null, nowMs, day }, FULL_ENOUGH);
  }

  /** Fills what is emptier than a share, and reports it; a stop at which nothing is needed is reported as that. */
  #serve(
    site: SiteWorld,
    login: string | null,
    when: { readonly startedMs: number | null; readonly nowMs: number; readonly day: string },
    fillsBelow: number,
  ): void {
    const { nowMs, day } = when;
    const actions: { containerId: string; work: 'refill'; litres: number | null; exception?: 'not_needed' }[] = [];
    let filled = 0;
    site.simulation.runs.forEach((run, potIndex) => {
      if (fillShare(run) > fillsBelow) return;
      const litres = Math.max(0.5, Math.round((missingLitres(run) + 0.3) * 2) / 2);
      const metered = Math.max(0.5, Math.round(litres * (1 + this.#draw.normal(0, 0.04)) * 2) / 2);
      this.#fleet.pour(site, { potIndex, atMs: nowMs, by: 'crew', work: 'refill', litres, reportedLitres: metered });
      this.pours++;
      filled++;
      actions.push({ containerId: run.spec.id, work: 'refill', litres: metered });
    });
    if (filled === 0 && when.startedMs !== null) {
      const needless = { work: 'refill', litres: null, exception: 'not_needed' } as const;
      actions.push(...site.simulation.runs.map((run) => ({ containerId: run.spec.id, ...needless })));
    }
    if (actions.length === 0 || login === null) return;
    this.#log(`${login} fills ${filled} pots at ${site.plan.name}`);
    void this.#http?.recordVisit(login, `${OWN_VISITS}${site.plan.id}-${day}-${randomUUID().slice(0, 8)}`, {
      siteId: site.plan.id,
      startedAt: isoSecond(when.startedMs ?? nowMs - filled * MINUTES_AT_A_POT * 60_000),
      happenedAt: isoSecond(nowMs - 1000),
      actions,
      note: null,
    });
  }

  #publish({ site, node, readings }: Arrival): void {
    const { gatewayId } = site.plan;
    const nodeId = node.plan.id;
    // Every other node speaks CBOR, as small nodes do.
    const format = Number(nodeId.replace(/\D/g, '')) % 2 === 0 ? 'cbor' : 'json';
    const sorted = [...readings].sort((a, b) => a.timeMs - b.timeMs);
    for (let from = 0; from < sorted.length; from += MOST_READINGS_PER_PACK) {
      const part = sorted.slice(from, from + MOST_READINGS_PER_PACK);
      const pack = readingPack(nodeId, part, node.plan.traits.intervalS);
      if (pack.length === 0) continue;
      this.readings += part.length;
      const topic = `nodes/${nodeId}/readings`;
      if (gatewayId === null) this.#mqtt.publish(nodeId, topic, encodePack(pack, format), `nodes/${nodeId}/state`);
      else this.#mqtt.publish(gatewayId, topic, encodePack(pack, format), null);
    }
  }

  #stations(nowMs: number): void {
    while (this.#lastStationMs + STATION_EVERY_MS <= nowMs) {
      const sinceMs = this.#lastStationMs;
      this.#lastStationMs += STATION_EVERY_MS;
      for (const site of this.#fleet.sites) {
        if (!site.plan.ownStation) continue;
        const id = stationIdOf(site.plan.id);
        const pack = stationPack(id, this.#fleet.stationSample(site, this.#lastStationMs, sinceMs));
        this.#mqtt.publish(id, `sites/${site.plan.id}/weather`, encodePack(pack, 'json'), null);
      }
    }
  }

  /** Each morning the office enters the forecast, and the day before as it was observed. */
  async #forecasts(nowMs: number): Promise<void> {
    const { calendar } = this.#fleet.sites[0]!;
    const today = calendar.dayIndex(nowMs);
    const issuedMs = calendar.dayStartMs[today]! + FORECAST_HOUR * HOUR_MS;
    if (this.#weatherDay >= today || nowMs < issuedMs) return;
    this.#weatherDay = today;
    if (this.#http === null || this.#office === null) return;
    const rows: unknown[] = [];
    for (const site of this.#fleet.sites) {
      const row = (dayIndex: number, day: (typeof site.observed)[number], rainProbability: number | null): unknown => ({
        siteId: site.plan.id,
        day: calendar.days[dayIndex]!,
        tminC: rounded(day.tminC, 1),
        tmaxC: rounded(day.tmaxC, 1),
        humidityFraction: rounded(day.humidityPct / 100, 2),
        windMPerS: rounded(day.windMPerS, 1),
        solarMjPerM2: rounded(day.solarMj, 2),
        rainMm: rounded(day.rainMm, 1),
        et0Mm: null,
        rainProbability: rainProbability === null ? null : rounded(rainProbability, 2),
        issuedAt: rainProbability === null ? null : isoSecond(issuedMs),
      });
      rows.push(row(today - 1, site.observed[today - 1]!, null));
      for (const day of issueForecast(site.observed, site.weather.region.climate, calendar, this.#plan.seed, today)) {
        rows.push(row(day.dayIndex, day, day.rainProbability));
      }
    }
    this.#log(`the forecast of ${calendar.days[today]} is entered for ${this.#fleet.sites.length} sites`);
    for (let from = 0; from < rows.length; from += 500)
      await this.#http.enterWeather(this.#office, rows.slice(from, from + 500));
  }
}

/** Until when a node is asked to report fast, epoch ms; null: it is not. */
function fastUntilOf(payload: string): number | null | 'unreadable' {
  try {
    const { fastUntil } = JSON.parse(payload) as { readonly fastUntil?: unknown };
    if (fastUntil === null || fastUntil === undefined) return null;
    const untilMs = Date.parse(String(fastUntil));
    return Number.isNaN(untilMs) ? 'unreadable' : untilMs;
  } catch {
    return 'unreadable';
  }
}

function rounded(value: number, digits: number): number {
  const factor = 10 ** digits;
  return Math.round(value * factor) / factor;
}
