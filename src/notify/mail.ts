import { rootCertificates } from 'node:tls';
import { createTransport } from 'nodemailer';
import type { Channel, DeliveryOutcome, RenderedEntry } from '../domain/ports/channel.js';

export interface MailSettings {
  readonly host: string;
  readonly port: number;
  /** True: TLS from the first byte; false: STARTTLS is demanded, since the mails name client sites. */
  readonly implicitTls: boolean;
  /** PEM of authorities beside the usual ones; null for these alone. */
  readonly authorityPem: string | null;
  readonly user: string | null;
  readonly password: string | null;
  readonly from: string;
  /** Right-hand side of the Message-ID. */
  readonly domain: string;
}

const TIMEOUT_MS = 20_000;

/** Mail over SMTP. The Message-ID is made from the entry's id, so that a repeat is the same mail. */
export function mailChannel(settings: MailSettings): Channel {
  const transport = createTransport({
    host: settings.host,
    port: settings.port,
    secure: settings.implicitTls,
    requireTLS: !settings.implicitTls,
    connectionTimeout: TIMEOUT_MS,
    greetingTimeout: TIMEOUT_MS,
    socketTimeout: TIMEOUT_MS,
    ...(settings.authorityPem === null ? {} : { tls: { ca: [...rootCertificates, settings.authorityPem] } }),
    ...(settings.user === null ? {} : { auth: { user: settings.user, pass: settings.password ?? '' } }),
  });
  return {
    kind: 'email',
    deliver: async (rendered) => {
      try {
        await transport.sendMail(mailOf(rendered, settings));
        return { kind: 'delivered' };
      } catch (error) {
        return outcomeOf(error);
      }
    },
    close: async () => transport.close(),
  };
}

function mailOf(rendered: RenderedEntry, settings: MailSettings) {
  const { entry, address, subject, lines, link } = rendered;
  const thread = `<${Buffer.from(`${entry.topic}/${address.id}`).toString('base64url')}@${settings.domain}>`;
  return {
    from: settings.from,
    to: address.target,
    subject,
    text: [...lines, ...(link === null ? [] : ['', link])].join('\n'),
    // RFC 5322 section 3.2.3: an atom holds no colon.
    messageId: `<${entry.id.replaceAll(/[^A-Za-z0-9.-]/g, '-')}@${settings.domain}>`,
    // Later mails about the same stop stand below the first one in the reader's mailbox.
    references: thread,
    inReplyTo: thread,
    headers: { 'Auto-Submitted': 'auto-generated', ...(entry.urgent ? { Importance: 'high' } : {}) },
  };
}

/** RFC 5321 section 4.2.1: replies 5yz are permanent, 4yz are transient. */
function outcomeOf(error: unknown): DeliveryOutcome {
  const reason = error instanceof Error ? error.message : String(error);
  const code = error instanceof Error && 'responseCode' in error ? Number(error.responseCode) : null;
  const command = error instanceof Error && 'command' in error ? String(error.command) : '';
  const isPermanent = code !== null && code >= 500 && code < 600;
  // A refusal of STARTTLS or of the log-in is a matter of settings: the mail waits until they are mended.
  if (isPermanent && command === 'RCPT TO') return { kind: 'gone', reason };
  if (isPermanent && command === 'DATA') return { kind: 'refused', reason };
  return { kind: 'failed', reason, retryAfterMs: null };
}
