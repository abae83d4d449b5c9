/** Tasks of one stop, gathered by pot: a crew works pot by pot. */
export interface PotWork<Task extends { readonly pot: { readonly containerId: string } }> {
  readonly pot: Task['pot'];
  readonly tasks: readonly Task[];
}

export function byPot<Task extends { readonly pot: { readonly containerId: string } }>(
  tasks: readonly Task[],
): readonly PotWork<Task>[] {
  const pots = new Map<string, Task[]>();
  for (const task of tasks) {
    const known = pots.get(task.pot.containerId);
    if (known === undefined) pots.set(task.pot.containerId, [task]);
    else known.push(task);
  }
  return [...pots.values()].map((own) => ({ pot: own[0]!.pot, tasks: own }));
}

export type DueBand = 'overdue' | 'today' | 'later';

/** @param endOfDayMs first instant after the local day */
export function dueBand(dueByMs: number, nowMs: number, endOfDayMs: number): DueBand {
  if (dueByMs <= nowMs) return 'overdue';
  return dueByMs < endOfDayMs ? 'today' : 'later';
}
