import type { AlarmPerformance } from '../api/views.js';

/** The figures of alarm performance as a table, and the misbehaving alarms as one list. */
type Performance = AlarmPerformance['performance'];
export type Actor = Performance['topTen'][number];
type Measured = Pick<
  Performance,
  | 'alarms'
  | 'perOperatorDay'
  | 'mostInTenMinutes'
  | 'tenMinutesAboveTenFraction'
  | 'hoursAboveThirtyFraction'
  | 'floodTimeFraction'
  | 'chattering'
  | 'fleeting'
  | 'stale'
  | 'topTenShareFraction'
>;
type Marks = Omit<AlarmPerformance['targets'], 'alarmsPerHour' | 'alarmsPerTenMinutes' | 'priorityFractions'>;

export interface HealthFigure {
  readonly name:
    | 'per_day'
    | 'worst_ten'
    | 'above_ten'
    | 'above_thirty'
    | 'flood'
    | 'chattering'
    | 'fleeting'
    | 'stale'
    | 'top_ten';
  readonly unit: 'rate' | 'count' | 'share';
  readonly here: number;
  readonly mark: number;
  readonly within: boolean;
}

/** Ten alarms that hold most of a few dozen say nothing: the share counts from so many alarms on. */
const FEWEST_FOR_A_SHARE = 100;

export function healthFigures({ performance, targets }: { readonly performance: Measured; readonly targets: Marks }) {
  const figure = (
    name: HealthFigure['name'],
    unit: HealthFigure['unit'],
    here: number,
    mark: number,
  ): HealthFigure => ({ name, unit, here, mark, within: here <= mark });
  const figures = [
    figure('per_day', 'rate', performance.perOperatorDay, targets.alarmsPerDay.acceptable),
    figure('worst_ten', 'count', performance.mostInTenMinutes, targets.mostInTenMinutes),
    figure('above_ten', 'share', performance.tenMinutesAboveTenFraction, targets.tenMinutesAboveTenFraction),
    figure('above_thirty', 'share', performance.hoursAboveThirtyFraction, targets.hoursAboveThirtyFraction),
    figure('flood', 'share', performance.floodTimeFraction, targets.floodTimeFraction),
    figure('chattering', 'count', performance.chattering.length, 0),
    figure('fleeting', 'count', performance.fleeting.length, 0),
    figure('stale', 'count', performance.stale.length, targets.staleOnAnyDay),
  ];
  if (performance.alarms < FEWEST_FOR_A_SHARE) return figures;
  return [...figures, figure('top_ten', 'share', performance.topTenShareFraction, targets.topTenShareFraction)];
}

export type Misbehaviour = 'chattering' | 'fleeting' | 'stale' | 'frequent';

export interface MergedActor extends Omit<Actor, 'count' | 'cure'> {
  /** How many times it called in the period; 0 where only that it stands is known. */
  readonly times: number;
  readonly ways: readonly Misbehaviour[];
  readonly cures: readonly string[];
}

/** An alarm that comes twice is not frequent, also where no other comes more often. */
const NOTABLE_TIMES = 3;

/** One line an alarm, the worst first, whatever lists it is on. */
export function mergeActors(
  performance: Pick<Performance, 'chattering' | 'fleeting' | 'stale' | 'topTen'>,
): readonly MergedActor[] {
  const merged = new Map<string, MergedActor>();
  const add = (actors: readonly Actor[], way: Misbehaviour): void => {
    for (const { count, cure, ...place } of actors) {
      const isNotable = way !== 'frequent' || count >= NOTABLE_TIMES;
      if (!isNotable && !merged.has(place.alarmId)) continue;
      const known = merged.get(place.alarmId) ?? { ...place, times: 0, ways: [], cures: [] };
      merged.set(place.alarmId, {
        ...known,
        times: way === 'frequent' ? count : known.times,
        ways: isNotable ? [...known.ways, way] : known.ways,
        cures: !isNotable || known.cures.includes(cure) ? known.cures : [...known.cures, cure],
      });
    }
  };
  add(performance.chattering, 'chattering');
  add(performance.fleeting, 'fleeting');
  add(performance.stale, 'stale');
  add(performance.topTen, 'frequent');
  return [...merged.values()].toSorted(
    (a, b) => b.ways.length - a.ways.length || b.times - a.times || (a.alarmId < b.alarmId ? -1 : 1),
  );
}
