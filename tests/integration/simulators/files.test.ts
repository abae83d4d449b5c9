import { createHash } from 'node:crypto';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { planDemoFleet } from '../../../simulators/demo/demo-fleet.js';
import { writeFleet } from '../../../simulators/files/write-fleet.js';
import { planRandomFleet } from '../../../simulators/fleet/random-fleet.js';
import { readFleetFile } from '../../../src/app/readings/import-fleet.js';
import type { Fleet } from '../../../src/domain/registry.js';

const NOBODY: Fleet = {
  accounts: [],
  sites: [],
  containers: [],
  gateways: [],
  nodes: [],
  assignments: [],
  depots: [],
  trucks: [],
  people: [],
};
const options = { originEveryDays: 4, hourlyTruth: true, replan: null, progress: () => undefined };
const small = planRandomFleet({
  seed: 'files',
  profile: 'mixed',
  containers: 6,
  days: 60,
  firstDay: '2025-05-01',
  climate: 'mixed',
  moistureShare: 0.9,
});

let dir: string;
beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'simulated-fleet-'));
});
afterAll(() => {
  rmSync(dir, { recursive: true, force: true });
});

function digest(folder: string): Record<string, string> {
  const files: Record<string, string> = {};
  for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
    if (!entry.isFile()) continue;
    const path = join(entry.parentPath, entry.name);
    files[path.slice(folder.length)] = createHash('sha256').update(readFileSync(path)).digest('hex');
  }
  return files;
}

function table(path: string): { columns: string[]; rows: string[][] } {
  const [head, ...rows] = readFileSync(path, 'utf8').trim().split('\n');
  return { columns: head!.split(','), rows: rows.map((row) => row.split(',')) };
}

describe('the files of a simulated fleet', () => {
  it('are the same bytes for the same seed', () => {
    writeFleet(small, join(dir, 'one'), options);
    writeFleet(small, join(dir, 'two'), options);
    expect(digest(join(dir, 'one'))).toEqual(digest(join(dir, 'two')));
  });

  it('have the columns that import and replay read, in the forms that they take', () => {
    const folder = join(dir, 'three');
    writeFleet(small, folder, options);
    const readings = table(join(folder, 'readings.csv'));
    expect(readings.columns).toEqual([
      'node',
      'time',
      'level_mm',
      'moisture_pct',
      'temperature_c',
      'battery_v',
      'received',
    ]);
    const iso = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$/;
    const number = /^-?\d+(\.\d+)?$/;
    let before = '';
    const everyTenth = readings.rows.filter((_, index) => index % 10 === 0);
    for (const [node, time, level, moisture, temperature, battery, received] of everyTenth) {
      expect(node).toMatch(/^[A-Za-z0-9._-]{1,64}$/);
      expect(time).toMatch(iso);
      expect(received).toMatch(iso);
      for (const cell of [level, moisture, temperature, battery]) expect(cell === '' || number.test(cell!)).toBe(true);
      expect(received! >= before).toBe(true);
      before = received!;
    }
    const weather = table(join(folder, 'weather.csv'));
    expect(weather.columns.slice(0, 9)).toEqual([
      'site',
      'date',
      'tmin_c',
      'tmax_c',
      'humidity_pct',
      'wind_ms',
      'solar_mj',
      'rain_mm',
      'et0_mm',
    ]);
    const issued = weather.columns.indexOf('issued');
    const observed = weather.rows.filter((row) => row[issued] === '');
    expect(observed).toHaveLength(60 * small.sites.length);
    const origins = table(join(folder, 'origins.csv'));
    const truth = table(join(folder, 'truth/origins.csv'));
    expect(origins.columns).toEqual(['time', 'container']);
    expect(truth.rows).toHaveLength(origins.rows.length);
    // Dry comes after the origin, stress after dry.
    for (const [, origin, dry, stress] of truth.rows) {
      if (dry !== '') expect(Date.parse(dry!)).toBeGreaterThanOrEqual(Date.parse(origin!));
      if (stress !== '') expect(Date.parse(stress!)).toBeGreaterThanOrEqual(Date.parse(dry!));
    }
  });

  it('pass the product’s own check of fleet files without a fault', () => {
    const folder = join(dir, 'four');
    writeFleet(small, folder, { ...options, hourlyTruth: false });
    const { fleet } = readFleetFile('fleet.json', readFileSync(join(folder, 'fleet.json')), NOBODY);
    expect(fleet.containers).toHaveLength(6);
    expect(fleet.assignments.length).toBeGreaterThanOrEqual(6);
  });
});

describe('the demo’s fleet', () => {
  it('is the firm of the story: 14 accounts, 32 sites, 120 containers of nine shapes, and every fault', () => {
    const plan = planDemoFleet('tern-and-tide');
    const folder = join(dir, 'demo');
    const written = writeFleet(plan, folder, { ...options, originEveryDays: 0, hourlyTruth: false });
    expect(written.largestBalanceErrorLitres).toBeLessThan(1e-8);
    const { fleet } = readFleetFile('fleet.json', readFileSync(join(folder, 'fleet.json')), NOBODY);
    expect(fleet.accounts).toHaveLength(14);
    expect(fleet.sites).toHaveLength(32);
    expect(fleet.containers).toHaveLength(120);
    expect(fleet.depots).toHaveLength(1);
    expect(fleet.trucks).toHaveLength(2);
    expect(fleet.people.filter((person) => person.role === 'technician')).toHaveLength(3);
    const shapes = new Set(written.sites.flatMap((site) => site.pots.map((pot) => pot.shape.kind)));
    expect(shapes.size).toBe(9);
    const kinds = new Set(plan.faults.map((fault) => fault.kind));
    for (const kind of [
      'leak',
      'overflow_blocked',
      'wick_failed',
      'demand_collapsed',
      'sensor_stuck',
      'node_silent',
      'battery_low',
      'nodes_swapped',
    ]) {
      expect(kinds).toContain(kind);
    }
    // The history ends at the moment the demo begins, and nothing in it was received later.
    const readings = table(join(folder, 'readings.csv'));
    expect(readings.rows[readings.rows.length - 1]![6]! <= '2026-08-31T04:30:00Z').toBe(true);
    expect(readings.rows[0]![1]! >= '2026-07-16T22:00:00Z').toBe(true);
  });
});
