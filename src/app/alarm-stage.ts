import { reconcileSite } from '../alerts/reconcile-site.js';
import { WHOLE_FLEET } from '../domain/access.js';
import type { Change, ChangeSet, Write, WriteKind } from '../domain/change-set.js';
import type { EpochMs, SiteId } from '../domain/ids.js';
import type { App } from './context.js';
import { type RegistryRows, registryRows, viewOfRows } from './fleet-view.js';
import { loadSituations } from './site-situation.js';
import { breathe, inTurn } from './turns.js';

export const ALARM_STAGE = 'alarms';

const STAGE_ACTOR = { kind: 'stage', id: ALARM_STAGE } as const;

/** Lines of the change log taken at once. */
const PAGE = 1000;

/** What alarms, tasks and alerts depend on; all else in the log is passed over. */
const WATCHED: ReadonlySet<WriteKind> = new Set([
  'site',
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
 */
export async function settleSite(app: App, siteId: SiteId): Promise<void> {
  const nowMs = app.clock.nowMs();
  const writes = await reconcileSites(app, new Set([siteId]), nowMs);
  if (writes.length > 0) await app.store.commit(changeSet(nowMs, writes, null));
}

async function reconcileSites(app: App, sites: ReadonlySet<SiteId> | null, nowMs: EpochMs): Promise<readonly Write[]> {
  const writes: Write[] = [];
  const fleet = viewOfRows(await knownRegistry(app), nowMs);
  for (const situation of await loadSituations(app.store, fleet, sites, nowMs)) {
    const changes = reconcileSite(situation);
    for (const effect of changes.effects) app.log.debug({ ...effect, siteId: situation.site.id }, 'alarm');
    writes.push(...changes.writes);
    await breathe();
  }
  return writes;
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
