import { createHmac } from 'node:crypto';
import { lookup as lookupAddress } from 'node:dns';
import http from 'node:http';
import https from 'node:https';
import { BlockList, isIP, type LookupFunction } from 'node:net';
import type { Channel, DeliveryOutcome } from '../domain/ports/channel.js';
import { cloudEventOf } from './cloud-event.js';

export interface WebhookSettings {
  /** URI of this server, the events' source. */
  readonly source: string;
  /** Hosts that may be reached although they resolve to this server's own network. */
  readonly allowedPrivateHosts: readonly string[];
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
      return post(rendered.address.target, headers, body, settings.allowedPrivateHosts);
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
  allowedPrivateHosts: readonly string[],
): Promise<DeliveryOutcome> {
  const url = URL.canParse(target) ? new URL(target) : null;
  if (url === null || (url.protocol !== 'https:' && url.protocol !== 'http:')) {
    return Promise.resolve({ kind: 'gone', reason: `${target} is not an http or https address` });
  }
  const mayBePrivate = allowedPrivateHosts.includes(url.hostname);
  const host = url.hostname.replace(/^\[|\]$/g, '');
  if (!mayBePrivate && isIP(host) !== 0 && isPrivate(host)) {
    return Promise.resolve({ kind: 'gone', reason: privateReason(url.hostname) });
  }
  return new Promise((resolve) => {
    const request = (url.protocol === 'https:' ? https : http).request(
      url,
      { method: 'POST', headers, lookup: mayBePrivate ? lookupAddress : publicLookup, timeout: TIMEOUT_MS },
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

// IANA special-purpose address registries (RFC 6890): a webhook must not reach what only this server can reach.
// Two lists: within one, an IPv4 address is also looked up as the IPv6 address that maps it.
const PRIVATE_IPV4 = new BlockList();
const PRIVATE_IPV6 = new BlockList();
for (const [net, prefix] of [
  ['0.0.0.0', 8],
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.0.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['224.0.0.0', 3],
] as const) {
  PRIVATE_IPV4.addSubnet(net, prefix, 'ipv4');
}
for (const [net, prefix] of [
  ['::', 127],
  ['::ffff:0:0', 96],
  ['64:ff9b::', 96],
  ['fc00::', 7],
  ['fe80::', 10],
  ['ff00::', 8],
] as const) {
  PRIVATE_IPV6.addSubnet(net, prefix, 'ipv6');
}

export function isPrivate(address: string): boolean {
  return isIP(address) === 6 ? PRIVATE_IPV6.check(address, 'ipv6') : PRIVATE_IPV4.check(address, 'ipv4');
}

const privateReason = (host: string): string =>
  `${host} is in this server's own network; allow it in the settings if that is meant`;

/** Checks the address that is then connected to, so that a name cannot resolve to another one in between. */
const publicLookup: LookupFunction = (hostname, options, callback) => {
  lookupAddress(hostname, { ...options, all: true }, (error, addresses) => {
    const first = addresses?.[0];
    if (error !== null || first === undefined) {
      callback(error ?? new Error(`${hostname} has no address`), '', 0);
      return;
    }
    if (addresses.some(({ address }) => isPrivate(address))) {
      callback(new Error(privateReason(hostname)), '', 0);
      return;
    }
    if (options.all === true) callback(null, addresses);
    else callback(null, first.address, first.family);
  });
};
