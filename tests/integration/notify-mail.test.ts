import { SMTPServer, type SMTPServerOptions } from 'smtp-server';
import { afterEach, describe, expect, it } from 'vitest';
import { type MailSettings, mailChannel } from '../../src/notify/mail.js';
import { rendered } from '../support/notify-fixtures.js';
import { LOCALHOST_CERT_PEM, LOCALHOST_KEY_PEM } from '../support/tls.js';

let server: SMTPServer | null = null;
afterEach(() => new Promise<void>((resolve) => (server === null ? resolve() : server.close(() => resolve()))));

interface Received {
  readonly secure: boolean;
  readonly text: string;
}

function listen(options: SMTPServerOptions, received: Received[]): Promise<MailSettings> {
  const started = new SMTPServer({
    key: LOCALHOST_KEY_PEM,
    cert: LOCALHOST_CERT_PEM,
    onAuth: (auth, _session, done) =>
      auth.password === 'pot-water' ? done(null, { user: auth.username ?? '' }) : done(new Error('wrong password')),
    onData: (stream, session, done) => {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', () => {
        received.push({ secure: session.secure, text: Buffer.concat(chunks).toString('utf8') });
        done();
      });
    },
    ...options,
  });
  server = started;
  return new Promise((resolve, reject) => {
    started.on('error', reject);
    const listening = started.listen(0, '127.0.0.1', () => {
      const address = listening.address();
      if (address === null || typeof address === 'string') throw new Error('no port');
      resolve({
        host: 'localhost',
        port: address.port,
        implicitTls: false,
        authorityPem: LOCALHOST_CERT_PEM,
        user: 'brimline',
        password: 'pot-water',
        from: 'Brimline <alerts@localhost>',
        domain: 'brimline.localhost',
      });
    });
  });
}

describe('mail', () => {
  it('is sent over STARTTLS with an id that a repeat bears again', async () => {
    const received: Received[] = [];
    const channel = mailChannel(await listen({}, received));
    const message = rendered({ target: 'crew@localhost' });
    expect(await channel.deliver(message)).toEqual({ kind: 'delivered' });
    expect(await channel.deliver(message)).toEqual({ kind: 'delivered' });
    await channel.close();

    expect(received.map(({ secure }) => secure)).toEqual([true, true]);
    const ids = received.map(({ text }) => /^Message-ID: (.*)$/m.exec(text)?.[1]);
    expect(ids).toEqual(['<alert-7.2.mail-1@brimline.localhost>', '<alert-7.2.mail-1@brimline.localhost>']);
    expect(received[0]?.text).toContain('Auto-Submitted: auto-generated');
  });

  it('refuses to speak to a server without TLS, and keeps the mail for another attempt', async () => {
    const received: Received[] = [];
    const channel = mailChannel(await listen({ disabledCommands: ['STARTTLS'] }, received));
    expect(await channel.deliver(rendered({}))).toMatchObject({ kind: 'failed' });
    await channel.close();
    expect(received).toEqual([]);
  });

  it('ends an address that the server says does not exist, but not one that is busy', async () => {
    const received: Received[] = [];
    const channel = mailChannel(
      await listen(
        {
          onRcptTo: ({ address }, _session, done) => {
            const responseCode = address.startsWith('nobody') ? 550 : address.startsWith('busy') ? 450 : 0;
            done(responseCode === 0 ? null : Object.assign(new Error('mailbox'), { responseCode }));
          },
        },
        received,
      ),
    );
    expect(await channel.deliver(rendered({ target: 'nobody@localhost' }))).toMatchObject({ kind: 'gone' });
    expect(await channel.deliver(rendered({ target: 'busy@localhost' }))).toMatchObject({ kind: 'failed' });
    await channel.close();
  });
});
