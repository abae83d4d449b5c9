/** Where a technician stands in the round: what is done, what comes next, what is left. */
export interface RoundProgress<Stop> {
  readonly done: readonly Stop[];
  readonly next: Stop | null;
  readonly rest: readonly Stop[];
}

interface OrderedStop {
  readonly stop: { readonly id: string; readonly position: number; readonly state: string };
}

/**
 * @param recordedHere ids of stops that this device has recorded and the server may not know yet
 * @param firstId the stop that the technician wants to go to first; null for the planned order
 */
export function roundProgress<Stop extends OrderedStop>(
  stops: readonly Stop[],
  recordedHere: ReadonlySet<string>,
  firstId: string | null,
): RoundProgress<Stop> {
  const standing = stops
    .filter((one) => one.stop.state !== 'cancelled')
    .toSorted((a, b) => a.stop.position - b.stop.position);
  const isDone = (one: Stop): boolean => one.stop.state === 'done' || recordedHere.has(one.stop.id);
  const open = standing.filter((one) => !isDone(one));
  const next = open.find((one) => one.stop.id === firstId) ?? open[0] ?? null;
  return { done: standing.filter(isDone), next, rest: open.filter((one) => one !== next) };
}
