/**
 * The time by which the crew works. It is the server's business clock, which the demo runs faster than the wall's; the
 * page goes on counting from what the server last said, also without a signal.
 */
export interface ClockFix {
  /** Business time that the server gave. */
  readonly businessMs: number;
  /** Business milliseconds in one millisecond here. */
  readonly speed: number;
  /** This device's clock when the fix arrived. */
  readonly deviceMs: number;
}

export function businessNowMs(fix: ClockFix, deviceNowMs: number): number {
  return fix.businessMs + (deviceNowMs - fix.deviceMs) * fix.speed;
}
