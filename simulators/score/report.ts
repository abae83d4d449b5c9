import { NAIVE_WAYS } from './baselines.js';
import { type EventSample, type EventScore, scoreEvents } from './events.js';
import { type FindingSample, type FindingScore, scoreFindings } from './findings.js';
import {
  type BinScore,
  dryPairs,
  LEAD_BINS,
  naivePairs,
  type OriginSample,
  type RuleScore,
  scoreLeads,
  scoreRules,
  stressPairs,
} from './forecasts.js';

/** What one fleet contributes; several add up to one report. */
export interface FleetSample {
  readonly profile: string;
  readonly origins: readonly OriginSample[];
  /** The same origins, answered with something left out. */
  readonly variants: readonly VariantSample[];
  readonly events: EventSample;
  readonly findings: FindingSample;
}

export interface VariantSample {
  readonly name: string;
  readonly origins: readonly OriginSample[];
}

export interface LeadRow {
  readonly name: string;
  readonly bins: readonly BinScore[];
}

export interface Report {
  readonly fleets: number;
  readonly containerYears: number;
  readonly originsHealthy: number;
  readonly originsWithoutAnswer: number;
  readonly dry: readonly LeadRow[];
  /** Covered and uncovered pots with something left out. */
  readonly variants: readonly LeadRow[];
  readonly stress: LeadRow;
  readonly naive: readonly LeadRow[];
  readonly rules: readonly RuleScore[];
  readonly events: EventScore;
  readonly findings: FindingScore;
}

/** Adds up fleets into the measures by the rules of healthy origins, lead bins and false alarms. */
export function summarise(fleets: readonly FleetSample[]): Report {
  const all = fleets.flatMap((f) => f.origins);
  const healthy = all.filter((o) => o.health === 'healthy');
  const row = (name: string, samples: readonly OriginSample[]): LeadRow => ({
    name,
    bins: scoreLeads(dryPairs(samples)),
  });
  const young = all.filter((o) => o.health === 'healthy' && o.young).map((o) => ({ ...o, young: false }));
  return {
    fleets: fleets.length,
    containerYears: fleets.reduce((sum, f) => sum + f.findings.containerYears, 0),
    originsHealthy: dryPairs(healthy).length,
    originsWithoutAnswer: dryPairs(healthy).filter((p) => p.said?.p50 == null).length,
    dry: [
      row('all', healthy),
      row(
        'covered',
        healthy.filter((o) => o.covered),
      ),
      row(
        'uncovered',
        healthy.filter((o) => !o.covered),
      ),
      row(
        'night drinkers',
        healthy.filter((o) => o.cam),
      ),
      row(
        'no moisture probe',
        healthy.filter((o) => !o.moisture),
      ),
      row('young nodes', young),
      row(
        'leaking',
        all.filter((o) => o.health === 'leak'),
      ),
      row(
        'other fault',
        all.filter((o) => o.health === 'fault'),
      ),
    ],
    variants: variantRows(fleets.flatMap((f) => f.variants)),
    stress: { name: 'stress', bins: scoreLeads(stressPairs(healthy)) },
    naive: NAIVE_WAYS.map((way) => ({ name: way, bins: scoreLeads(naivePairs(healthy, way)) })),
    rules: scoreRules(healthy),
    events: scoreEvents(fleets.map((f) => f.events)),
    findings: scoreFindings(fleets.map((f) => f.findings)),
  };
}

function variantRows(variants: readonly VariantSample[]): readonly LeadRow[] {
  return [...new Set(variants.map((variant) => variant.name))].flatMap((name) => {
    const healthy = variants
      .filter((variant) => variant.name === name)
      .flatMap((variant) => variant.origins)
      .filter((origin) => origin.health === 'healthy');
    return [true, false].map((covered) => ({
      name: `${covered ? 'cov.' : 'open'}, ${name}`,
      bins: scoreLeads(dryPairs(healthy.filter((origin) => origin.covered === covered))),
    }));
  });
}

const show = (value: number | null, digits: number): string => (value === null ? '-' : value.toFixed(digits));

