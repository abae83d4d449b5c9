import { createContext } from 'preact';
import { useCallback, useContext, useEffect, useRef, useState } from 'preact/hooks';
import type { StreamState } from '../api/changes.js';
import type { ApiClient } from '../api/client.js';
import type { Resources } from '../api/resources.js';
import type { Me } from '../api/views.js';
import type { DeviceStorage, VisitRecord } from '../api/visits.js';
import type { LiveCache, LiveQuery, LiveState } from '../state/live-cache.js';
import type { Outbox } from '../state/outbox.js';
import type { Look } from '../state/theme.js';
import type { Voice } from '../state/voice.js';

/** What every screen may use; made once a person is signed in. */
export interface AppContext {
  readonly me: Me;
  readonly client: ApiClient;
  readonly cache: LiveCache;
  readonly resources: Resources;
  readonly outbox: Outbox<VisitRecord>;
  readonly storage: DeviceStorage;
  readonly voice: Voice;
  readonly stream: StreamState;
  readonly look: Look;
  /** Business time. */
  nowMs(): number;
  setLook(look: Look): void;
  /** A view told in which zone the crew works. */
  setHomeZone(zone: string): void;
  setMe(me: Me): void;
  signOut(): Promise<void>;
  /** Says something at the foot of the screen, to eyes and screen readers; `undo` adds a button. */
  announce(text: string, undo?: () => void): void;
}

export const AppContextSlot = createContext<AppContext | null>(null);

export function useApp(): AppContext {
  const app = useContext(AppContextSlot);
  if (app === null) throw new Error('a screen was rendered outside of the application');
  return app;
}

/** A view of the server that stays true while it is on the page. `null`: nothing to look at yet. */
export function useLive<Data>(query: LiveQuery<Data> | null): LiveState<Data> {
  const { cache } = useApp();
  const [, redraw] = useState(0);
  const key = query?.key ?? null;
  const latest = useRef(query);
  latest.current = query;
  useEffect(() => {
    if (key === null || latest.current === null) return undefined;
    return cache.watch(latest.current, () => redraw((count) => count + 1));
  }, [cache, key]);
  return key === null ? { data: null, fault: null, loading: false } : cache.state<Data>(key);
}

/** Business time, drawn anew as it passes. */
export function useNowMs(everyMs = 20_000): number {
  const app = useApp();
  const [, redraw] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => redraw((count) => count + 1), everyMs);
    return () => clearInterval(timer);
  }, [everyMs]);
  return app.nowMs();
}

/** Keeps a function from running twice at once, and tells whether it runs. */
export function useBusy(): readonly [boolean, (run: () => Promise<void>) => void] {
  const [busy, setBusy] = useState(false);
  const running = useRef(false);
  const start = useCallback((run: () => Promise<void>) => {
    if (running.current) return;
    running.current = true;
    setBusy(true);
    void run().finally(() => {
      running.current = false;
      setBusy(false);
    });
  }, []);
  return [busy, start];
}
