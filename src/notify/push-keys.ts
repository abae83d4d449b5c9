import { readFile, writeFile } from 'node:fs/promises';
import webPush from 'web-push';
import { z } from 'zod';
import { DomainError } from '../domain/errors.js';

/** The pair by which push services and browsers know this server, RFC 8292; base64url. */
/** In the data folder. */
export const PUSH_KEYS_FILE = 'push-keys.json';

export interface PushKeys {
  readonly publicKey: string;
  readonly privateKey: string;
}

const schema = z.object({ publicKey: z.string().length(87), privateKey: z.string().length(43) });

/**
 * Reads the pair, or makes it on the first start. Browsers subscribe to the public key, so that a lost file means that
 * everybody has to subscribe again.
 * @throws DomainError `store_damaged` for a file that holds no such pair
 */
export async function pushKeysIn(file: string): Promise<PushKeys> {
  const kept = await readKept(file);
  if (kept !== null) return kept;
  const made: PushKeys = webPush.generateVAPIDKeys();
  try {
    // `wx`: another process that starts at the same time may have been faster; its pair counts.
    await writeFile(file, `${JSON.stringify(made)}\n`, { flag: 'wx', mode: 0o600 });
    return made;
  } catch (error) {
    const theirs = isCode(error, 'EEXIST') ? await readKept(file) : null;
    if (theirs === null) throw error;
    return theirs;
  }
}

async function readKept(file: string): Promise<PushKeys | null> {
  let text: string;
  try {
    text = await readFile(file, 'utf8');
  } catch (error) {
    if (isCode(error, 'ENOENT')) return null;
    throw error;
  }
  try {
    return schema.parse(JSON.parse(text));
  } catch (cause) {
    throw new DomainError(
      'store_damaged',
      `${file} does not hold the keys of web push. Put the file back from a backup, or remove it: new keys are made, and everybody has to allow alerts in the browser again.`,
      { cause },
    );
  }
}

function isCode(error: unknown, code: string): boolean {
  return error instanceof Error && 'code' in error && error.code === code;
}
