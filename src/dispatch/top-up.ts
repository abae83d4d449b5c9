/** Share of the accepted risk at which a pot may be left: so little that it brings the next visit no nearer. */
export const LEFT_RISK_SHARE = 0.1;

/** What decides which pots of a site a visit fills; days count from the plan's first. */
export interface FillChoice {
  /** [pot][0]: last day that the pot lasts as it is, at the risk for pots that are left; [pot][p + 1]: after a fill on day p. */
  readonly holdsUntil: readonly (readonly number[])[];
  /** By pot: somebody asked for water there, so that the first visit fills it whatever it holds. */
  readonly asked: readonly boolean[];
  /** [p + 1]: last safe day of the next visit where all pots were filled on day p. */
  readonly nextVisit: readonly number[];
}

/**
 * True where a visit fills the pot. It is left where it lasts until the last safe day of the visit after this one, even
 * with every other pot full: filling it then saves no visit now and costs its minutes each time (the can-order rule of joint
 * replenishment, Balintfy 1964, with the next visit as the level that can be ordered at).
 * @param previousDay the visit before; -1 for none. What that one left is taken to be what a first visit on its day leaves.
 */
export function isFilled(choice: FillChoice, pot: number, previousDay: number, day: number): boolean {
  if (previousDay < 0 && choice.asked[pot] === true) return true;
  return lastsUntil(choice, pot, previousDay) < choice.nextVisit[day + 1]!;
}

/** Last day that the pot lasts after the visits up to `previousDay` (-1 for none), at the risk for pots that are left. */
export function lastsUntil(choice: FillChoice, pot: number, previousDay: number): number {
  const holds = choice.holdsUntil[pot]!;
  return previousDay >= 0 && isFilled(choice, pot, -1, previousDay) ? holds[previousDay + 1]! : holds[0]!;
}
