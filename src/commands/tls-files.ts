import { readFileSync, statSync } from 'node:fs';
import { createSecureContext } from 'node:tls';
import type { TlsSettings } from '../config.js';
import { DomainError } from '../domain/errors.js';
import type { Log } from '../domain/ports/log.js';

/** What a TLS listener is made of, PEM. */
export interface TlsMaterial {
  readonly key: string;
  readonly cert: string;
  /** Whoever signed the certificates of nodes; null: nodes show none. */
  readonly clientCa: string | null;
}

/** Certificates are renewed every few weeks by a program that writes the files anew; nobody restarts the server for it. */
const LOOK_MS = 60_000;

/**
 * Reads the files and sees whether key and certificate belong together.
 * @throws DomainError `file_unreadable` in words that name the file
 */
export function readTls({ certFile, keyFile, clientCaFile }: TlsSettings): TlsMaterial {
  const material = {
    cert: read(certFile, 'the certificate (BRIMLINE_TLS_CERT)'),
    key: read(keyFile, 'the key (BRIMLINE_TLS_KEY)'),
    clientCa: clientCaFile === null ? null : read(clientCaFile, 'the authority of nodes (BRIMLINE_MQTT_CLIENT_CA)'),
  };
  try {
    createSecureContext({
      key: material.key,
      cert: material.cert,
      ...(material.clientCa ? { ca: material.clientCa } : {}),
    });
  } catch (cause) {
    const reason = cause instanceof Error ? cause.message : String(cause);
    throw new DomainError(
      'file_unreadable',
      `${certFile} and ${keyFile} make no certificate for TLS (${reason}). Both are PEM files, the certificate with its chain, the key without a passphrase.`,
      { cause },
    );
  }
  return material;
}

/** Hands on what the files hold whenever they have changed; what cannot be read is logged, and the former goes on. */
export function followTls(settings: TlsSettings, apply: (material: TlsMaterial) => void, log: Log): () => void {
  let seen = stampOf(settings);
  const timer = setInterval(() => {
    try {
      const now = stampOf(settings);
      if (now === seen) return;
      seen = now;
      apply(readTls(settings));
      log.info({ file: settings.certFile }, 'the certificate was renewed');
    } catch (error) {
      log.error({ err: error }, 'the renewed certificate cannot be used; the former one goes on');
    }
  }, LOOK_MS);
  timer.unref();
  return () => clearInterval(timer);
}

function stampOf({ certFile, keyFile, clientCaFile }: TlsSettings): string {
  const files = [certFile, keyFile, ...(clientCaFile === null ? [] : [clientCaFile])];
  return files.map((file) => statSync(file).mtimeMs).join(' ');
}

function read(file: string, what: string): string {
  try {
    return readFileSync(file, 'utf8');
  } catch (cause) {
    throw new DomainError(
      'file_unreadable',
      `${file} holds ${what} and cannot be read. Check the path and the right to read it.`,
      {
        cause,
      },
    );
  }
}
