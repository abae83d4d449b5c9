import type { LocalDay } from '../domain/ids.js';
import { addDays, daysBetween } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { TaskKind } from '../domain/work.js';
import { isNewlyPlanted, plantedDay } from './planting-age.js';
import { PLANTING_WINDOW_DAYS, plantingDue } from './planting-dates.js';
import type { PotSituation, SiteSituation } from './situation.js';
import { isOpen } from './task-life.js';

/** What care asks for: everything of a wanted task but what the catalogue says. */
export interface CareNeed {
  readonly kind: TaskKind;
  readonly reason: readonly Message[];
  readonly litres: number | null;
  /** It has to be done before this day begins; null: within the days that the catalogue gives. */
  readonly beforeDay: LocalDay | null;
}

/**
 * Coated fertilisers bear their life as months at 21 °C; six months is a usual choice (common practice, no source). The
 * release follows the temperature of the soil.
 */
const FEED_LASTS_DAYS = 180;
/** Feeding is proposed when this share is used up, so that it can go with another visit. */
const PROPOSED_AT_SHARE = 0.9;
const KELVIN = 273.15;
const LABEL_C = 21;
/** Joule per mole, the middle of 37-46 kJ/mol: Du, Zhou, Shaviv 2006, J. Polym. Environ., doi 10.1007/s10924-006-0025-4 (abstract). */
const ACTIVATION_J_PER_MOL = 41_500;
const GAS_J_PER_MOL_K = 8.314;

/** Days at 21 °C in which a coated fertiliser releases as much as in one day at `meanC` (Arrhenius). */
export function releaseDaysAt(meanC: number): number {
  const inverse = 1 / (LABEL_C + KELVIN) - 1 / (meanC + KELVIN);
  return Math.exp((ACTIVATION_J_PER_MOL / GAS_J_PER_MOL_K) * inverse);
}

/** A flush from above twice a year or oftener; nothing leaches a closed reservoir (common practice, no source). */
const FLUSH_EVERY_DAYS = 150;
/** Sites that came on record together take their turns over so many days more, all pots of one site at once. */
const FLUSH_TURNS_DAYS = 45;
/** Rain that went through the soil this many times its volume has done it; our judgement, no source. */
const RAIN_FLUSHES_VOLUMES = 1;
/** Water for a flush as a share of the soil's volume; common practice, no source. */
const FLUSH_SHARE = 0.5;
/** Nobody stands with a hose where it may freeze. */
const TOO_COLD_C = 3;

/** Ice takes a tenth more room; a reservoir with less air than this above the water may crack (common practice, no source). */
const HARD_FROST_C = -4;
const FROST_ROOM_SHARE = 0.1;
/** And is drained so far that some of it is left for the plants. */
const FROST_DRAIN_TO_SHARE = 0.8;
const FROST_AHEAD_DAYS = 3;

/** A day's rain that a port has to carry; what stands above a port that does not run drowns the roots. */
const STORM_MM = 30;
const STORM_CHANCE = 0.5;
const STORM_AHEAD_DAYS = 2;
const STORM_DRAIN_TO_SHARE = 0.5;

/** A finding that outlasts somebody's look is no error of the sensor. */
const LOOKED_AT_WITHIN_DAYS = 30;

/** What the care of a pot asks for now, besides what forecasts of its water and findings ask for. */
export function careNeeds(situation: SiteSituation, pot: PotSituation): readonly CareNeed[] {
  return [
    ...feeding(situation, pot),
    ...flush(situation, pot),
    ...commissioning(pot),
    ...frost(situation, pot),
    ...storm(situation, pot),
    ...replanting(situation, pot),
    ...seasonalReplanting(situation, pot),
  ];
}

function isAlreadyAsked(situation: SiteSituation, pot: PotSituation, kind: TaskKind): boolean {
  return situation.tasks.some((task) => task.containerId === pot.container.id && task.kind === kind && isOpen(task));
}

function feeding(situation: SiteSituation, pot: PotSituation): readonly CareNeed[] {
  const { care } = pot;
  if (care === null || care.releaseDays === null) return [];
  const isAsked = isAlreadyAsked(situation, pot, 'feed');
  if (care.releaseDays < FEED_LASTS_DAYS * PROPOSED_AT_SHARE && !isAsked) return [];
  const reason: Message = {
    code: 'task.reason.feed',
    params: { fedDay: care.fedDay, heatDays: Math.round(care.releaseDays), labelDays: FEED_LASTS_DAYS },
  };
  return [{ kind: 'feed', reason: [reason], litres: null, beforeDay: null }];
}

function flush(situation: SiteSituation, pot: PotSituation): readonly CareNeed[] {
  const { care, container } = pot;
  if (care === null || care.rainedLitres === null || container.soil === null) return [];
  const today = situation.days.dayOf(situation.nowMs);
  const sinceDays = daysBetween(care.flushedDay, today);
  if (sinceDays < FLUSH_EVERY_DAYS + turnOf(situation.site.id) * FLUSH_TURNS_DAYS) return [];
  if (care.rainedLitres >= RAIN_FLUSHES_VOLUMES * container.soil.litres) return [];
  const isAsked = isAlreadyAsked(situation, pot, 'flush_salts');
  if (!isAsked && isNewlyPlanted(situation, pot)) return [];
  if (!isAsked && coldest(situation, FROST_AHEAD_DAYS) < TOO_COLD_C) return [];
  const reason: Message = { code: 'task.reason.flush_salts', params: { flushedDay: care.flushedDay, sinceDays } };
  const litres = Math.round(container.soil.litres * FLUSH_SHARE);
  return [{ kind: 'flush_salts', reason: [reason], litres, beforeDay: null }];
}

