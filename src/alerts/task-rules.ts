import type { ContainerId, EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Finding } from '../domain/pot.js';
import type { TextCode } from '../domain/texts/en/index.js';
import type { Task, TaskKind, TaskOrigin } from '../domain/work.js';
import { careNeeds } from './care-rules.js';
import { answerTo, type FindingAnswer, findingReasons } from './finding-tasks.js';
import { isPartOfOutage, type Outage, outageOf, outagesOf } from './outages.js';
import { isNewlyPlanted } from './planting-age.js';
import { hasBeenDry, type RefillNeed, refillNeed } from './refill-rules.js';
import { compare, type PotSituation, type SiteSituation } from './situation.js';
import { minutesFor, TASK_CATALOGUE } from './task-catalogue.js';
import { isOpen } from './task-life.js';
import { decisionHorizonMs } from './work-calendar.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

/** A refill is proposed this long before the pot may be dry, so that rounds can be made with it in view. */
const REFILL_LEAD_MS = 3 * DAY_MS;
/** And a day beyond the decision that is next. */
const BEYOND_DECISION_MS = DAY_MS;
/** An open refill stays until the forecast is this much further off: forecasts waver. */
const REFILL_KEEP_MS = DAY_MS;
/** Lifting: what one person lifts at most under the best circumstances, NIOSH revised lifting equation (load constant). */
const LIFT_ALONE_KG = 23;

/** A task as the situation asks for it, whether it exists or not. */
export interface WantedTask {
  readonly containerId: ContainerId;
  readonly kind: TaskKind;
  readonly origin: TaskOrigin;
  readonly reason: readonly Message[];
  readonly findingId: string | null;
  readonly litres: number | null;
  readonly minutes: number;
  readonly dueFromMs: EpochMs;
  readonly dueByMs: EpochMs;
  readonly cautions: readonly TextCode[];
}

/** The tasks that the site's forecasts and findings ask for now: at most one of a kind at a pot. */
export function wantedTasks(situation: SiteSituation): readonly WantedTask[] {
  const outages = outagesOf(situation);
  return situation.pots.flatMap((pot) =>
    merged([
      ...refillWanted(situation, pot),
      ...findingsWanted(situation, pot, outageOf(outages, pot)),
      ...careWanted(situation, pot),
    ]),
  );
}

/** Two reasons for one kind of work at one pot are one task, due by the earlier. */
function merged(wanted: readonly WantedTask[]): readonly WantedTask[] {
  const byKind = new Map<TaskKind, WantedTask>();
  for (const want of wanted) {
    const known = byKind.get(want.kind);
    byKind.set(
      want.kind,
      known === undefined
        ? want
        : {
            ...known,
            reason: [...known.reason, ...want.reason],
            litres: known.litres ?? want.litres,
            dueFromMs: Math.min(known.dueFromMs, want.dueFromMs),
            dueByMs: Math.min(known.dueByMs, want.dueByMs),
          },
    );
  }
  return [...byKind.values()];
}

function careWanted(situation: SiteSituation, pot: PotSituation): readonly WantedTask[] {
  return careNeeds(situation, pot).map(({ kind, reason, litres, beforeDay }) => {
    const askedMs = askedSinceMs(situation, pot, kind);
    const withinMs = askedMs + TASK_CATALOGUE[kind].withinDays * DAY_MS;
    return {
      containerId: pot.container.id,
      kind,
      origin: 'forecast',
      reason,
      findingId: null,
      litres,
      minutes: minutesFor(kind, litres),
      dueFromMs: askedMs,
      dueByMs: beforeDay === null ? withinMs : Math.max(askedMs, situation.days.startMs(beforeDay)),
      cautions: cautionsFor(situation, pot, kind),
    };
  });
}

function refillWanted(situation: SiteSituation, pot: PotSituation): readonly WantedTask[] {
  const need = refillNeed(pot, situation.nowMs, hasBeenDry(situation, pot));
  if (need === null) return [];
  const open = situation.tasks.some(
    (task) => task.containerId === pot.container.id && task.kind === 'refill' && isOpen(task),
  );
  if (!open && rainWillDo(pot, need)) return [];
  if (!need.dryNow && need.dueByMs > refillHorizonMs(situation) + (open ? REFILL_KEEP_MS : 0)) return [];
  return [refillTask(situation, pot, need)];
}

/** Share of a refill that rain has to bring for nobody to go for the rest. */
const RAIN_WORTH = 0.5;

/**
 * Likely rain before the pot's middle dry date holds a refill back; the dry alarm, which goes by the early one, stays.
 * A pot that is dry waits for nothing.
 */
function rainWillDo(pot: PotSituation, need: RefillNeed): boolean {
  const rain = pot.rainToCome;
  const dryP50Ms = pot.status?.forecast.dry?.p50Ms ?? null;
  if (rain === null || need.dryNow || dryP50Ms === null) return false;
  return rain.byMs <= dryP50Ms && rain.litres >= RAIN_WORTH * need.litres;
}

/** Refills that fall due before this are proposed. */
export function refillHorizonMs(situation: Pick<SiteSituation, 'calendar' | 'days' | 'nowMs'>): EpochMs {
  const decisionMs = decisionHorizonMs(situation.calendar, situation.days, situation.nowMs);
  return Math.max(situation.nowMs + REFILL_LEAD_MS, (decisionMs ?? situation.nowMs) + BEYOND_DECISION_MS);
}

