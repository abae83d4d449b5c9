import {
  CREW_ALARM_ID,
  CREW_TOPIC,
  type CrewRoom,
  reconcileCrew,
  type UndecidedPot,
  undecidedPots,
} from '../../alerts/crew-room.js';
import { reconcileSite } from '../../alerts/reconcile-site.js';
import type { SiteSituation } from '../../alerts/situation.js';
import { SUPPRESSED_BY } from '../../alerts/suppression.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Change, ChangeSet, Write, WriteKind } from '../../domain/change-set.js';
import type { EpochMs, SiteId } from '../../domain/ids.js';
import type { App } from '../context.js';
import { type FleetView, type RegistryRows, registryRows, viewOfRows } from '../fleet-view.js';
import { breathe, inTurn } from '../turns.js';
import { loadSituations } from './site-situation.js';

export const ALARM_STAGE = 'alarms';

const STAGE_ACTOR = { kind: 'stage', id: ALARM_STAGE } as const;

/** Lines of the change log taken at once. */
const PAGE = 1000;

/** What alarms, tasks and alerts depend on; all else in the log is passed over. */
const WATCHED: ReadonlySet<WriteKind> = new Set([
  'site',
  'site_terms',
  'container',
  'assignment',
  'assignment_removed',
  'status',
  'finding',
  'alarm',
  'alarm_override',
  'task',
  'round_stop',
  'visit',
  'visit_verification',
]);

/** When the crew works bears on every site. */
const CREW_KINDS: ReadonlySet<WriteKind> = new Set(['crew_terms', 'absence']);

const REGISTRY_KINDS: ReadonlySet<WriteKind> = new Set([
  'account',
  'site',
  'container',
  'gateway',
  'node',
  'assignment',
  'assignment_removed',
]);

export interface AlarmStageResult {
  /** Lines of the change log that were dealt with; zero: nothing was waiting. */
  readonly changes: number;
  readonly sites: number;
  readonly writes: number;
}

/**
 * Takes the next lines of the change log and brings alarms, tasks and alerts of the sites they touch up to date, in the
 * one transaction that moves the stage's cursor: each line takes effect once, also across a crash.
 */
export function runAlarmStage(app: App): Promise<AlarmStageResult> {
  return inTurn(app.store, async () => {
    const expectedSeq = await app.store.changes.cursor(ALARM_STAGE);
    const changes = await app.store.changes.after(expectedSeq, PAGE);
    const last = changes.at(-1);
    if (last === undefined) return { changes: 0, sites: 0, writes: 0 };
    const sites = touchedSites(changes);
    const nowMs = app.clock.nowMs();
    const everywhere = changes.some((change) => CREW_KINDS.has(change.kind));
    const writes = sites.size === 0 && !everywhere ? [] : await reconcileSites(app, everywhere ? null : sites, nowMs);
    await app.store.commit(changeSet(nowMs, writes, { stage: ALARM_STAGE, expectedSeq, nextSeq: last.seq }));
    return { changes: changes.length, sites: sites.size, writes: writes.length };
  });
}

/**
 * Looks at every site because time went by: shelving ends, a decision falls due, a day is over. Writes nothing where
 * nothing has to change.
 */
export function reviewAllSites(app: App): Promise<number> {
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const writes = await reconcileSites(app, null, nowMs);
    if (writes.length > 0) await app.store.commit(changeSet(nowMs, writes, null));
    return writes.length;
  });
}

/**
 * Brings one site up to date after a person's act, so that the answer already shows what follows from it. To be called
 * within a turn; were it lost in a crash, the stage would do the same.
 * @param siteId null: what is about the crew alone
 */
export async function settleSite(app: App, siteId: SiteId | null): Promise<void> {
  const nowMs = app.clock.nowMs();
  const writes = await reconcileSites(app, new Set(siteId === null ? [] : [siteId]), nowMs);
  if (writes.length > 0) await app.store.commit(changeSet(nowMs, writes, null));
}

