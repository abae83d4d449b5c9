/**
 * Work on alarms, tasks and rounds is: load, decide, commit. Two of these at once would decide on the same rows, and the
 * second would undo the first; an acknowledgement could be lost that way. They take turns instead, for each store.
 */
const queues = new WeakMap<object, Promise<unknown>>();

/** Runs `work` when everything that was asked for before it is done; a failure is the caller's alone. */
export function inTurn<Result>(store: object, work: () => Promise<Result>): Promise<Result> {
  const before = queues.get(store) ?? Promise.resolve();
  const mine = before.then(work, work);
  queues.set(
    store,
    mine.catch(() => undefined),
  );
  return mine;
}

/** Lets waiting requests have the thread before going on. */
export function breathe(): Promise<void> {
  return new Promise((resolve) => {
    setImmediate(resolve);
  });
}
