import type { AlarmKind, AlarmOverride, AlarmPriority } from '../domain/alarm.js';
import type { ContainerId } from '../domain/ids.js';
import type { AlarmSettings } from './alarm-life.js';
import { CATALOGUE } from './catalogue.js';

/** How one alarm point behaves: the catalogue, what its site wants otherwise, and what its container does. */
export interface PointSettings {
  readonly settings: AlarmSettings;
  readonly priority: AlarmPriority;
  readonly priorityIsOverridden: boolean;
  readonly deadbandHours: number;
}

/**
 * @param overrides of the point's site, oldest first; the last of an id counts
 * @param containerId null for an alarm that is about no single pot
 */
export function pointSettings(
  overrides: readonly AlarmOverride[],
  kind: AlarmKind,
  containerId: ContainerId | null,
): PointSettings {
  const entry = CATALOGUE[kind];
  const ofSite = lastOf(overrides, kind, null);
  const ofPot = containerId === null ? null : lastOf(overrides, kind, containerId);
  const priority = ofPot?.priority ?? ofSite?.priority ?? null;
  return {
    settings: {
      ...entry.settings,
      onDelayMs: ofPot?.onDelayMs ?? ofSite?.onDelayMs ?? entry.settings.onDelayMs,
      offDelayMs: ofPot?.offDelayMs ?? ofSite?.offDelayMs ?? entry.settings.offDelayMs,
      reAlarmAfterMs: ofPot?.reAlarmAfterMs ?? ofSite?.reAlarmAfterMs ?? entry.settings.reAlarmAfterMs,
    },
    priority: priority ?? entry.priority,
    priorityIsOverridden: priority !== null,
    deadbandHours: ofPot?.deadbandHours ?? ofSite?.deadbandHours ?? entry.deadband?.value ?? 0,
  };
}

/** The id of a site's or a container's override of a kind. */
export function overrideId(kind: AlarmKind, subjectId: string): string {
  return `${kind}:${subjectId}`;
}

function lastOf(
  overrides: readonly AlarmOverride[],
  kind: AlarmKind,
  containerId: ContainerId | null,
): AlarmOverride | null {
  return overrides.findLast((one) => one.kind === kind && one.containerId === containerId) ?? null;
}
