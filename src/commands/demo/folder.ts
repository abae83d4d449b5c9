import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { z } from 'zod';
import { DomainError } from '../../domain/errors.js';
import type { EpochMs } from '../../domain/ids.js';

const stateSchema = z.object({ businessMs: z.number().int() });

/** Where a kept demo stood when it was stopped. */
export type DemoState = z.infer<typeof stateSchema>;

export interface DemoFolder {
  readonly dir: string;
  /** What the simulator writes: fleet, history, and the truth that the server never reads. */
  readonly fleetDir: string;
  readonly dataDir: string;
  readonly logFile: string;
  /** For the simulator; readable by this user only. */
  readonly credentialsFile: string;
  /** Null: a demo that begins anew. */
  readonly kept: DemoState | null;
}

const MARKER = 'demo.json';

/**
 * Makes the demo's folder ready: emptied, or as a demo left it.
 * @throws DomainError `conflict` for a folder with files in it that no demo made; nothing is removed then
 */
export async function prepareFolder(path: string, keep: boolean): Promise<DemoFolder> {
  const dir = resolve(path);
  const marker = join(dir, MARKER);
  const known = existsSync(marker);
  if (existsSync(dir) && !known && (await readdir(dir)).length > 0) {
    throw new DomainError(
      'conflict',
      `${dir} holds files that no demo made, so it is left alone. Choose another folder with --dir.`,
    );
  }
  const kept = known && keep ? stateOf(await readFile(marker, 'utf8')) : null;
  if (kept === null) await rm(dir, { recursive: true, force: true });
  await mkdir(dir, { recursive: true });
  const folder: DemoFolder = {
    dir,
    fleetDir: join(dir, 'fleet'),
    dataDir: join(dir, 'data'),
    logFile: join(dir, 'demo.log'),
    credentialsFile: join(dir, 'credentials.json'),
    kept,
  };
  // From here on the folder is known as a demo's, also where the rest is interrupted.
  if (kept === null) await writeFile(marker, '{}\n');
  return folder;
}

export async function saveState(folder: DemoFolder, businessMs: EpochMs): Promise<void> {
  const state: DemoState = { businessMs };
  await writeFile(join(folder.dir, MARKER), `${JSON.stringify(state)}\n`);
}

/** Null for a demo that was never ready. */
function stateOf(text: string): DemoState | null {
  const parsed = stateSchema.safeParse(JSON.parse(text));
  return parsed.success ? parsed.data : null;
}
