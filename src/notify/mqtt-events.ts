import type { Channel } from '../domain/ports/channel.js';
import { cloudEventOf } from './cloud-event.js';

/** Publishes alerts as CloudEvents on `events/<type>`, through whatever broker the program uses. */
export function mqttEventsChannel(
  source: string,
  publish: (topic: string, payload: string, retain: boolean) => Promise<void>,
): Channel {
  return {
    kind: 'mqtt',
    deliver: async (rendered) => {
      const event = cloudEventOf(rendered, source);
      try {
        await publish(`events/${event.type}`, JSON.stringify(event), false);
        return { kind: 'delivered' };
      } catch (error) {
        return { kind: 'failed', reason: error instanceof Error ? error.message : String(error), retryAfterMs: null };
      }
    },
    close: async () => undefined,
  };
}
