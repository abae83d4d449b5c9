import { useCallback, useEffect, useState } from 'preact/hooks';
import { followChanges, type StreamState } from '../api/changes.js';
import type { ChangeNotice } from '../state/live-cache.js';
import { parseRoute, type Route } from '../state/route.js';
import { isLook, type Look, themeOf } from '../state/theme.js';

const LOOK_KEY = 'brimline.look';
const ZONE_KEY = 'brimline.zone';
/** Changes come in bursts; the page takes them together. */
const GATHER_MS = 150;

export function useRoute(): Route | null {
  const [route, setRoute] = useState(() => parseRoute(location.hash));
  useEffect(() => {
    const follow = (): void => setRoute(parseRoute(location.hash));
    addEventListener('hashchange', follow);
    // The address may have changed between the first drawing and now.
    follow();
    return () => removeEventListener('hashchange', follow);
  }, []);
  return route;
}

export function useLook(): readonly [Look, (look: Look) => void] {
  const [look, setLook] = useState<Look>(() => {
    const kept = localStorage.getItem(LOOK_KEY);
    return isLook(kept) ? kept : 'auto';
  });
  useEffect(() => {
    const device = matchMedia('(prefers-color-scheme: dark)');
    const apply = (): void => {
      document.documentElement.dataset.theme = themeOf(look, device.matches);
    };
    apply();
    device.addEventListener('change', apply);
    return () => device.removeEventListener('change', apply);
  }, [look]);
  const keep = useCallback((next: Look) => {
    localStorage.setItem(LOOK_KEY, next);
    setLook(next);
  }, []);
  return [look, keep];
}

/** Follows the change stream while somebody is signed in. */
export function useStream(
  url: string,
  signedIn: boolean,
  handlers: { readonly onChanges: (changes: readonly ChangeNotice[]) => void; readonly onGap: () => void },
): StreamState {
  const [state, setState] = useState<StreamState>('connecting');
  useEffect(() => {
    if (!signedIn) return undefined;
    let gathered: ChangeNotice[] = [];
    let timer: ReturnType<typeof setTimeout> | null = null;
    const stream = followChanges(url, {
      onChange: (change) => {
        gathered.push(change);
        timer ??= setTimeout(() => {
          timer = null;
          const together = gathered;
          gathered = [];
          handlers.onChanges(together);
        }, GATHER_MS);
      },
      onGap: handlers.onGap,
      onState: setState,
    });
    return () => {
      stream.close();
      if (timer !== null) clearTimeout(timer);
    };
  }, [url, signedIn, handlers]);
  return state;
}

/** The zone in which the crew works, as the last view told it; until then the device's own. */
export function useHomeZone(): readonly [string, (zone: string) => void] {
  const [zone, setZone] = useState(
    () => localStorage.getItem(ZONE_KEY) ?? Intl.DateTimeFormat().resolvedOptions().timeZone,
  );
  const keep = useCallback((next: string) => {
    localStorage.setItem(ZONE_KEY, next);
    setZone(next);
  }, []);
  return [zone, keep];
}
