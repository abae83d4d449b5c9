import { createCipheriv, createDecipheriv, randomBytes } from 'node:crypto';
import { closeSync, existsSync, fsyncSync, openSync, readFileSync, renameSync, statSync, writeSync } from 'node:fs';
import { dirname } from 'node:path';
import { z } from 'zod';
import { DomainError } from '../domain/errors.js';

/** What a row keeps of a text: which key sealed it, and nonce, tag and ciphertext in one. */
export interface Sealed {
  readonly keyId: string;
  readonly sealed: Uint8Array;
}

interface KeyRing {
  /** The key that seals; all others only open. */
  readonly current: string;
  readonly keys: Readonly<Record<string, string>>;
}

export const KEY_FILE_NAME = 'brimline-keys.json';

const CIPHER = 'aes-256-gcm';
const KEY_BYTES = 32;
/** 96 bits, the length that NIST SP 800-38D section 8.2 recommends. A key seals far fewer than 2^32 texts. */
const NONCE_BYTES = 12;
const TAG_BYTES = 16;

const ringSchema = z
  .object({
    current: z.string().min(1),
    keys: z.record(z.string(), z.string().regex(/^[A-Za-z0-9_-]{43}$/)),
  })
  .refine((ring) => ring.keys[ring.current] !== undefined);

/**
 * Seals texts with a key from a file that is not the database, so that a copy of the database alone tells no gate code.
 * The place of a text (table, column, key of the row) is authenticated with it: a sealed text that is moved to another
 * row does not open. The file is read when it is first needed, and made when the first text is sealed.
 */
export class Vault {
  readonly file: string;
  readonly #holdsSealed: () => boolean;
  #ring: KeyRing | null = null;

  /** @param holdsSealed whether anything was sealed before: then a missing file is a loss, and no new key is made */
  constructor(file: string, holdsSealed: () => boolean) {
    this.file = file;
    this.#holdsSealed = holdsSealed;
  }

  /** @throws DomainError `key_missing` where the key file is lost, `file_unreadable` where it cannot be made */
  seal(place: string, text: string): Sealed {
    const ring = this.#ring ?? this.#load() ?? this.#make();
    const nonce = randomBytes(NONCE_BYTES);
    const cipher = createCipheriv(CIPHER, keyOf(ring, ring.current), nonce, { authTagLength: TAG_BYTES });
    cipher.setAAD(Buffer.from(`${ring.current} ${place}`));
    const body = Buffer.concat([cipher.update(text, 'utf8'), cipher.final()]);
    return { keyId: ring.current, sealed: Buffer.concat([nonce, cipher.getAuthTag(), body]) };
  }

  /** @throws DomainError `key_missing` for a key that the file lacks, `store_damaged` for a text that was altered */
  open(place: string, { keyId, sealed }: Sealed): string {
    // Another process may have made a newer key since the file was read.
    const known = this.#ring?.keys[keyId] === undefined ? this.#load() : this.#ring;
    if (known?.keys[keyId] === undefined) throw this.#missing(keyId);
    const bytes = Buffer.from(sealed);
    const decipher = createDecipheriv(CIPHER, keyOf(known, keyId), bytes.subarray(0, NONCE_BYTES), {
      authTagLength: TAG_BYTES,
    });
    decipher.setAAD(Buffer.from(`${keyId} ${place}`));
    decipher.setAuthTag(bytes.subarray(NONCE_BYTES, NONCE_BYTES + TAG_BYTES));
    try {
      return Buffer.concat([decipher.update(bytes.subarray(NONCE_BYTES + TAG_BYTES)), decipher.final()]).toString(
        'utf8',
      );
    } catch (cause) {
      throw new DomainError(
        'store_damaged',
        `What is kept sealed at ${place} was altered, or ${this.file} holds another key of that name. Put the database and the key file back from the same backup.`,
        { cause },
      );
    }
  }

