import { createHmac } from 'node:crypto';
import http from 'node:http';
import https from 'node:https';
import { rootCertificates } from 'node:tls';
import type { Channel, DeliveryOutcome } from '../domain/ports/channel.js';
import { cloudEventOf } from './cloud-event.js';
import { guardedLookup, isPrivateHost, privateReason } from './public-address.js';

export interface WebhookSettings {
  /** URI of this server, the events' source. */
  readonly source: string;
  /** Hosts that may be reached although they resolve to this server's own network. */
  readonly allowedPrivateHosts: readonly string[];
  /** PEM of authorities beside the usual ones; null for these alone. */
  readonly authorityPem?: string | null;
}

const TIMEOUT_MS = 15_000;
// A receiver's answer is read only to be thrown away; one that never ends is cut.
const MAX_ANSWER_BYTES = 65_536;

/**
 * Signed webhooks. The signature is HMAC-SHA-256 over `id.timestamp.body`, base64, so that neither can be exchanged
 * and an old message cannot be played again; the id is the same at each attempt.
 */
export function webhookChannel(settings: WebhookSettings): Channel {
  return {
    kind: 'webhook',
    deliver: async (rendered) => {
      const body = JSON.stringify(cloudEventOf(rendered, settings.source));
      const timestampS = Math.floor(Date.now() / 1000).toString();
      const headers = {
        'content-type': 'application/cloudevents+json; charset=utf-8',
        'content-length': Buffer.byteLength(body).toString(),
        'webhook-id': rendered.entry.id,
        'webhook-timestamp': timestampS,
        'webhook-signature': signature(rendered.address.secret ?? '', rendered.entry.id, timestampS, body),
        'user-agent': 'brimline',
      };
      return post(rendered.address.target, headers, body, settings);
    },
    close: async () => undefined,
  };
}

export function signature(secret: string, id: string, timestampS: string, body: string): string {
  return `v1,${createHmac('sha256', secret).update(`${id}.${timestampS}.${body}`).digest('base64')}`;
}

function post(
  target: string,
  headers: Record<string, string>,
  body: string,
  { allowedPrivateHosts, authorityPem }: WebhookSettings,
): Promise<DeliveryOutcome> {
  const url = URL.canParse(target) ? new URL(target) : null;
  if (url === null || (url.protocol !== 'https:' && url.protocol !== 'http:')) {
    return Promise.resolve({ kind: 'gone', reason: `${target} is not an http or https address` });
  }
  const mayBePrivate = allowedPrivateHosts.includes(url.hostname);
  if (!mayBePrivate && isPrivateHost(url.hostname)) {
    return Promise.resolve({ kind: 'gone', reason: privateReason(url.hostname) });
  }
  return new Promise((resolve) => {
    const request = (url.protocol === 'https:' ? https : http).request(
      url,
      {
        method: 'POST',
        headers,
        lookup: guardedLookup(allowedPrivateHosts),
        timeout: TIMEOUT_MS,
        ...(authorityPem == null ? {} : { ca: [...rootCertificates, authorityPem] }),
      },
      (response) => {
        let bytes = 0;
        response.on('data', (chunk: Buffer) => {
          bytes += chunk.length;
          if (bytes > MAX_ANSWER_BYTES) response.destroy();
        });
        response.on('close', () => resolve(outcomeOf(response.statusCode ?? 0, response.headers['retry-after'])));
        response.on('error', (error) => resolve({ kind: 'failed', reason: error.message, retryAfterMs: null }));
      },
    );
    request.on('timeout', () => request.destroy(new Error(`no answer within ${TIMEOUT_MS / 1000} s`)));
    request.on('error', (error) => resolve({ kind: 'failed', reason: error.message, retryAfterMs: null }));
    request.end(body);
  });
}

function outcomeOf(status: number, retryAfter: string | undefined): DeliveryOutcome {
  if (status >= 200 && status < 300) return { kind: 'delivered' };
  const reason = `the receiver answered ${status}`;
  if (status === 410) return { kind: 'gone', reason };
  const seconds = Number(retryAfter);
  return { kind: 'failed', reason, retryAfterMs: Number.isFinite(seconds) && seconds > 0 ? seconds * 1000 : null };
}
