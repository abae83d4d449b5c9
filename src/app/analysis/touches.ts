import type { Change } from '../../domain/change-set.js';
import type { ContainerId, EpochMs, SiteId } from '../../domain/ids.js';
import { eventStartMs } from './pot-inputs.js';

/** What happened to the inputs of one pot. */
export interface Touch {
  readonly containerId: ContainerId;
  /** The latest line of the log that speaks of it. */
  lastSeq: number;
  /** Begin again from here, with everything that the store holds; null: it is enough to take what arrived. */
  restartFromMs: EpochMs | null;
  /** Readings that arrived, as spans. */
  readonly readings: { readonly fromMs: EpochMs; readonly toMs: EpochMs }[];
  readonly weather: { readonly fromMs: EpochMs; readonly toMs: EpochMs }[];
  readonly visits: { readonly fromMs: EpochMs; readonly toMs: EpochMs }[];
}

export interface Touches {
  readonly pots: ReadonlyMap<ContainerId, Touch>;
  /** Sites whose outlook or observations changed. */
  readonly weatherSites: ReadonlySet<SiteId>;
  readonly calibration: boolean;
}

const REGISTRY_KINDS: ReadonlySet<Change['kind']> = new Set([
  'account',
  'site',
  'container',
  'gateway',
  'node',
  'assignment',
  'assignment_removed',
]);

/** The registry is not what it was when it was last read. */
export function touchesRegistry(changes: readonly Change[]): boolean {
  return changes.some((change) => REGISTRY_KINDS.has(change.kind));
}

/**
 * Finds the pots that lines of the change log touch. Pots of a site whose weather or row changed are added by it.
 * @param sharersOfSite sites that a site's weather stands in for
 */
export function touchesOf(
  changes: readonly Change[],
  containersOfSite: (siteId: SiteId) => readonly ContainerId[],
  sharersOfSite: (siteId: SiteId) => readonly SiteId[],
): Touches {
  const pots = new Map<ContainerId, Touch>();
  const weatherSites = new Set<SiteId>();
  const touch = (containerId: ContainerId, seq: number): Touch => {
    const known = pots.get(containerId) ?? {
      containerId,
      lastSeq: seq,
      restartFromMs: null,
      readings: [],
      weather: [],
      visits: [],
    };
    known.lastSeq = Math.max(known.lastSeq, seq);
    pots.set(containerId, known);
    return known;
  };
  const restart = (containerId: ContainerId, seq: number, fromMs: EpochMs): void => {
    const known = touch(containerId, seq);
    known.restartFromMs = Math.min(known.restartFromMs ?? fromMs, fromMs);
  };
  for (const change of changes) {
    const { containerId, siteId, seq } = change;
    const span = { fromMs: change.fromMs ?? 0, toMs: change.toMs ?? change.fromMs ?? 0 };
    switch (change.kind) {
      case 'readings':
        if (containerId !== null) touch(containerId, seq).readings.push(span);
        break;
      case 'visit':
        if (containerId !== null) touch(containerId, seq).visits.push(span);
        break;
      case 'assignment':
      case 'assignment_removed':
        if (containerId !== null) restart(containerId, seq, span.fromMs);
        break;
      case 'container':
        if (containerId !== null) restart(containerId, seq, 0);
        break;
      case 'node':
        if (containerId !== null) touch(containerId, seq);
        break;
      case 'event_correction':
        if (containerId !== null) restart(containerId, seq, change.fromMs ?? eventStartMs(change.key));
        break;
      case 'site':
        if (siteId !== null) for (const id of containersOfSite(siteId)) restart(id, seq, 0);
        break;
      case 'weather_days':
        if (siteId === null) break;
        for (const reached of [siteId, ...sharersOfSite(siteId)]) {
          weatherSites.add(reached);
          for (const id of containersOfSite(reached)) touch(id, seq).weather.push(span);
        }
        break;
      default:
        break;
    }
  }
  return {
    pots,
    weatherSites,
    calibration: changes.some((change) => change.kind === 'calibration'),
  };
}