function refillTask(situation: SiteSituation, pot: PotSituation, need: RefillNeed): WantedTask {
  const litres = Math.round(need.litres * 10) / 10;
  return {
    containerId: pot.container.id,
    kind: 'refill',
    origin: 'forecast',
    reason: need.reason,
    findingId: null,
    litres,
    minutes: minutesFor('refill', litres),
    dueFromMs: need.dueFromMs,
    dueByMs: need.dueByMs,
    cautions: cautionsFor(situation, pot, 'refill'),
  };
}

function findingsWanted(situation: SiteSituation, pot: PotSituation, outage: Outage | null): readonly WantedTask[] {
  const byKind = new Map<TaskKind, { finding: Finding; answer: FindingAnswer }[]>();
  for (const finding of [...pot.findings].sort((a, b) => a.openedMs - b.openedMs || compare(a.id, b.id))) {
    const answer = answerTo(finding);
    if (answer === null || waitsForRoots(situation, pot, finding)) continue;
    const list = byKind.get(answer.task) ?? [];
    list.push({ finding, answer });
    byKind.set(answer.task, list);
  }
  const wanted: WantedTask[] = [];
  for (const [kind, list] of byKind) {
    const first = list[0]!.finding;
    let reason = list.flatMap(({ finding, answer }) => findingReasons(finding, answer));
    if (kind === 'recover_node' && outage === null && isPartOfOutage(situation, [], pot)) continue;
    if (kind === 'recover_node' && outage !== null) {
      // One person goes to the gateway once, and not to every pot behind it.
      if (outage.pots[0]!.container.id !== pot.container.id) continue;
      reason = [
        {
          code: 'task.reason.outage',
          params: { gatewayId: outage.gatewayId, pots: outage.pots.length, sinceMs: outage.sinceMs },
        },
      ];
    }
    const askedMs = askedSinceMs(situation, pot, kind);
    wanted.push({
      containerId: pot.container.id,
      kind,
      origin: 'finding',
      reason,
      findingId: first.id,
      litres: null,
      minutes: minutesFor(kind, null),
      dueFromMs: askedMs,
      dueByMs: askedMs + TASK_CATALOGUE[kind].withinDays * DAY_MS,
      cautions: cautionsFor(situation, pot, kind),
    });
  }
  return wanted;
}

/** Since when somebody could have gone: a finding of a history that was read in is old, and its task is not. */
function askedSinceMs(situation: SiteSituation, pot: PotSituation, kind: TaskKind): EpochMs {
  const open = situation.tasks.find(
    (task) => task.containerId === pot.container.id && task.kind === kind && isOpen(task),
  );
  return open?.createdMs ?? situation.nowMs;
}

function waitsForRoots(situation: SiteSituation, pot: PotSituation, finding: Finding): boolean {
  return (finding.kind === 'wick_failed' || finding.kind === 'demand_collapsed') && isNewlyPlanted(situation, pot);
}

/** Wet weight: pot, soil at about 0.9 kg/L when wet, and the water; above what one lifts alone the work says so. */
const WET_SOIL_KG_PER_LITRE = 0.9;

export function cautionsFor(
  situation: Pick<SiteSituation, 'site'>,
  pot: PotSituation,
  kind: TaskKind,
): readonly TextCode[] {
  const { potKg, soil } = pot.container;
  const wetKg = (potKg ?? 0) + (soil?.litres ?? 0) * WET_SOIL_KG_PER_LITRE + (pot.status?.litres ?? 0);
  const moved = kind === 'replant' || kind === 'repack_wick' || kind === 'find_leak';
  return TASK_CATALOGUE[kind].cautions.filter((caution) => {
    // A backflow preventer belongs on a tap's line; where there is none, the truck's tank is filled elsewhere.
    if (caution === 'caution.backflow') return situation.site.tap;
    if (caution === 'caution.lifting') return moved && (wetKg === 0 || wetKg > LIFT_ALONE_KG);
    return true;
  });
}

/** What nobody wants any more: why, as far as the pot's own record tells. */
export function mootBecause(situation: SiteSituation, task: Task): Message {
  const pot = situation.pots.find((candidate) => candidate.container.id === task.containerId);
  if (pot === undefined) return { code: 'task.moot.pot_gone', params: {} };
  if (task.kind === 'refill') {
    const gains = pot.recentEvents
      .filter((event) => event.endMs >= task.createdMs - HOUR_MS)
      .sort((a, b) => b.litres - a.litres);
    const rainLitres = sum(gains.filter((event) => event.kind === 'rain').map((event) => event.litres));
    const refill = gains.find((event) => event.kind === 'refill');
    if (refill !== undefined && refill.litres >= rainLitres) {
      return { code: 'task.moot.unknown_hand', params: { gainedLitres: refill.litres, atMs: refill.startMs } };
    }
    if (rainLitres > 0) return { code: 'task.moot.rain', params: { rainLitres } };
    return { code: 'task.moot.forecast', params: { dryP10Ms: pot.status?.forecast.dry?.p10Ms ?? null } };
  }
  if (task.kind === 'recover_node' && outagesOf(situation).length > 0) return { code: 'task.moot.outage', params: {} };
  return { code: 'task.moot.finding_closed', params: {} };
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
