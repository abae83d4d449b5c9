import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { PotStatus } from '../domain/pot.js';
import type { PotSituation, SiteSituation } from './situation.js';

const DAY_MS = 86_400_000;

/** What a pot's forecast asks for. */
export interface RefillNeed {
  readonly dueFromMs: EpochMs;
  readonly dueByMs: EpochMs;
  readonly litres: number;
  readonly reason: readonly Message[];
  readonly dryNow: boolean;
}

/** Within this of the wick foot the wick draws next to nothing. */
const DRY_WITHIN_MM = 1;
/** A pot that was dry is so until its level stands this far above the foot: at the foot it hovers within its noise. */
const WET_ABOVE_MM = 4;

/**
 * True where the water stands at the wick foot, or, unseen, by the middle of the forecast.
 * @param wasDry it has been called dry, and takes more than noise to be called wet again
 */
export function isDryNow(pot: PotSituation, nowMs: EpochMs, wasDry: boolean): boolean {
  const { status } = pot;
  if (status === null) return false;
  const { knowledge, dry } = status.forecast;
  const seen = knowledge === 'known' || knowledge === 'learning';
  if (seen && status.levelMm !== null) {
    return status.levelMm <= pot.container.reservoir.wickFootMm + (wasDry ? WET_ABOVE_MM : DRY_WITHIN_MM);
  }
  return dry !== null && dry.p50Ms !== null && dry.p50Ms <= nowMs;
}

/** The pot's dry alarm says that it is dry, and not merely that it may soon be. */
export function hasBeenDry(situation: Pick<SiteSituation, 'alarms'>, pot: PotSituation): boolean {
  return situation.alarms.some(
    (alarm) =>
      alarm.kind === 'dry' &&
      alarm.containerId === pot.container.id &&
      alarm.conditionActive &&
      alarm.message.code !== 'alarm.dry.decide',
  );
}

/**
 * When the pot has to have been seen to: the instant before which it is dry with a chance of one in ten; null where
 * that is not known or lies past the horizon. A pot nobody hears from keeps the last p10 that was known.
 */
export function drySoonestMs(status: PotStatus | null): EpochMs | null {
  return status?.forecast.dry?.p10Ms ?? null;
}

/**
 * Works out the refill that a pot's forecast asks for: litres up to the overflow less what is there when it is due.
 * @returns null where nothing is known that could ask for one
 */
export function refillNeed(pot: PotSituation, nowMs: EpochMs, wasDry: boolean): RefillNeed | null {
  const { status } = pot;
  if (status === null) return null;
  const dryNow = isDryNow(pot, nowMs, wasDry);
  const soonestMs = drySoonestMs(status);
  if (soonestMs === null && !dryNow) return null;
  const dueByMs = soonestMs ?? nowMs;
  return {
    dueFromMs: Math.min(dueByMs, worthGoingFromMs(status, nowMs)),
    dueByMs,
    litres: litresToFill(status, Math.max(nowMs, dueByMs)),
    reason: reasons(pot, status, dryNow),
    dryNow,
  };
}

/** Litres from what will be there at `atMs` up to the overflow invert, at the rate expected now. */
export function litresToFill(status: PotStatus, atMs: EpochMs): number {
  const { capacityLitres, deadLitres, forecast } = status;
  const litresNow = status.litres ?? forecast.litres;
  if (litresNow === null) return Math.max(0, capacityLitres - deadLitres);
  const days = Math.max(0, atMs - forecast.originMs) / DAY_MS;
  const drawn = (forecast.rateLitresPerDay ?? 0) * days;
  // Below the wick foot nothing draws; a pot that is drier already stays as it is.
  const floor = Math.min(deadLitres, litresNow);
  const left = Math.max(floor, litresNow - drawn);
  return Math.max(0, capacityLitres - left);
}

/** With less room than this share of what the pot can use, a visit would change next to nothing. */
const LEAST_ROOM_SHARE = 0.25;

/**
 * Whether somebody who goes now can pour in enough to matter. A pot too small for the days until the next round is dry
 * before it however full it was left: that is a matter of its size, and nobody's to answer today.
 */
export function isWorthGoing(status: PotStatus): boolean {
  const { capacityLitres, deadLitres, forecast } = status;
  const litresNow = status.litres ?? forecast.litres;
  return litresNow === null || capacityLitres - litresNow >= LEAST_ROOM_SHARE * (capacityLitres - deadLitres);
}

/** From when on a visit moves at least half of what the pot can use; before it, the way is longer than the work. */
function worthGoingFromMs(status: PotStatus, nowMs: EpochMs): EpochMs {
  const { capacityLitres, deadLitres, forecast } = status;
  const litresNow = status.litres ?? forecast.litres;
  const rate = forecast.rateLitresPerDay;
  if (litresNow === null || rate === null || rate <= 0) return nowMs;
  const half = deadLitres + (capacityLitres - deadLitres) / 2;
  if (litresNow <= half) return nowMs;
  return Math.round(nowMs + ((litresNow - half) / rate) * DAY_MS);
}

function reasons(pot: PotSituation, status: PotStatus, dryNow: boolean): readonly Message[] {
  const { forecast } = status;
  const quantiles = {
    dryP10Ms: forecast.dry?.p10Ms ?? null,
    dryP50Ms: forecast.dry?.p50Ms ?? null,
    dryP90Ms: forecast.dry?.p90Ms ?? null,
  };
  const unheard = forecast.knowledge === 'silent' || forecast.knowledge === 'sensor_fault';
  const list: Message[] = [];
  if (unheard) {
    list.push({ code: 'task.reason.refill_unheard', params: { lastReadingMs: status.lastReadingMs, ...quantiles } });
    return list;
  }
  if (dryNow) {
    list.push({
      code: 'task.reason.refill_dry',
      params: { levelMm: status.levelMm, wickFootMm: pot.container.reservoir.wickFootMm },
    });
    return list;
  }
  const leftLitres = status.litres === null ? null : Math.max(0, status.litres - status.deadLitres);
  list.push({
    code: 'task.reason.refill',
    params: { rateLitresPerDay: forecast.rateLitresPerDay, leftLitres, ...quantiles },
  });
  if (forecast.knowledge === 'learning') {
    list.push({ code: 'task.reason.refill_learning', params: { dataDays: forecast.dataDays } });
  }
  return list;
}