/** The report as one table for a terminal. */
export function renderReport(report: Report, title: string): string {
  const lines: string[] = [];
  const bins = (rows: readonly LeadRow[]): void => {
    for (const { name, bins: cells } of rows) {
      const text = cells.map((b) =>
        b.n === 0
          ? 'no origins'
          : `${show(b.maeDays, 2)} ${show(b.medianDays, 2)} ${show(b.cover80, 2)} ${show(b.pinball, 3)} (${b.n})`,
      );
      lines.push(`  ${name.padEnd(20)}${text.map((t) => t.padEnd(31)).join('')}`.trimEnd());
    }
  };
  lines.push(title);
  lines.push(
    `${report.fleets} fleets, ${show(report.containerYears, 0)} container-years, ${report.originsHealthy} healthy origins ` +
      `(${report.originsWithoutAnswer} without an answer, counted as 45 days)`,
  );
  lines.push('');
  lines.push(`Dry date by true lead: mean error d, median error d, share in p10-p90, pinball d (origins)`);
  lines.push(
    `  ${''.padEnd(20)}${LEAD_BINS.map((b) => `${b.name} (${b.low}-${b.high})`.padEnd(31)).join('')}`.trimEnd(),
  );
  bins(report.dry);
  bins(report.variants);
  lines.push('Stress date, healthy pots');
  bins([report.stress]);
  lines.push('Naive ways, healthy origins');
  bins(report.naive);
  lines.push('');
  lines.push('Dry within 48 h             recall  precision');
  for (const r of report.rules) {
    lines.push(`  ${r.rule.padEnd(26)}${show(r.recall, 3)}   ${show(r.precision, 3)}   (${r.positives} true)`);
  }
  const e = report.events;
  lines.push('');
  lines.push(
    `Refills of 8 mm or more: recall ${show(e.refillRecall, 3)}, precision ${show(e.refillPrecision, 3)}, ` +
      `median volume error ${show(e.refillVolumeErrorMedian === null ? null : 100 * e.refillVolumeErrorMedian, 1)} % (${e.refills})`,
  );
  lines.push(
    `Rises in uncovered pots called rightly: ${show(e.rainAgainstRefill, 3)} (${e.uncoveredRises}); ` +
      `rain called refill ${show(e.rainCalledRefill, 3)}, refill called rain ${show(e.refillCalledRain, 3)}`,
  );
  lines.push(`Sudden losses: found ${show(e.suddenLossRecall, 2)} (${e.suddenLosses}), false ${e.falseSuddenLosses}`);
  const f = report.findings;
  lines.push('');
  lines.push(
    `Leak false alarms: ${f.leakFalseAlarms} in ${show(f.leakFreeYears, 0)} fault-free container-years, ` +
      `${show(f.leakFalseAlarmsPer100Years, 2)} per 100; on pots with another fault ${f.leakFalseAlarmsOnFaultyPots}`,
  );
  lines.push('Leaks found                    n   found  14 d   median d');
  for (const c of f.leakBySize) lines.push(leakLine(`size ${c.name}`, c));
  for (const c of f.leakByFlowRatio) lines.push(leakLine(`flow / one night ${c.name}`, c));
  for (const c of f.leakByActiveDays) lines.push(leakLine(`days over the crack ${c.name}`, c));
  lines.push(
    `Leak size: median error ${show(f.leakSizeErrorMedian === null ? null : 100 * f.leakSizeErrorMedian, 0)} %, ` +
      `median ratio ${show(f.leakSizeRatioMedian, 2)}; crack height: median error ${show(f.leakHeightErrorMedian, 3)} of the overflow height`,
  );
  lines.push('');
  lines.push(
    `Other findings                 n   found  7 d    median d  false per 100 fault-free container-years (${show(f.faultFreeYears, 0)}), on pots with another fault`,
  );
  for (const c of f.faults) {
    lines.push(
      `  ${c.kind.padEnd(28)}${String(c.n).padEnd(4)}${show(c.found, 2).padEnd(7)}${show(c.within7Days, 2).padEnd(7)}` +
        `${show(c.medianDays, 1).padEnd(10)}${show(c.falsePer100Years, 2).padEnd(7)}${c.falseOnFaulty}`,
    );
  }
  lines.push(
    `Blocked port found within a day of the second event that shows it: ${show(f.blockedShown.foundAfterSecond, 2)} (${f.blockedShown.n})`,
  );
  return lines.join('\n');
}

function leakLine(name: string, c: FindingScore['leakBySize'][number]): string {
  return `  ${name.padEnd(28)}${String(c.n).padEnd(4)}${show(c.found, 2).padEnd(7)}${show(c.within14Days, 2).padEnd(7)}${show(c.medianDays, 0)}`;
}
