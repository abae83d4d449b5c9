import type { ChangeNotice } from '../state/live-cache.js';

export type StreamState = 'connecting' | 'live' | 'broken';

export interface ChangeStream {
  close(): void;
}

/**
 * Follows the server's change stream. The browser connects again by itself and names the last change it saw; after a
 * break `onGap` is called as well, since a page that slept for hours had better ask anew.
 */
export function followChanges(
  url: string,
  handlers: {
    readonly onChange: (change: ChangeNotice) => void;
    readonly onGap: () => void;
    readonly onState: (state: StreamState) => void;
  },
): ChangeStream {
  const source = new EventSource(url);
  let wasBroken = false;
  handlers.onState('connecting');
  source.onopen = () => {
    handlers.onState('live');
    if (wasBroken) handlers.onGap();
    wasBroken = false;
  };
  source.onerror = () => {
    wasBroken = true;
    handlers.onState('broken');
  };
  source.addEventListener('change', (event) => handlers.onChange(JSON.parse(event.data) as ChangeNotice));
  // Too much was missed to list it.
  source.addEventListener('reset', () => handlers.onGap());
  return { close: () => source.close() };
}
