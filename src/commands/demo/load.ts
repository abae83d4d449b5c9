import { createReadStream } from 'node:fs';
import { readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { ANALYSIS_STAGE, AnalysisStage } from '../../app/analysis/analysis-stage.js';
import type { App } from '../../app/context.js';
import { ALARM_STAGE, runAlarmStage } from '../../app/fieldwork/alarm-stage.js';
import { METRIC_UNITS } from '../../app/people/people.js';
import { Planner, type PlannerSettings } from '../../app/planning/planner.js';
import { importReadings, importWeather } from '../../app/readings/import-files.js';
import { importFleet } from '../../app/readings/import-fleet.js';
import { importVisits } from '../../app/readings/import-visits.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Log } from '../../domain/ports/log.js';
import { openStore } from '../../store/open.js';
import type { DemoFolder } from './folder.js';

export type DemoStep = 'weather' | 'readings' | 'analysis' | 'rounds';

/** Shows one step of the preparation, with its share done, 0-1. */
export type ShowStep = (step: DemoStep, doneFraction: number) => void;

/**
 * Imports the fleet and its history as `import` does, analyses it and plans the rounds, at the instant where the demo
 * begins: when the server starts, everything is there.
 */
export async function loadDemo(
  folder: DemoFolder,
  atMs: EpochMs,
  planner: PlannerSettings,
  log: Log,
  show: ShowStep,
): Promise<void> {
  const store = await openStore({ dir: folder.dataDir, log });
  try {
    const app: App = { store, clock: { nowMs: () => atMs }, log };
    const fleet = join(folder.fleetDir, 'fleet.json');
    await importFleet(app, 'fleet.json', await readFile(fleet));
    await nameFirm(app);
    await importFile(app, join(folder.fleetDir, 'weather.csv'), importWeather, (share) => show('weather', share));
    await importFile(app, join(folder.fleetDir, 'readings.csv'), importReadings, (share) => show('readings', share));
    await importVisits(app, { name: 'visits.csv', input: createReadStream(join(folder.fleetDir, 'visits.csv')) });
    await analyse(app, (share) => show('analysis', share));
    show('rounds', 0);
    await planRounds(app, planner);
  } finally {
    await store.close();
  }
}

/** The invented firm, with an invented tariff. */
async function nameFirm(app: App): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'command', id: 'demo' },
    writes: [
      {
        kind: 'firm',
        row: {
          name: 'Tern & Tide Container Gardens',
          currency: 'EUR',
          waterPricePerM3: 2.6,
          language: 'en',
          units: METRIC_UNITS,
        },
      },
    ],
    cursor: null,
  });
}

async function importFile(
  app: App,
  file: string,
  importRows: typeof importReadings,
  show: (doneFraction: number) => void,
): Promise<void> {
  const { size } = await stat(file);
  const input = createReadStream(file, { highWaterMark: 256 * 1024 });
  await importRows(app, { name: file, input }, () => show(input.bytesRead / size));
}

/** As in the night before: whoever signs in first finds the day's rounds. */
async function planRounds(app: App, settings: PlannerSettings): Promise<void> {
  const planner = new Planner(app, settings);
  planner.request('night');
  await planner.idle();
  await planner.close();
  await followAlarms(app);
}

async function analyse(app: App, show: (doneFraction: number) => void): Promise<void> {
  const analysis = new AnalysisStage(app);
  const { changes } = app.store;
  const firstSeq = await changes.cursor(ANALYSIS_STAGE);
  const lastSeq = await changes.lastSeq();
  while ((await analysis.step()).changes > 0) {
    show(Math.min(1, ((await changes.cursor(ANALYSIS_STAGE)) - firstSeq) / (lastSeq - firstSeq)));
  }
  analysis.historyIsWhole();
  await analysis.evaluateAll(app.clock.nowMs());
  await followAlarms(app);
}

async function followAlarms(app: App): Promise<void> {
  const { changes } = app.store;
  while ((await changes.cursor(ALARM_STAGE)) < (await changes.lastSeq())) {
    if ((await runAlarmStage(app)).changes === 0) break;
  }
}
