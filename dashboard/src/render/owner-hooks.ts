import type { LiveQuery } from '../state/live-cache.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';

const NONE: ReadonlySet<string> = new Set();

/** A list of the server that only an owner's settings ask for; changes of these kinds make it old. */
export function useOwnerList<Item>(path: string, kinds: ReadonlySet<string> = NONE): LiveQuery<readonly Item[]> {
  const { client } = useApp();
  return {
    key: `owner${path}`,
    load: async (signal) => ((await client.get(path, signal)) as unknown as { readonly items: readonly Item[] }).items,
    touchedBy: (change) => kinds.has(change.kind),
  };
}

/** Does one thing at a time, says what came of it, and loads anew what it made old. */
export function useActs(keys: readonly string[]): readonly [boolean, (work: () => Promise<string>) => void] {
  const { voice, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const act = (work: () => Promise<string>): void =>
    run(async () => {
      try {
        announce(await work());
      } catch (fault) {
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
      await Promise.all(keys.map((key) => cache.refresh(key)));
    });
  return [busy, act];
}