async function reconcileSites(app: App, sites: ReadonlySet<SiteId> | null, nowMs: EpochMs): Promise<readonly Write[]> {
  const writes: Write[] = [];
  const fleet = viewOfRows(await knownRegistry(app), nowMs);
  const situations = await loadSituations(app.store, fleet, sites, nowMs);
  const crew = await crewRoom(app, fleet, situations, nowMs);
  writes.push(...crew.writes);
  for (const situation of situations) {
    const changes = reconcileSite({ ...situation, crewIsFull: crew.isFull });
    for (const effect of changes.effects) app.log.debug({ ...effect, siteId: situation.site.id }, 'alarm');
    writes.push(...changes.writes);
    await breathe();
  }
  return writes;
}

/** How many pots of the fleet are undecided: those of the sites at hand as they stand now, the others as last seen. */
async function crewRoom(
  app: App,
  fleet: FleetView,
  situations: readonly SiteSituation[],
  nowMs: EpochMs,
): Promise<CrewRoom> {
  const { work, people } = app.store;
  const [standing, alarm, alerts, everybody] = await Promise.all([
    work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: null }),
    work.alarm(WHOLE_FLEET, CREW_ALARM_ID),
    work.standingAlerts(CREW_TOPIC),
    people.people(),
  ]);
  const atHand = new Set(situations.map(({ site }) => site.id));
  const elsewhere = standing.flatMap((one): UndecidedPot[] => {
    const container = one.containerId === null ? undefined : fleet.containers.get(one.containerId);
    const soonestMs = one.message.params.dryP10Ms;
    const isUndecided =
      one.conditionActive && (one.message.code === 'alarm.dry.decide' || one.heldBy === SUPPRESSED_BY.crewFull);
    if (!isUndecided || container === undefined || typeof soonestMs !== 'number' || atHand.has(container.siteId))
      return [];
    const site = fleet.sites.get(container.siteId)?.name ?? container.siteId;
    return [{ containerId: container.id, pot: container.name, site, soonestMs }];
  });
  const dispatchers = everybody
    .filter(({ role, disabledAtMs }) => role === 'dispatcher' && disabledAtMs === null)
    .map(({ id }) => id);
  return reconcileCrew([...situations.flatMap(undecidedPots), ...elsewhere], alarm, alerts, dispatchers, nowMs);
}

/** The registry as last read, for each store, and up to which line of the log it is current. */
const registries = new WeakMap<object, { readonly rows: RegistryRows; readonly seq: number }>();

/** The registry changes rarely, and is large: it is read again only where the log says that it changed. */
async function knownRegistry(app: App): Promise<RegistryRows> {
  const { changes } = app.store;
  const known = registries.get(app.store);
  const seq = await changes.lastSeq();
  if (known !== undefined) {
    const since = seq - known.seq > PAGE ? null : await changes.after(known.seq, PAGE);
    if (since !== null && !since.some((change) => REGISTRY_KINDS.has(change.kind))) {
      registries.set(app.store, { rows: known.rows, seq: Math.max(known.seq, since.at(-1)?.seq ?? known.seq) });
      return known.rows;
    }
  }
  const rows = await registryRows(app.store, WHOLE_FLEET);
  registries.set(app.store, { rows, seq });
  return rows;
}

function touchedSites(changes: readonly Change[]): ReadonlySet<SiteId> {
  const sites = new Set<SiteId>();
  for (const change of changes) {
    const own = change.actor.kind === 'stage' && change.actor.id === ALARM_STAGE;
    if (!own && change.siteId !== null && WATCHED.has(change.kind)) sites.add(change.siteId);
  }
  return sites;
}

function changeSet(atMs: EpochMs, writes: readonly Write[], cursor: ChangeSet['cursor']): ChangeSet {
  return { atMs, actor: STAGE_ACTOR, writes, cursor };
}
