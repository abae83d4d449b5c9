import { HOUR_MS, STEP_MS } from '../calendar.js';
import type { PotRun } from '../fleet/site-simulation.js';
import { type NodeWorld, placeOf, type SiteWorld } from '../fleet/world.js';
import type { DemandSpan } from '../pot/planting.js';
import type { SensorFaultKind } from '../sensor/node.js';

/** What a person repairs at a pot or its node. */
export type Repair =
  | 'leak'
  | 'port'
  | 'wick'
  | 'planting'
  | 'sensor'
  /** The node itself: silence, its clock, its cell. */
  | 'node'
  | 'cell';

const SENSOR_FAULTS: readonly SensorFaultKind[] = ['stuck', 'drift', 'unplugged', 'fouled'];
const NODE_FAULTS: readonly SensorFaultKind[] = ['silent', 'clock'];

/** Ends what was wrong at one pot from an instant on; mending what is whole changes nothing. */
export function mend(site: SiteWorld, potIndex: number, repair: Repair, atMs: number): void {
  const run = site.simulation.runs[potIndex]!;
  const step = Math.ceil((atMs - site.calendar.startMs) / STEP_MS);
  const { model } = run.spec;
  const ends = <Span extends { readonly fromStep: number; readonly toStep: number }>(span: Span): Span =>
    span.fromStep <= step && span.toStep > step ? { ...span, toStep: step } : span;
  switch (repair) {
    case 'leak':
      run.changeModel({ ...model, leaks: model.leaks.map(ends) });
      return;
    case 'port':
      run.changeModel({ ...model, portFactors: model.portFactors.map(ends) });
      return;
    case 'wick':
      run.changeModel({ ...model, wickFactors: model.wickFactors.map(ends) });
      return;
    case 'planting':
      replant(site, run, potIndex, atMs);
      return;
    case 'sensor':
      for (const { node } of nodesIn(site, potIndex, atMs)) node.mend(SENSOR_FAULTS, atMs);
      return;
    case 'node':
      for (const { node } of nodesIn(site, potIndex, atMs)) {
        node.mend(NODE_FAULTS, atMs);
        if (node.isFlat(atMs)) node.renewCell(atMs);
      }
      return;
    case 'cell':
      for (const { node } of nodesIn(site, potIndex, atMs)) node.renewCell(atMs);
      return;
  }
}

function nodesIn(site: SiteWorld, potIndex: number, atMs: number): readonly NodeWorld[] {
  return site.nodes.filter((node) => placeOf(node.plan, atMs).potIndex === potIndex);
}

/** What was planted anew; a second look at it changes nothing. */
const replaced = new WeakMap<PotRun, Set<DemandSpan>>();

/** A planting that died is replaced: from now on it draws what it would have drawn. */
function replant(site: SiteWorld, run: PotRun, potIndex: number, atMs: number): void {
  const spans = site.plan.pots[potIndex]!.faults.demandSpans;
  const { model } = run.spec;
  const firstHour = Math.ceil((atMs - site.calendar.startMs) / HOUR_MS);
  const today = site.calendar.dayIndex(atMs);
  const done = replaced.get(run) ?? new Set();
  const dead = spans.filter((span) => span.fromDay <= today && today < span.toDay && !done.has(span));
  if (dead.length === 0) return;
  replaced.set(run, new Set([...done, ...dead]));
  const demandLPerHour = model.demandLPerHour.map((litres, hour) => {
    if (hour < firstHour) return litres;
    const day = site.calendar.dayIndex(site.calendar.startMs + hour * HOUR_MS);
    let factor = 1;
    for (const span of dead) {
      if (day < span.fromDay || day >= span.toDay) continue;
      const share = span.rampDays > 0 ? Math.min(1, (day - span.fromDay + 1) / span.rampDays) : 1;
      factor *= 1 + (span.factor - 1) * share;
    }
    return litres / factor;
  });
  run.changeModel({ ...model, demandLPerHour });
}
