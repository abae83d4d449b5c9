import { existsSync, writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { collectEvents } from './events.js';
import { collectFindings } from './findings.js';
import { collectOrigins } from './forecasts.js';
import { type FleetSample, renderReport, summarise, type VariantSample } from './report.js';
import { loadSeries } from './series.js';
import { loadTruth } from './truth.js';

export interface CollectOptions {
  readonly fleetDir?: string | undefined;
  /** Replays of the same fleet with something left out; only their dates are scored. */
  readonly variants?: readonly { readonly name: string; readonly outDir: string }[];
}

/**
 * Collects what one fleet contributes to a report.
 * @param truthDir the folder `truth` that the fleet simulator wrote
 * @param outDir where `brimline replay` wrote
 * @param options.fleetDir where fleet.json and readings.csv are, for the naive ways; the folder around `truthDir` by default
 */
export async function collectFleet(
  truthDir: string,
  outDir: string,
  { fleetDir, variants = [] }: CollectOptions = {},
): Promise<FleetSample> {
  const truth = await loadTruth(truthDir);
  const folder = fleetDir ?? dirname(resolve(truthDir));
  if (!existsSync(join(folder, 'readings.csv'))) {
    throw new Error(`${folder} holds no readings.csv, which the naive ways need: say where with --fleet-dir.`);
  }
  const series = await loadSeries(folder);
  const others: VariantSample[] = [];
  for (const variant of variants) {
    others.push({ name: variant.name, origins: await collectOrigins(truth, series, variant.outDir) });
  }
  return {
    profile: truth.profile,
    variants: others,
    origins: await collectOrigins(truth, series, outDir),
    events: await collectEvents(truth, outDir),
    findings: await collectFindings(truth, outDir),
  };
}

/** Scores one replay, prints the table through `out` and writes it as DIR/score.json and DIR/score.txt. */
export async function scoreReplay(
  options: { readonly truthDir: string; readonly outDir: string; readonly fleetDir: string | null },
  out: (line: string) => void,
): Promise<void> {
  const sample = await collectFleet(options.truthDir, options.outDir, { fleetDir: options.fleetDir ?? undefined });
  const report = summarise([sample]);
  const text = renderReport(report, `Score of ${options.outDir} against ${options.truthDir}`);
  writeFileSync(join(options.outDir, 'score.json'), `${JSON.stringify(report, null, 1)}\n`);
  writeFileSync(join(options.outDir, 'score.txt'), `${text}\n`);
  out(text);
}
