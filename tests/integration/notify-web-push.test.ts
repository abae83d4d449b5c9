import {
  createDecipheriv,
  createECDH,
  createPublicKey,
  createVerify,
  type ECDH,
  hkdfSync,
  randomBytes,
} from 'node:crypto';
import https from 'node:https';
import type { AddressInfo } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import webPush from 'web-push';
import { topicOf, webPushChannel } from '../../src/notify/web-push.js';
import { rendered } from '../support/notify-fixtures.js';
import { LOCALHOST_CERT_PEM, LOCALHOST_KEY_PEM } from '../support/tls.js';

/** The browser's side of RFC 8291 section 3 and RFC 8188 section 2, written from the documents. */
function decrypt(body: Buffer, receiver: ECDH, auth: Buffer): string {
  const salt = body.subarray(0, 16);
  const idLength = body.readUInt8(20);
  const senderPublic = body.subarray(21, 21 + idLength);
  const sealed = body.subarray(21 + idLength);
  const shared = receiver.computeSecret(senderPublic);
  const info = Buffer.concat([Buffer.from('WebPush: info\0'), receiver.getPublicKey(), senderPublic]);
  const ikm = Buffer.from(hkdfSync('sha256', shared, auth, info, 32));
  const key = Buffer.from(hkdfSync('sha256', ikm, salt, Buffer.from('Content-Encoding: aes128gcm\0'), 16));
  const nonce = Buffer.from(hkdfSync('sha256', ikm, salt, Buffer.from('Content-Encoding: nonce\0'), 12));
  const decipher = createDecipheriv('aes-128-gcm', key, nonce);
  decipher.setAuthTag(sealed.subarray(-16));
  const padded = Buffer.concat([decipher.update(sealed.subarray(0, -16)), decipher.final()]);
  return padded.subarray(0, padded.lastIndexOf(2)).toString('utf8');
}

describe('RFC 8291', () => {
  // M. Thomson, "Message Encryption for Web Push", RFC 8291, November 2017, section 5 and appendix A. This checks the
  // decryption by which the tests below judge what was sent.
  it('decrypts the example of section 5', () => {
    const receiver = createECDH('prime256v1');
    receiver.setPrivateKey(Buffer.from('q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94', 'base64url'));
    const body =
      'DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN';
    const plain = decrypt(Buffer.from(body, 'base64url'), receiver, Buffer.from('BTBZMqHH6r4Tts7J_aSIgg', 'base64url'));
    expect(plain).toBe('When I grow up, I want to be a watermelon');
  });
});

let server: https.Server | null = null;
afterEach(() => {
  server?.closeAllConnections();
  server?.close();
  server = null;
});

interface Received {
  readonly headers: import('node:http').IncomingHttpHeaders;
  readonly body: Buffer;
}

function listen(status: number, answerHeaders: Record<string, string> = {}) {
  const received: Received[] = [];
  const started = https.createServer({ key: LOCALHOST_KEY_PEM, cert: LOCALHOST_CERT_PEM }, (request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      received.push({ headers: request.headers, body: Buffer.concat(chunks) });
      response.writeHead(status, answerHeaders).end();
    });
  });
  server = started;
  return new Promise<{ origin: string; received: Received[] }>((resolve) =>
    started.listen(0, '127.0.0.1', () =>
      resolve({ origin: `https://localhost:${(started.address() as AddressInfo).port}`, received }),
    ),
  );
}

const vapid = webPush.generateVAPIDKeys();

function subscribe() {
  const receiver = createECDH('prime256v1');
  receiver.generateKeys();
  const auth = randomBytes(16);
  const secret = JSON.stringify({
    p256dh: receiver.getPublicKey().toString('base64url'),
    auth: auth.toString('base64url'),
  });
  return { receiver, auth, secret };
}

const channel = () =>
  webPushChannel(
    { contact: 'mailto:owner@localhost', publicKey: vapid.publicKey, privateKey: vapid.privateKey },
    new https.Agent({ ca: LOCALHOST_CERT_PEM }),
  );

describe('web push', () => {
  it('can be read by the subscribed browser alone, and names its sender', async () => {
    const { origin, received } = await listen(201);
    const { receiver, auth, secret } = subscribe();
    const outcome = await channel().deliver(
      rendered({ channel: 'web_push', target: `${origin}/push/abc`, secret }, { urgent: true }),
    );
    expect(outcome).toEqual({ kind: 'delivered' });

    const { headers, body } = received[0]!;
    expect(JSON.parse(decrypt(body, receiver, auth))).toMatchObject({
      id: 'alert-7.2.mail-1',
      title: 'Harbour terrace: 2 pots, 41 L by Tuesday',
      withdrawn: false,
    });
    expect(headers['content-encoding']).toBe('aes128gcm');
    expect(headers.urgency).toBe('high');
    expect(Number(headers.ttl)).toBe(86_400);
    expect(headers.topic).toBe(topicOf('stop/S4'));
    expect(String(headers.topic)).toMatch(/^[A-Za-z0-9_-]{1,32}$/);

    // RFC 8292 section 2: a JWT by the server's key, for the push service's origin, valid at most 24 h.
    const token = /^vapid t=([^,]+), k=(.+)$/.exec(String(headers.authorization));
    const [head, claims, signed] = token![1]!.split('.') as [string, string, string];
    const point = Buffer.from(token![2]!, 'base64url');
    const key = createPublicKey({
      key: {
        kty: 'EC',
        crv: 'P-256',
        x: point.subarray(1, 33).toString('base64url'),
        y: point.subarray(33).toString('base64url'),
      },
      format: 'jwk',
    });
    const verifier = createVerify('sha256').update(`${head}.${claims}`);
    expect(verifier.verify({ key, dsaEncoding: 'ieee-p1363' }, Buffer.from(signed, 'base64url'))).toBe(true);
    const { aud, exp } = JSON.parse(Buffer.from(claims, 'base64url').toString('utf8'));
    expect(aud).toBe(origin);
    expect(exp - Date.now() / 1000).toBeLessThanOrEqual(86_400);
  });

  it('has the same topic for each revision, so that the newer replaces the older', async () => {
    const { origin, received } = await listen(201);
    const { secret } = subscribe();
    const target = `${origin}/push/abc`;
    await channel().deliver(rendered({ channel: 'web_push', target, secret }, { id: 'alert-7.1.push' }));
    await channel().deliver(
      rendered({ channel: 'web_push', target, secret }, { id: 'alert-7.2.push', withdrawal: true }),
    );
    expect(received[0]?.headers.topic).toBe(received[1]?.headers.topic);
  });

  // RFC 8030 sections 7.2, 7.3, 8.4
  it.each([
    [404, 'gone'],
    [410, 'gone'],
    [413, 'refused'],
    [429, 'failed'],
    [500, 'failed'],
  ])('takes the answer %i for %s', async (status, kind) => {
    const { origin } = await listen(status, { 'retry-after': '30' });
    const { secret } = subscribe();
    const outcome = await channel().deliver(rendered({ channel: 'web_push', target: `${origin}/push/abc`, secret }));
    expect(outcome.kind).toBe(kind);
    if (outcome.kind === 'failed') expect(outcome.retryAfterMs).toBe(30_000);
  });

  it('ends a subscription without keys', async () => {
    expect(await channel().deliver(rendered({ channel: 'web_push', target: 'https://localhost/x' }))).toMatchObject({
      kind: 'gone',
    });
  });
});
