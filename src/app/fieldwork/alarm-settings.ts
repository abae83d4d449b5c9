import { ALARM_KINDS, CATALOGUE, type CatalogueEntry } from '../../alerts/catalogue.js';
import { overrideId, type PointSettings, pointSettings } from '../../alerts/point-settings.js';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { AlarmOverride } from '../../domain/alarm.js';
import { DomainError, type InputFault } from '../../domain/errors.js';
import type { SiteId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import { type App, allowed } from '../context.js';
import { inTurn } from '../turns.js';
import { settleSite } from './alarm-stage.js';

export type { CatalogueEntry } from '../../alerts/catalogue.js';
export type { PointSettings } from '../../alerts/point-settings.js';

/** The rationalised catalogue: why each alarm exists, what to do about it and by when, and how it behaves. */
export function alarmCatalogue(who: Principal): readonly CatalogueEntry[] {
  allowed(who, 'alarms.read');
  return ALARM_KINDS.map((kind) => CATALOGUE[kind]);
}

/** What sites and containers want otherwise than the catalogue, every change as it was made, oldest first. */
export async function alarmOverrides(
  app: App,
  who: Principal,
  query: { readonly siteId: SiteId | null },
): Promise<readonly AlarmOverride[]> {
  return app.store.work.alarmOverrides(allowed(who, 'alarms.read'), query.siteId);
}

/** An override as a person asks for it; with all numbers null it is taken back. */
export type OverrideInput = Omit<AlarmOverride, 'id' | 'changedMs' | 'changedBy'>;

const LONGEST_DELAY_MS = 7 * DAY_MS;
const WIDEST_DEADBAND_HOURS = 7 * 24;

/**
 * Changes how an alarm behaves at a site or a container; the change is kept with who made it and why.
 * @returns how the alarm behaves there now
 * @throws DomainError `invalid_input` with a fault for each field, `not_found` for a place that is not there
 */
export async function overrideAlarm(app: App, who: Principal, input: OverrideInput): Promise<PointSettings> {
  allowed(who, 'alarms.act');
  const faults = faultsOf(input);
  if (faults.length > 0) throw new DomainError('invalid_input', 'The alarm cannot behave like that.', { faults });
  await requirePlace(app, input);
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const row: AlarmOverride = {
      ...input,
      id: overrideId(input.kind, input.containerId ?? input.siteId),
      changedMs: nowMs,
      changedBy: who.personId,
    };
    await app.store.commit({
      atMs: nowMs,
      actor: { kind: 'person', id: who.personId },
      writes: [{ kind: 'alarm_override', row }],
      cursor: null,
    });
    await settleSite(app, input.siteId);
    const overrides = await app.store.work.alarmOverrides(WHOLE_FLEET, input.siteId);
    return pointSettings(overrides, input.kind, input.containerId);
  });
}

function faultsOf(input: OverrideInput): readonly InputFault[] {
  const faults: InputFault[] = [];
  const within = (name: keyof OverrideInput, value: number | null, least: number, most: number): void => {
    if (value === null || (value >= least && value <= most)) return;
    faults.push({ pointer: `/${name}`, detail: `expected ${least} to ${most}, found ${value}` });
  };
  within('onDelayMs', input.onDelayMs, 0, LONGEST_DELAY_MS);
  within('offDelayMs', input.offDelayMs, 0, LONGEST_DELAY_MS);
  within('reAlarmAfterMs', input.reAlarmAfterMs, 60_000, 30 * DAY_MS);
  within('deadbandHours', input.deadbandHours, 0, WIDEST_DEADBAND_HOURS);
  if (input.reason.trim() === '') faults.push({ pointer: '/reason', detail: 'say why, in a few words' });
  if (input.kind === 'outage' && input.containerId !== null) {
    faults.push({ pointer: '/containerId', detail: 'an outage is about a site and not about one pot' });
  }
  return faults;
}

async function requirePlace(app: App, { siteId, containerId }: OverrideInput): Promise<void> {
  if ((await app.store.registry.site(WHOLE_FLEET, siteId)) === null) {
    throw new DomainError('not_found', `There is no site ${siteId}.`);
  }
  if (containerId === null) return;
  const container = await app.store.registry.container(WHOLE_FLEET, containerId);
  if (container === null || container.siteId !== siteId) {
    throw new DomainError('not_found', `There is no container ${containerId} at site ${siteId}.`);
  }
}
