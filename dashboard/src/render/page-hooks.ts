import { useCallback, useEffect, useState } from 'preact/hooks';
import { followChanges, type StreamState } from '../api/changes.js';
import type { ChangeNotice } from '../state/live-cache.js';
import type { Language } from '../state/locale.js';
import { parseRoute, type Route } from '../state/route.js';
import { allTexts, ENGLISH_AT_START, firstTexts, type Texts } from '../state/texts.js';
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

/** When the first screen has long been drawn, the other texts no longer stand in anybody's way. */
const OTHER_TEXTS_AFTER_MS = 2_000;

/**
 * The texts of a language: first those of the frame and of a round, then all of them.
 * @param soon a screen is open that needs them all
 */
export function useTexts(language: Language, soon: boolean): Texts {
  const [texts, setTexts] = useState<Texts>(ENGLISH_AT_START);
  const done = texts.language === language && texts.complete;
  useEffect(() => {
    if (done) return undefined;
    let wanted = true;
    const take = (next: Texts): void => {
      // A screen that is open keeps its old words until all the new ones are there.
      if (wanted) setTexts((now) => (now.complete && !next.complete ? now : next));
    };
    const load = async (): Promise<void> => {
      take(await firstTexts(language));
      if (!soon) await new Promise((resolve) => setTimeout(resolve, OTHER_TEXTS_AFTER_MS));
      if (wanted) take(await allTexts(language));
    };
    // Without a signal, and with nothing kept, what has come so far has to do.
    load().catch((fault: unknown) => console.warn('not all texts could be fetched', fault));
    return () => {
      wanted = false;
    };
  }, [language, soon, done]);
  return texts;
}