  /** Ids of the keys in the file; empty where there is none. */
  keyIds(): readonly string[] {
    return Object.keys(this.#load()?.keys ?? {});
  }

  /** Makes a new key that seals from now on; the older ones stay, since rows and backups still need them. */
  addKey(): string {
    const before = this.#load();
    if (before === null && this.#holdsSealed()) throw this.#missing(null);
    const id = freeId(Object.keys(before?.keys ?? {}));
    this.#write({ current: id, keys: { ...before?.keys, [id]: newKey() } });
    return id;
  }

  /** Drops every key but the one that seals. Whoever calls has resealed every row; older backups stay shut. */
  forgetOlderKeys(): void {
    const ring = this.#load();
    if (ring === null) return;
    this.#write({ current: ring.current, keys: { [ring.current]: ring.keys[ring.current] ?? '' } });
  }

  #load(): KeyRing | null {
    if (!existsSync(this.file)) return null;
    let text: string;
    try {
      text = readFileSync(this.file, 'utf8');
    } catch (cause) {
      throw new DomainError(
        'file_unreadable',
        `${this.file} holds the keys of gate codes and contacts, and cannot be read. Give the user that runs this program the right to read it.`,
        { cause },
      );
    }
    try {
      this.#ring = ringSchema.parse(JSON.parse(text));
    } catch (cause) {
      throw new DomainError(
        'key_missing',
        `${this.file} does not hold the keys of gate codes and contacts. Put the file back from a backup; all else goes on without it.`,
        { cause },
      );
    }
    return this.#ring;
  }

  #make(): KeyRing {
    if (this.#holdsSealed()) throw this.#missing(null);
    const ring = { current: 'k1', keys: { k1: newKey() } };
    try {
      // `wx`: another process that starts at the same time may have been faster; its key counts.
      writeDurably(this.file, ring, 'wx');
      this.#ring = ring;
      return ring;
    } catch (cause) {
      const theirs = cause instanceof Error && 'code' in cause && cause.code === 'EEXIST' ? this.#load() : null;
      if (theirs !== null) return theirs;
      throw new DomainError(
        'file_unreadable',
        `${this.file} is to hold the keys of gate codes and contacts, and cannot be made. Make its folder, give the user that runs this program the right to write there, or name another file with BRIMLINE_KEY_FILE.`,
        { cause },
      );
    }
  }

  #write(ring: KeyRing): void {
    const part = `${this.file}.part`;
    writeDurably(part, ring, 'w');
    renameSync(part, this.file);
    this.#ring = ring;
  }

  #missing(keyId: string | null): DomainError {
    const what = keyId === null ? 'The file with the keys' : `The key “${keyId}”`;
    return new DomainError(
      'key_missing',
      `${what} of gate codes and contacts is not there: ${this.file}. Put the file back from where you keep it apart from the backups, or name it with BRIMLINE_KEY_FILE; all else goes on without it.`,
    );
  }
}

/** What is odd about who may read the key file, in words; null where only its owner may, or there is none yet. */
export function keyFileTrouble(file: string): string | null {
  if (!existsSync(file)) return null;
  const others = statSync(file).mode & 0o077;
  return others === 0 ? null : `${file} may be read by others on this machine. Take that right away: chmod 600 ${file}`;
}

function keyOf(ring: KeyRing, id: string): Buffer {
  const key = Buffer.from(ring.keys[id] ?? '', 'base64url');
  if (key.length !== KEY_BYTES) throw new Error(`key ${id} has ${key.length} bytes`);
  return key;
}

const newKey = (): string => randomBytes(KEY_BYTES).toString('base64url');

function freeId(ids: readonly string[]): string {
  const highest = Math.max(0, ...ids.map((id) => Number(/^k(\d+)$/.exec(id)?.[1] ?? 0)));
  return `k${highest + 1}`;
}

/** On the disk before any text is sealed with a key of it. */
function writeDurably(file: string, ring: KeyRing, flag: 'w' | 'wx'): void {
  const handle = openSync(file, flag, 0o600);
  try {
    writeSync(handle, `${JSON.stringify(ring, null, 2)}\n`);
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
  const folder = openSync(dirname(file), 'r');
  try {
    fsyncSync(folder);
  } finally {
    closeSync(folder);
  }
}
