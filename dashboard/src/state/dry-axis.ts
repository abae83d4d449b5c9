import { midnights } from './zone.js';

/**
 * A shared axis of time, so that the dry windows of all pots on a sheet can be compared by eye. It goes by the square
 * root: what happens today is told apart by hours, what happens next week by days.
 */
export interface DryAxis {
  readonly fromMs: number;
  readonly toMs: number;
  readonly timeZone: string;
}

export interface Quantiles {
  readonly p10Ms: number | null;
  readonly p50Ms: number | null;
  readonly p90Ms: number | null;
}

/** Where a dry window lies on the axis, in shares of its length. */
export interface DryWindow {
  readonly from: number;
  /** Null where the middle lies beyond the axis. */
  readonly middle: number | null;
  readonly to: number;
  /** The window goes on past the right end. */
  readonly open: boolean;
}

/** Share of the axis' length at an instant, held to 0-1. */
export function shareAt(axis: DryAxis, ms: number): number {
  return Math.sqrt(Math.min(1, Math.max(0, (ms - axis.fromMs) / (axis.toMs - axis.fromMs))));
}

/** The local midnights on the axis, each with its share. */
export function dayMarks(axis: DryAxis): readonly { readonly ms: number; readonly share: number }[] {
  return midnights(axis.fromMs, axis.toMs, axis.timeZone).map((ms) => ({ ms, share: shareAt(axis, ms) }));
}

/** Null where even the early end lies beyond the axis; a missing p90 means that it lies beyond the horizon. */
export function dryWindow(axis: DryAxis, dry: Quantiles): DryWindow | null {
  if (dry.p10Ms === null || dry.p10Ms >= axis.toMs) return null;
  const open = dry.p90Ms === null || dry.p90Ms > axis.toMs;
  return {
    from: shareAt(axis, dry.p10Ms),
    middle: dry.p50Ms === null || dry.p50Ms > axis.toMs ? null : shareAt(axis, dry.p50Ms),
    to: dry.p90Ms === null ? 1 : shareAt(axis, dry.p90Ms),
    open,
  };
}
