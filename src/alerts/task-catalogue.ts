import type { TextCode } from '../domain/texts/en/index.js';
import type { TaskKind } from '../domain/work.js';

export interface TaskCatalogueEntry {
  /** Minutes at the pot, without the way there; guesses of ours, no source, to be replaced by the crew's own times. */
  readonly minutes: number;
  /** Minutes more for each litre that goes in: about 12 L/min out of a hose, no source. */
  readonly minutesPerLitre: number;
  /** Days from the reason to the due date where nothing else says when. */
  readonly withinDays: number;
  readonly cautions: readonly TextCode[];
  /** What to have on the truck besides water. */
  readonly bring: readonly TextCode[];
  /** What the sensor should show afterwards. */
  readonly expect: TextCode | null;
}

/** Fixed minutes of a stop: parking, signing in, the walk. A guess of ours, no source. */
export const MINUTES_PER_STOP = 10;

export const TASK_CATALOGUE: Readonly<Record<TaskKind, TaskCatalogueEntry>> = {
  refill: {
    minutes: 4,
    minutesPerLitre: 1 / 12,
    withinDays: 1,
    cautions: ['caution.backflow', 'caution.non_potable', 'caution.watering_days'],
    bring: [],
    expect: 'task.expect.refill',
  },
  rewet_from_above: {
    minutes: 20,
    minutesPerLitre: 1 / 12,
    withinDays: 1,
    cautions: ['caution.backflow', 'caution.non_potable', 'caution.watering_days'],
    bring: ['task.bring.rose'],
    expect: 'task.expect.rewet_from_above',
  },
  find_leak: {
    minutes: 30,
    minutesPerLitre: 0,
    withinDays: 2,
    cautions: ['caution.lifting', 'caution.roof_load'],
    bring: ['task.bring.sealant', 'task.bring.siphon'],
    expect: 'task.expect.find_leak',
  },
  clear_overflow: {
    minutes: 15,
    minutesPerLitre: 0,
    withinDays: 1,
    cautions: ['caution.non_potable', 'caution.mosquito'],
    bring: ['task.bring.port_brush', 'task.bring.screen'],
    expect: 'task.expect.clear_overflow',
  },
  retest_wick: {
    minutes: 25,
    minutesPerLitre: 0,
    withinDays: 1,
    cautions: ['caution.backflow', 'caution.non_potable'],
    bring: ['task.bring.rose'],
    expect: 'task.expect.retest_wick',
  },
  repack_wick: {
    minutes: 120,
    minutesPerLitre: 0,
    withinDays: 3,
    cautions: ['caution.lifting', 'caution.roof_load'],
    bring: ['task.bring.substrate', 'task.bring.siphon'],
    expect: 'task.expect.retest_wick',
  },
  drain: {
    minutes: 20,
    minutesPerLitre: 0,
    withinDays: 1,
    cautions: ['caution.non_potable', 'caution.mosquito'],
    bring: ['task.bring.siphon'],
    expect: 'task.expect.drain',
  },
  check_sensor: {
    minutes: 15,
    minutesPerLitre: 0,
    withinDays: 3,
    cautions: ['caution.licence'],
    bring: ['task.bring.dipstick', 'task.bring.sensor'],
    expect: 'task.expect.check_sensor',
  },
  replace_battery: {
    minutes: 10,
    minutesPerLitre: 0,
    withinDays: 10,
    cautions: ['caution.lithium'],
    bring: ['task.bring.battery'],
    expect: 'task.expect.replace_battery',
  },
  recover_node: {
    minutes: 15,
    minutesPerLitre: 0,
    withinDays: 3,
    cautions: ['caution.licence', 'caution.lithium'],
    bring: ['task.bring.battery', 'task.bring.node', 'task.bring.dipstick'],
    expect: 'task.expect.recover_node',
  },
  feed: {
    minutes: 10,
    minutesPerLitre: 0,
    withinDays: 14,
    cautions: ['caution.labels'],
    bring: ['task.bring.fertiliser'],
    expect: null,
  },
  flush_salts: {
    minutes: 40,
    minutesPerLitre: 1 / 12,
    withinDays: 14,
    cautions: ['caution.non_potable', 'caution.labels', 'caution.watering_days'],
    bring: ['task.bring.siphon'],
    expect: 'task.expect.drain',
  },
  replant: {
    minutes: 60,
    minutesPerLitre: 0,
    withinDays: 7,
    cautions: ['caution.lifting'],
    bring: ['task.bring.plants', 'task.bring.substrate'],
    expect: null,
  },
  commission: {
    minutes: 60,
    minutesPerLitre: 1 / 12,
    withinDays: 7,
    cautions: ['caution.backflow', 'caution.licence'],
    bring: ['task.bring.dipstick'],
    expect: 'task.expect.commission',
  },
  inspect: {
    minutes: 10,
    minutesPerLitre: 0,
    withinDays: 1,
    cautions: ['caution.heat_lightning'],
    bring: ['task.bring.dipstick'],
    expect: null,
  },
};

export function minutesFor(kind: TaskKind, litres: number | null): number {
  const entry = TASK_CATALOGUE[kind];
  return Math.round(entry.minutes + entry.minutesPerLitre * (litres ?? 0));
}
