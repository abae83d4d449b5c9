import { spawn } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { mkdir, readdir, rename, rm, stat } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { text } from 'node:stream/consumers';
import type { LocalDay } from '../domain/ids.js';
import type { Backups } from '../domain/ports/backups.js';
import type { Log } from '../domain/ports/log.js';
import { PUSH_KEYS_FILE } from '../notify/push-keys.js';

/** Where the server keeps backups of its own, and how many. */
export interface BackupSettings {
  readonly dir: string;
  /** The newest so many days; older ones are removed once a newer one is good. */
  readonly keepDays: number;
}

export interface DailyBackupOptions extends BackupSettings {
  readonly dataDir: string;
  /** Keys of what is kept sealed, with which a backup is tried. */
  readonly keyFile: string;
  /** Arguments for node that start this program, before the name of a command. */
  readonly program: readonly string[];
  readonly log: Log;
}

const GOOD = /^brimline-\d{4}-\d{2}-\d{2}\.sqlite$/;
const UNTRIED = /^untried-/;

/**
 * One backup a day, tried by restoring it before it gets its name. The copying and the trying are processes of their own,
 * so that they hold nobody up. The folder is the only memory: a file `brimline-DAY.sqlite` in it is a backup that would do,
 * `untried-DAY-ATTEMPT.sqlite` is one that was refused or broken off, and stays until the next attempt. Each attempt has
 * its own name: of a server that was killed a copy may still be under way, and must not come into the next one's file.
 */
export class DailyBackups implements Backups {
  readonly #options: DailyBackupOptions;
  #running: { readonly done: Promise<void>; readonly stop: AbortController } | null = null;
  #failed = 0;

  constructor(options: DailyBackupOptions) {
    this.#options = options;
  }

  /** Backups that failed since the start. */
  get failed(): number {
    return this.#failed;
  }

  request(day: LocalDay): void {
    if (this.#running !== null) return;
    const stop = new AbortController();
    const done = this.#make(day, stop.signal)
      .catch((error: unknown) => {
        if (stop.signal.aborted) return;
        this.#failed += 1;
        this.#options.log.error({ err: error, day }, 'the backup of the day failed and will be tried again');
      })
      .finally(() => {
        this.#running = null;
      });
    this.#running = { done, stop };
  }

  /** When the newest good backup was made, ms of the Unix time; null: there is none. */
  async newestMs(): Promise<number | null> {
    const newest = (await this.#good()).at(-1);
    return newest === undefined ? null : (await stat(join(this.#options.dir, newest))).mtimeMs;
  }

  /** Resolves when nothing is under way. */
  async settled(): Promise<void> {
    await this.#running?.done;
  }

  /** Breaks off what is under way. */
  async close(): Promise<void> {
    this.#running?.stop.abort();
    await this.settled();
  }

  async #make(day: LocalDay, signal: AbortSignal): Promise<void> {
    const { dir, dataDir, keyFile, log } = this.#options;
    const name = `brimline-${day}.sqlite`;
    if ((await this.#good()).includes(name)) return;
    await this.#removeUntried();
    const untried = join(dir, `untried-${day}-${randomUUID().slice(0, 8)}.sqlite`);
    await this.#run(['backup', '--data', dataDir, '--to', untried], signal);
    // The key file is made when the first secret is kept; until then there is nothing to open.
    const keys = existsSync(keyFile) ? ['--keys', keyFile] : [];
    await this.#run(['drill', '--from', untried, ...keys], signal);
    const file = join(dir, name);
    await renameIfThere(beside(untried), beside(file));
    await rename(untried, file);
    log.info({ file: resolve(file) }, 'made the backup of the day and tried it');
    await this.#letGo();
  }

  /** @throws Error with what the command said, where it ends with anything but success */
  async #run(args: readonly string[], signal: AbortSignal): Promise<void> {
    const child = spawn(process.execPath, [...this.#options.program, ...args], {
      signal,
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    const [[status], said] = await Promise.all([once(child, 'close'), text(child.stderr)]);
    if (status !== 0) throw new Error(`brimline ${args.join(' ')} ended with ${status}: ${said.trim()}`);
  }

  async #letGo(): Promise<void> {
    const { dir, keepDays } = this.#options;
    for (const name of (await this.#good()).slice(0, -keepDays)) {
      const file = join(dir, name);
      await rm(file);
      await rm(beside(file), { force: true });
    }
  }

  async #removeUntried(): Promise<void> {
    const { dir } = this.#options;
    for (const name of (await readdir(dir)).filter((name) => UNTRIED.test(name))) {
      await rm(join(dir, name), { force: true });
    }
  }

  /** Oldest first: the names sort by their days. The folder is made where it is not there yet. */
  async #good(): Promise<readonly string[]> {
    await mkdir(this.#options.dir, { recursive: true, mode: 0o700 });
    return (await readdir(this.#options.dir)).filter((name) => GOOD.test(name)).sort();
  }
}

function beside(backupFile: string): string {
  return `${backupFile}.${PUSH_KEYS_FILE}`;
}

async function renameIfThere(from: string, to: string): Promise<void> {
  try {
    await rename(from, to);
  } catch (error) {
    if (error instanceof Error && 'code' in error && error.code === 'ENOENT') return;
    throw error;
  }
}
