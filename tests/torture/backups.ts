import { type ChildProcess, spawn } from 'node:child_process';
import { copyFileSync, existsSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import Database from 'better-sqlite3';
import { damage, ledgerFaults } from './checks.js';
import { sleep } from './served.js';

const MAIN = fileURLToPath(new URL('../../src/main.js', import.meta.url));
const GOOD = /^brimline-.*\.sqlite$/;
const MADE_WITHIN_MS = 120_000;

export function startBackup(dir: string, to: string): ChildProcess {
  return spawn(process.execPath, [MAIN, 'backup', '--data', dir, '--to', to, '--replace'], { stdio: 'ignore' });
}

/** Half of the backups are let finish, although the server was killed under them; the others are killed as well. */
export async function ended(backup: ChildProcess): Promise<boolean> {
  if ((backup.pid ?? 0) % 2 === 0) backup.kill('SIGKILL');
  if (backup.exitCode !== null || backup.signalCode !== null) return backup.exitCode === 0;
  const code = await new Promise<number | null>((resolve) => backup.once('exit', (status) => resolve(status)));
  return code === 0;
}

/** A backup is either not there under its name, or whole. Nothing of it is left after the look. */
export function backupFaults(file: string): readonly string[] {
  try {
    if (!existsSync(file)) return [];
    const copy = `${file}.copy`;
    copyFileSync(file, copy);
    const db = new Database(copy, { readonly: true });
    try {
      return [...damage(db, 'full'), ...ledgerFaults(db)].map((fault) => `backup ${file}: ${fault}`);
    } finally {
      db.close();
      rmSync(copy, { force: true });
    }
  } finally {
    for (const suffix of ['', '.part', '.part-journal', '.part-wal', '.part-shm'])
      rmSync(file + suffix, { force: true });
  }
}

/** The backups that the server makes by itself: the copy of one that was killed goes on, and the next one begins anew. */
export class OwnBackups {
  readonly #dir: string;
  #brokenOff = 0;
  #whole = 0;

  constructor(dir: string) {
    this.#dir = dir;
  }

  get environment(): Readonly<Record<string, string>> {
    return { BRIMLINE_BACKUP_DIR: this.#dir };
  }

  get note(): string {
    return `${this.#brokenOff} of the server’s own backups broken off by a kill, ${this.#whole} finished`;
  }

  /** Looks at those under the name of a good one and takes them away, so that the next start makes another. */
  faults(): readonly string[] {
    const names = this.#names();
    const good = names.filter((name) => GOOD.test(name));
    this.#whole += good.length;
    if (good.length === 0 && names.length > 0) this.#brokenOff += 1;
    return good.flatMap((name) => backupFaults(join(this.#dir, name)));
  }

  /** Waits until the server that is left in peace has made one. */
  async untilMade(): Promise<readonly string[]> {
    const untilMs = Date.now() + MADE_WITHIN_MS;
    while (!this.#names().some((name) => GOOD.test(name))) {
      if (Date.now() > untilMs) return [`the server made no backup in ${MADE_WITHIN_MS / 1000} s`];
      await sleep(100);
    }
    return this.faults();
  }

  #names(): readonly string[] {
    return existsSync(this.#dir) ? readdirSync(this.#dir) : [];
  }
}
