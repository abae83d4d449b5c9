import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { App } from '../app/context.js';
import type { Reachability } from '../app/fieldwork/contacts.js';
import { NOTIFY_STAGE } from '../app/fieldwork/notify-stage.js';
import { OutboxRunner } from '../app/fieldwork/outbox-runner.js';
import { voiceOfAddress } from '../app/fieldwork/voices.js';
import { addressIn, type Settings } from '../config.js';
import { DomainError } from '../domain/errors.js';
import type { Channel } from '../domain/ports/channel.js';
import type { Log } from '../domain/ports/log.js';
import { mailChannel } from '../notify/mail.js';
import { mqttEventsChannel } from '../notify/mqtt-events.js';
import { PUSH_KEYS_FILE, pushKeysIn } from '../notify/push-keys.js';
import { endpointFault, pushAgent, webPushChannel } from '../notify/web-push.js';
import { webhookChannel } from '../notify/webhook.js';
import { StageLoop } from './stage-loop.js';
import { systemRng } from './start-ingest.js';

/** The way out to people and systems. */
export interface Notify {
  readonly reach: Reachability;
  /** There may be something to deliver. */
  wake(): void;
  /** Resolves when nothing that is due waits any more. */
  idle(): Promise<void>;
  /** Lets the attempts at work end, takes no more, and closes the channels. What waits goes out after the next start. */
  close(): Promise<void>;
}

/** Entries come due by time as well as by commits. */
const LOOK_MS = 1_000;
/** Source of events where the server has no address that others can reach: a relative reference, as CloudEvents allow. */
const NAMELESS_SOURCE = '/brimline';
/** The address under which the topics `events/…` are served. */
const EVENTS_ADDRESS = 'mqtt-events';

/**
 * Sets up the channels and delivers what the outbox holds, each channel by itself, so that one that hangs holds up no
 * other.
 * @param publish to the broker, whichever it is
 * @throws DomainError `file_unreadable` for the file of authorities, `store_damaged` for the file of push keys
 */
export async function startNotify(
  app: App,
  settings: Settings,
  publish: (topic: string, payload: string, options: { readonly retain: boolean }) => Promise<void>,
  log: Log,
): Promise<Notify> {
  const { publicUrl } = settings.http;
  const { mail, pushContact, privateHosts, authorityFile } = settings.notify;
  const authorityPem = authorityFile === null ? null : await readAuthorities(authorityFile);
  const source = publicUrl ?? NAMELESS_SOURCE;
  const keys = pushContact === null ? null : await pushKeysIn(join(settings.dataDir, PUSH_KEYS_FILE));
  const channels: Channel[] = [
    mqttEventsChannel(source, (topic, payload, retain) => publish(topic, payload, { retain })),
    webhookChannel({ source, allowedPrivateHosts: privateHosts, authorityPem }),
  ];
  if (mail !== null) {
    const domain = addressIn(mail.from).split('@')[1] ?? mail.host;
    channels.push(mailChannel({ ...mail, domain, authorityPem }));
  }
  if (keys !== null && pushContact !== null) {
    channels.push(webPushChannel({ contact: pushContact, ...keys }, pushAgent(privateHosts, authorityPem)));
  }
  await serveEventTopics(app);

  const runner = new OutboxRunner(app, {
    channels,
    rng: systemRng,
    linkOf: (topic) => (publicUrl === null ? null : `${publicUrl}/${pageOf(topic)}`),
    voiceOf: (address) => voiceOfAddress(app, address),
  });
  const loops = [
    new StageLoop([{ name: 'outbox', step: async () => (await runner.dropOutlived()) > 0 }], log, Date.now),
    ...runner.channels.map((kind) => {
      const stage = { name: `outbox ${kind}`, step: async () => (await runner.runChannel(kind)) > 0 };
      return new StageLoop([stage], log, Date.now);
    }),
  ];
  const wake = (): void => {
    for (const loop of loops) loop.wake();
  };
  const unfollow = app.store.onCommit(wake);
  const look = setInterval(wake, LOOK_MS);
  wake();
  return {
    reach: {
      sendsMail: mail !== null,
      pushPublicKey: keys?.publicKey ?? null,
      endpointFault: (target) => endpointFault(target, privateHosts),
    },
    wake,
    idle: async () => {
      for (const loop of loops) await loop.idle();
    },
    close: async () => {
      unfollow();
      clearInterval(look);
      runner.stop();
      await Promise.all(loops.map((loop) => loop.stop()));
      await runner.close();
    },
  };
}

async function readAuthorities(file: string): Promise<string> {
  try {
    return await readFile(file, 'utf8');
  } catch (cause) {
    throw new DomainError(
      'file_unreadable',
      `${file}, named by BRIMLINE_CA_FILE, cannot be read: ${cause instanceof Error ? cause.message : String(cause)}. Check the path and who may read it.`,
      { cause },
    );
  }
}

/** The broker serves the whole firm; nobody has to set that up. */
async function serveEventTopics(app: App): Promise<void> {
  if ((await app.store.notify.address(EVENTS_ADDRESS)) !== null) return;
  const nowMs = app.clock.nowMs();
  await app.store.commit({
    atMs: nowMs,
    actor: { kind: 'stage', id: NOTIFY_STAGE },
    writes: [
      {
        kind: 'address',
        row: {
          id: EVENTS_ADDRESS,
          personId: null,
          channel: 'mqtt',
          target: 'events/',
          secret: null,
          createdMs: nowMs,
          endedMs: null,
        },
      },
    ],
    cursor: null,
  });
}

/** Where the page shows more of a topic. */
function pageOf(topic: string): string {
  return topic.startsWith('escalation:') ? '#/alarms' : '#/today';
}
