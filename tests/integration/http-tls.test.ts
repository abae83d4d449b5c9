import { writeFile } from 'node:fs/promises';
import type { IncomingMessage } from 'node:http';
import { request } from 'node:https';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it, onTestFinished } from 'vitest';
import { startTestServer, TEST_PASSWORD, type TestServer } from '../support/server.js';
import { makeTempDir } from '../support/temp-store.js';
import { LOCALHOST_CERT_PEM } from '../support/tls.js';

const pem = (name: string): string => fileURLToPath(new URL(`../support/tls/${name}`, import.meta.url));
const CERTIFICATE = {
  BRIMLINE_TLS_CERT: pem('localhost-cert.pem'),
  BRIMLINE_TLS_KEY: pem('localhost-key.pem'),
};

async function start(environment: Record<string, string>): Promise<TestServer> {
  const server = await startTestServer({ environment });
  onTestFinished(() => server.close());
  return server;
}

function ask(url: string, method: string, body?: unknown): Promise<IncomingMessage> {
  return new Promise((resolve, reject) => {
    const headers = { 'content-type': 'application/json', 'x-brimline': '1' };
    const asked = request(url, { method, headers, ca: LOCALHOST_CERT_PEM, servername: 'localhost' }, (answer) => {
      answer.resume();
      answer.once('end', () => resolve(answer));
    });
    asked.once('error', reject);
    asked.end(body === undefined ? undefined : JSON.stringify(body));
  });
}

describe('a server with a certificate of its own', () => {
  it('speaks TLS, holds its cookie to this host, and has browsers come back over TLS only', async () => {
    const server = await start({
      ...CERTIFICATE,
      BRIMLINE_HTTP_TLS: '1',
      BRIMLINE_MQTTS_PORT: '0',
      BRIMLINE_MQTT_PORT: 'off',
    });
    expect(server.url).toMatch(/^https:/);
    expect(server.running.mqttsUrl).toMatch(/^mqtts:/);
    const person = await server.addPerson('owner');
    const answer = await ask(`${server.url}/api/v1/session`, 'POST', { login: person.login, password: TEST_PASSWORD });
    expect(answer.statusCode).toBe(200);
    expect(answer.headers['set-cookie']?.[0]).toMatch(/^__Host-brimline=.*; Path=\/; .*Secure/);
    expect(answer.headers['strict-transport-security']).toMatch(/^max-age=\d{7,}/);
    await expect(fetch(server.url.replace('https:', 'http:'))).rejects.toThrow();
  });

  it('shows its pages no script, style or frame that is not its own', async () => {
    const server = await start({ ...CERTIFICATE, BRIMLINE_HTTP_TLS: '1' });
    const answer = await ask(`${server.url}/`, 'GET');
    const policy = String(answer.headers['content-security-policy']);
    expect(policy).toContain("default-src 'self'");
    expect(policy).toContain("frame-ancestors 'none'");
    expect(policy).not.toMatch(/unsafe|\*|https?:/);
  });

  it.each([
    ['a key that belongs to another certificate', 'mixed'],
    ['a file that is not there', 'missing'],
  ])('does not start with %s, and says which files', async (_what, kind) => {
    const dir = await makeTempDir();
    const key = join(dir, 'key.pem');
    if (kind === 'mixed') await writeFile(key, 'not a key');
    const environment = { ...CERTIFICATE, BRIMLINE_TLS_KEY: key, BRIMLINE_HTTP_TLS: '1' };
    await expect(startTestServer({ environment })).rejects.toMatchObject({
      code: 'file_unreadable',
      message: expect.stringContaining(key),
    });
  });
});
