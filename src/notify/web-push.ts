import { createHash } from 'node:crypto';
import { Agent } from 'node:https';
import { rootCertificates } from 'node:tls';
import webPush from 'web-push';
import { z } from 'zod';
import type { Address } from '../domain/notify.js';
import type { Channel, DeliveryOutcome, RenderedEntry } from '../domain/ports/channel.js';
import { guardedLookup, isPrivateHost, privateReason } from './public-address.js';

export interface WebPushSettings {
  /** `mailto:` or `https:` address of who runs this server, RFC 8292 section 2.1. */
  readonly contact: string;
  readonly publicKey: string;
  readonly privateKey: string;
}

/** What the browser's subscription holds besides its endpoint. */
export const pushKeysSchema = z.object({ p256dh: z.string(), auth: z.string() });

const TIMEOUT_MS = 20_000;

/**
 * Connects to push services: what a browser names as its endpoint must not reach this server's own network.
 * @param allowedPrivateHosts hosts that may be reached all the same
 * @param authorityPem of authorities beside the usual ones
 */
export function pushAgent(allowedPrivateHosts: readonly string[], authorityPem: string | null): Agent {
  return new Agent({
    keepAlive: true,
    lookup: guardedLookup(allowedPrivateHosts),
    ...(authorityPem === null ? {} : { ca: [...rootCertificates, authorityPem] }),
  });
}

/** What is wrong with an endpoint, in words; null where nothing is. */
export function endpointFault(target: string, allowedPrivateHosts: readonly string[]): string | null {
  const url = URL.canParse(target) ? new URL(target) : null;
  if (url === null || url.protocol !== 'https:') return 'is not an https address';
  const mayBePrivate = allowedPrivateHosts.includes(url.hostname);
  return !mayBePrivate && isPrivateHost(url.hostname) ? privateReason(url.hostname) : null;
}

/**
 * Web push, RFC 8030, encrypted by RFC 8291 and signed by RFC 8292. A newer message of a topic replaces the
 * older.
 * @param agent for a push service behind an own authority or proxy; null for the usual ones
 */
export function webPushChannel(settings: WebPushSettings, agent: Agent | null): Channel {
  return {
    kind: 'web_push',
    deliver: async (rendered) => {
      const keys = keysOf(rendered.address);
      if (keys === null) return { kind: 'gone', reason: 'the subscription lacks its keys' };
      try {
        await webPush.sendNotification({ endpoint: rendered.address.target, keys }, payloadOf(rendered), {
          vapidDetails: {
            subject: settings.contact,
            publicKey: settings.publicKey,
            privateKey: settings.privateKey,
          },
          TTL: Math.max(0, Math.round((rendered.entry.expiresMs - rendered.entry.createdMs) / 1000)),
          urgency: rendered.entry.urgent ? 'high' : 'normal',
          topic: topicOf(rendered.entry.topic),
          contentEncoding: 'aes128gcm',
          timeout: TIMEOUT_MS,
          ...(agent === null ? {} : { agent }),
        });
        return { kind: 'delivered' };
      } catch (error) {
        return outcomeOf(error);
      }
    },
    close: async () => agent?.destroy(),
  };
}

/** RFC 8030 section 5.4: at most 32 characters of the base64url alphabet. */
export function topicOf(topic: string): string {
  return createHash('sha256').update(topic).digest('base64url').slice(0, 32);
}

function payloadOf(rendered: RenderedEntry): string {
  return JSON.stringify({
    id: rendered.entry.id,
    topic: rendered.entry.topic,
    withdrawn: rendered.entry.withdrawal,
    title: rendered.subject,
    body: rendered.lines.join('\n'),
    link: rendered.link,
  });
}

function keysOf(address: Address): { p256dh: string; auth: string } | null {
  if (address.secret === null) return null;
  const parsed = pushKeysSchema.safeParse(JSON.parse(address.secret));
  return parsed.success ? parsed.data : null;
}

/** RFC 8030 sections 7.2, 7.3 and 8.4: 404 and 410 end a subscription, 413 refuses the message, 429 asks to wait. */
function outcomeOf(error: unknown): DeliveryOutcome {
  if (!(error instanceof webPush.WebPushError)) {
    return { kind: 'failed', reason: error instanceof Error ? error.message : String(error), retryAfterMs: null };
  }
  const reason = `push service answered ${error.statusCode}`;
  if (error.statusCode === 404 || error.statusCode === 410) return { kind: 'gone', reason };
  if (error.statusCode === 400 || error.statusCode === 413) return { kind: 'refused', reason };
  const seconds = Number(error.headers['retry-after']);
  return { kind: 'failed', reason, retryAfterMs: Number.isFinite(seconds) && seconds > 0 ? seconds * 1000 : null };
}
