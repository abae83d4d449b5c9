import { createHmac } from 'node:crypto';
import http from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import { isPrivate } from '../../src/notify/public-address.js';
import { webhookChannel } from '../../src/notify/webhook.js';
import { rendered } from '../support/notify-fixtures.js';

let server: http.Server | null = null;
afterEach(() => {
  server?.closeAllConnections();
  server?.close();
  server = null;
});

interface Received {
  readonly headers: http.IncomingHttpHeaders;
  readonly body: string;
}

function listen(answer: (request: http.IncomingMessage, response: http.ServerResponse, body: string) => void) {
  const received: Received[] = [];
  const started = http.createServer((request, response) => {
    let body = '';
    request.on('data', (chunk: Buffer) => {
      body += chunk.toString('utf8');
    });
    request.on('end', () => {
      received.push({ headers: request.headers, body });
      answer(request, response, body);
    });
  });
  server = started;
  return new Promise<{ url: string; received: Received[] }>((resolve) =>
    started.listen(0, '127.0.0.1', () =>
      resolve({ url: `http://localhost:${(started.address() as AddressInfo).port}/hook`, received }),
    ),
  );
}

const channel = webhookChannel({ source: 'https://brimline.localhost', allowedPrivateHosts: ['localhost'] });

describe('a webhook', () => {
  it('carries a CloudEvent whose id, time and body are signed', async () => {
    const { url, received } = await listen((_request, response) => response.writeHead(204).end());
    expect(await channel.deliver(rendered({ target: url, secret: 'shared' }))).toEqual({ kind: 'delivered' });

    const { headers, body } = received[0]!;
    const event = JSON.parse(body);
    expect(event).toMatchObject({
      specversion: '1.0',
      id: 'alert-7.2.mail-1',
      type: 'alert.raised',
      subject: 'stop/S4',
    });
    expect(headers['content-type']).toContain('application/cloudevents+json');
    const signed = `${headers['webhook-id']}.${headers['webhook-timestamp']}.${body}`;
    expect(headers['webhook-signature']).toBe(`v1,${createHmac('sha256', 'shared').update(signed).digest('base64')}`);
  });

  it('bears the same id when it is sent again after a failure', async () => {
    let calls = 0;
    const { url, received } = await listen((_request, response) => {
      calls += 1;
      response.writeHead(calls === 1 ? 503 : 200, { 'retry-after': '7' }).end();
    });
    const message = rendered({ target: url, secret: 'shared' });
    expect(await channel.deliver(message)).toEqual({
      kind: 'failed',
      reason: 'the receiver answered 503',
      retryAfterMs: 7000,
    });
    expect(await channel.deliver(message)).toEqual({ kind: 'delivered' });
    expect(received.map(({ headers }) => headers['webhook-id'])).toEqual(['alert-7.2.mail-1', 'alert-7.2.mail-1']);
  });

  it('is ended by 410 and by an address that is none', async () => {
    const { url } = await listen((_request, response) => response.writeHead(410).end());
    expect(await channel.deliver(rendered({ target: url }))).toMatchObject({ kind: 'gone' });
    expect(await channel.deliver(rendered({ target: 'ftp://localhost/x' }))).toMatchObject({ kind: 'gone' });
    expect(await channel.deliver(rendered({ target: 'not an address' }))).toMatchObject({ kind: 'gone' });
  });

  it('cannot reach the server’s own network unless that host is allowed', async () => {
    const { url, received } = await listen((_request, response) => response.writeHead(200).end());
    const strict = webhookChannel({ source: 'https://brimline.localhost', allowedPrivateHosts: [] });
    const byName = await strict.deliver(rendered({ target: url }));
    const byNumber = await strict.deliver(rendered({ target: url.replace('localhost', '127.0.0.1') }));
    const bySixes = await strict.deliver(rendered({ target: url.replace('localhost', '[::ffff:127.0.0.1]') }));
    expect(byName).toMatchObject({ kind: 'failed' });
    expect(byNumber).toMatchObject({ kind: 'gone' });
    expect(bySixes).toMatchObject({ kind: 'gone' });
    expect(received).toEqual([]);
  });

  it.each(['10.1.2.3', '172.20.0.1', '192.168.7.7', '169.254.169.254', '127.0.0.2', '::1', 'fe80::1', 'fd00::5'])(
    'takes %s for a private address',
    (address) => expect(isPrivate(address)).toBe(true),
  );

  it.each(['1.1.1.1', '172.32.0.1', '2606:4700::1'])('takes %s for a public address', (address) =>
    expect(isPrivate(address)).toBe(false),
  );
});
