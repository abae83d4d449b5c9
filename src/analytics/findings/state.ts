import type { EpochMs } from '../../domain/ids.js';
import type { FindingDraft, PotEvent } from '../../domain/pot.js';
import type { Block } from '../block.js';
import type { CleanReading } from '../clean-reading.js';
import type { DayRecord } from '../day-record.js';
import type { PotView } from '../pot-view.js';
import { type BatteryState, batteryLow, batteryOnDay, NO_BATTERY } from './battery-low.js';
import { type ClockState, clockOnReading, clockWrong, NO_CLOCK } from './clock-wrong.js';
import { type CollapseState, collapseOnDay, demandCollapsed, NO_COLLAPSE } from './demand-collapsed.js';
import { type KnownLeak, type LeakState, leakFinding, leakOnDay, NO_LEAK } from './leak/leak.js';
import { fallOnEvent } from './leak/repeated-falls.js';
import { soilGainOnBlock, soilGainOnReading } from './leak/soil-gain.js';
import { NO_SILENCE, nodeSilent, type SilenceState, silenceOnReading } from './node-silent.js';
import { jumpOnEvent, type SwapJump } from './nodes-swapped.js';
import { NO_PORT, overflowPort, type PortState, portOnReading } from './overflow-port.js';
import { type DriftState, driftOnEvent, NO_DRIFT, sensorDrift } from './sensor-drift.js';
import { CLEAN, type FouledState, fouledOnDay, fouledOnEvent, sensorFouled } from './sensor-fouled.js';
import { NOT_STUCK, type StuckState, sensorStuck, stuckOnReading } from './sensor-stuck.js';
import { PLUGGED, sensorUnplugged, type UnpluggedState, unpluggedOnReading } from './sensor-unplugged.js';
import { NOT_WATERLOGGED, type WaterloggedState, waterlogged, waterloggedOnDay } from './waterlogged.js';
import { weigh } from './weigh.js';
import { NO_WICK_FAILURE, type WickState, wickFailed, wickOnDay } from './wick-failed.js';
import { type LimitedState, limitedOnDay, NO_LIMIT, wickLimited } from './wick-limited.js';

/** What the findings remember of one pot: plain JSON of bounded size, one part for each. */
export interface FindingState {
  readonly silence: SilenceState;
  readonly clock: ClockState;
  readonly stuck: StuckState;
  readonly unplugged: UnpluggedState;
  readonly fouled: FouledState;
  readonly drift: DriftState;
  readonly battery: BatteryState;
  readonly port: PortState;
  readonly leak: LeakState;
  readonly wick: WickState;
  readonly limit: LimitedState;
  readonly collapse: CollapseState;
  readonly waterlogged: WaterloggedState;
  /** Sudden changes of the level, for the comparison of a site's pots. */
  readonly jumps: readonly SwapJump[];
  /** The last day on which something else made the level or the use untrue; 0 for none. */
  readonly troubledDay: number;
}

export function startFindings(): FindingState {
  return {
    silence: NO_SILENCE,
    clock: NO_CLOCK,
    stuck: NOT_STUCK,
    unplugged: PLUGGED,
    fouled: CLEAN,
    drift: NO_DRIFT,
    battery: NO_BATTERY,
    port: NO_PORT,
    leak: NO_LEAK,
    wick: NO_WICK_FAILURE,
    limit: NO_LIMIT,
    collapse: NO_COLLAPSE,
    waterlogged: NOT_WATERLOGGED,
    jumps: [],
    troubledDay: 0,
  };
}

/**
 * While the level or the use is untrue the pot's thirst is learnt too low, and its recovery looks like a leak until the
 * weeks that the thirst is taken from are past.
 */
const TROUBLE_LASTS_DAYS = 75;
/** After a failed wick was mended the soil takes so long to fill up again. */
const SOIL_RECOVERS_DAYS = 14;

/** Takes a cleaned reading; the view is of the moment after it. O(1). */
export function observeReading(view: PotView, state: FindingState, reading: CleanReading): FindingState {
  return {
    ...state,
    silence: silenceOnReading(state.silence, reading),
    clock: clockOnReading(state.clock, reading),
    stuck: stuckOnReading(view, state.stuck, reading),
    unplugged: unpluggedOnReading(view, state.unplugged, reading),
    port: portOnReading(view, state.port, reading),
    leak: { ...state.leak, soil: soilGainOnReading(state.leak.soil, reading) },
  };
}

/** Takes a finished stretch of drawdown; `view.blocks` holds it already. */
export function observeBlock(view: PotView, state: FindingState, block: Block): FindingState {
  return { ...state, leak: { ...state.leak, soil: soilGainOnBlock(view, state.leak.soil, block) } };
}

/** Takes a finished day at dawn; `view.days` and `view.blocks` hold it already. About 1 ms with 90 days of blocks. */
export function observeDay(view: PotView, state: FindingState, day: DayRecord): FindingState {
  const judged: FindingState = {
    ...state,
    fouled: fouledOnDay(view, state.fouled),
    battery: batteryOnDay(view, state.battery),
    wick: wickOnDay(view, state.wick),
    limit: limitedOnDay(view, state.limit, day.dayNumber - state.troubledDay < SOIL_RECOVERS_DAYS),
    collapse: collapseOnDay(view, state.collapse),
    waterlogged: waterloggedOnDay(view, state.waterlogged),
  };
  const troubled =
    judged.wick.open !== null ||
    judged.collapse.open !== null ||
    judged.fouled.open !== null ||
    sensorDrift(view, judged.drift) !== null ||
    sensorStuck(view, judged.stuck) !== null ||
    sensorUnplugged(view, judged.unplugged) !== null;
  const troubledDay = troubled ? day.dayNumber : state.troubledDay;
  const suspended = day.dayNumber - troubledDay < TROUBLE_LASTS_DAYS;
  return { ...judged, troubledDay, leak: leakOnDay(view, judged.leak, day, suspended) };
}

/** Takes an event when it is first seen and again whenever it is judged anew (the same id). */
export function observeEvent(view: PotView, state: FindingState, event: PotEvent): FindingState {
  return {
    ...state,
    jumps: jumpOnEvent(state.jumps, event),
    drift: driftOnEvent(view, state.drift, event),
    leak: { ...state.leak, falls: fallOnEvent(view, state.leak.falls, event) },
    fouled: fouledOnEvent(view, state.fouled, event),
  };
}

/** Everything that seems wrong at an instant at or after the last reading; at most one of each kind. */
export function currentFindings(view: PotView, state: FindingState, nowMs: EpochMs): readonly FindingDraft[] {
  const drafts = [
    nodeSilent(view, state.silence, nowMs),
    overflowPort(view, state.port, nowMs),
    leakFinding(view, state.leak),
    wickFailed(view, state.wick),
    waterlogged(view, state.waterlogged),
    demandCollapsed(view, state.collapse),
    wickLimited(view, state.limit),
    sensorStuck(view, state.stuck),
    sensorUnplugged(view, state.unplugged),
    sensorDrift(view, state.drift),
    sensorFouled(view, state.fouled),
    batteryLow(view, state.battery),
    clockWrong(view, state.clock),
  ];
  return weigh(drafts.filter((draft) => draft !== null));
}

/** The leak that is held to exist, for the forecast and the ledger; null where none is. */
export function knownLeak(state: FindingState): KnownLeak | null {
  return state.leak.open;
}
