import { HOUR_MS } from '../calendar.js';
import type { SiteWorld } from '../fleet/world.js';
import { Draw } from '../rng.js';

export interface PlannedCall {
  readonly site: SiteWorld;
  readonly atMs: number;
  readonly technician: number;
  readonly day: string;
}

const FIRST_CALL_HOUR = 7.4;
const HOURS_BETWEEN_CALLS = 1.15;

/**
 * The fixed rounds of the simulated crews: every site twice a week, on its own two weekdays (Monday to Saturday), in an
 * order that does not change. They keep gardens alive on days on which the product gives nobody a round.
 */
export function callsOfDay(sites: readonly SiteWorld[], technicians: number, day: string, seed: string): PlannedCall[] {
  const weekday = (new Date(`${day}T12:00:00Z`).getUTCDay() + 6) % 7;
  if (weekday > 5 || technicians === 0) return [];
  const calls: PlannedCall[] = [];
  const perTechnician = new Array<number>(technicians).fill(0);
  sites.forEach((site, index) => {
    if (index % 3 !== weekday % 3) return;
    const technician = Math.floor(index / 3) % technicians;
    const place = perTechnician[technician]!++;
    const dayIndex = site.calendar.days.indexOf(day);
    if (dayIndex < 0) return;
    const draw = new Draw(seed, 'call', site.plan.id, day);
    const hour = FIRST_CALL_HOUR + technician * 0.35 + place * HOURS_BETWEEN_CALLS + draw.uniform(-0.15, 0.15);
    calls.push({ site, atMs: site.calendar.dayStartMs[dayIndex]! + hour * HOUR_MS, technician, day });
  });
  return calls.sort((a, b) => a.atMs - b.atMs);
}