/** A new pot whose wick has not shown yet that it lifts water, and of which nobody wrote down that it was commissioned. */
function commissioning(pot: PotSituation): readonly CareNeed[] {
  const { care, status, container } = pot;
  if (care === null || care.isCommissioned) return [];
  const knowledge = status?.forecast.knowledge ?? 'no_node';
  if (knowledge !== 'learning' && knowledge !== 'no_node') return [];
  const reason: Message = { code: 'task.reason.commission', params: { installedDay: container.installedOn } };
  return [{ kind: 'commission', reason: [reason], litres: null, beforeDay: null }];
}

function frost(situation: SiteSituation, pot: PotSituation): readonly CareNeed[] {
  const { status } = pot;
  if (status === null || status.litres === null) return [];
  if (status.litres < (1 - FROST_ROOM_SHARE) * status.capacityLitres) return [];
  const today = situation.days.dayOf(situation.nowMs);
  const cold = situation.outlook.find(
    ({ day, tminC }) => day >= today && day <= addDays(today, FROST_AHEAD_DAYS) && (tminC ?? 0) <= HARD_FROST_C,
  );
  if (cold === undefined || cold.tminC === null) return [];
  const reason: Message = { code: 'task.reason.frost', params: { day: cold.day, tminC: cold.tminC } };
  const litres = roundLitres(status.litres - FROST_DRAIN_TO_SHARE * status.capacityLitres);
  return [{ kind: 'drain', reason: [reason], litres, beforeDay: cold.day }];
}

/** Where the port is known not to run, room is made before a storm fills the pot. */
function storm(situation: SiteSituation, pot: PotSituation): readonly CareNeed[] {
  const { status, container } = pot;
  const isBlocked = pot.findings.some(({ kind }) => kind === 'overflow_blocked' || kind === 'overflow_partly_blocked');
  if (!isBlocked || container.covered || status === null || status.litres === null) return [];
  const litres = roundLitres(status.litres - STORM_DRAIN_TO_SHARE * status.capacityLitres);
  if (litres <= 0) return [];
  const today = situation.days.dayOf(situation.nowMs);
  const wet = situation.outlook.find(
    ({ day, rainMm, rainProbability }) =>
      day >= today &&
      day <= addDays(today, STORM_AHEAD_DAYS) &&
      (rainMm ?? 0) >= STORM_MM &&
      (rainProbability ?? 0) >= STORM_CHANCE,
  );
  if (wet === undefined || wet.rainMm === null) return [];
  const reason: Message = { code: 'task.reason.storm', params: { day: wet.day, rainMm: wet.rainMm } };
  return [{ kind: 'drain', reason: [reason], litres, beforeDay: wet.day }];
}

/** Somebody looked, and the plants still do not draw: they are gone. */
function replanting(situation: SiteSituation, pot: PotSituation): readonly CareNeed[] {
  const finding = pot.findings.find(({ kind }) => kind === 'demand_collapsed');
  if (finding === undefined || isNewlyPlanted(situation, pot)) return [];
  const lookedMs = situation.tasks
    .filter(
      (task) =>
        task.containerId === pot.container.id &&
        task.kind === 'inspect' &&
        (task.state === 'done' || task.state === 'verified') &&
        situation.nowMs - task.changedMs < LOOKED_AT_WITHIN_DAYS * 86_400_000,
    )
    .map(({ changedMs }) => changedMs)
    .at(-1);
  const isAsked = isAlreadyAsked(situation, pot, 'replant');
  if (lookedMs === undefined && !isAsked) return [];
  const reason: Message = { code: 'task.reason.replant', params: { openedMs: finding.openedMs } };
  return [{ kind: 'replant', reason: [reason, ...finding.evidence], litres: null, beforeDay: null }];
}

/** What was agreed for the season, unless somebody has planted it of late. */
function seasonalReplanting(situation: SiteSituation, pot: PotSituation): readonly CareNeed[] {
  const { days, nowMs, terms } = situation;
  const planted = [plantedDay(pot), pot.replantedDay ?? ''].sort().at(-1)!;
  const dueDay = plantingDue(terms.replantOn, days.dayOf(nowMs), planted, isAlreadyAsked(situation, pot, 'replant'));
  if (dueDay === null) return [];
  const reason: Message = { code: 'task.reason.replant_season', params: { agreedDay: dueDay } };
  return [{ kind: 'replant', reason: [reason], litres: null, beforeDay: addDays(dueDay, PLANTING_WINDOW_DAYS) }];
}

function coldest(situation: SiteSituation, aheadDays: number): number {
  const today = situation.days.dayOf(situation.nowMs);
  const last = addDays(today, aheadDays);
  const lows = situation.outlook.flatMap(({ day, tminC }) =>
    day >= today && day <= last && tminC !== null ? [tminC] : [],
  );
  return Math.min(Number.POSITIVE_INFINITY, ...lows);
}

/** A number in [0, 1) that is always the same for one id. */
function turnOf(id: string): number {
  let hash = 2166136261;
  for (const letter of id) hash = Math.imul(hash ^ letter.codePointAt(0)!, 16777619);
  return (hash >>> 0) / 2 ** 32;
}

function roundLitres(litres: number): number {
  return Math.round(litres * 10) / 10;
}
