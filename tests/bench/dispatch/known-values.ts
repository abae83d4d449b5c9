import { existsSync, readFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import type { RawInstance } from './raw-instance.js';

/** The best known value from a file beside the instance; null where there is none. The planner never gets to see it. */
export function knownValue(path: string, raw: RawInstance): number | null {
  const folder = dirname(path);
  return (
    fromSolution(path) ??
    fromList(join(folder, 'solutions.txt'), raw.name) ??
    (raw.form === 'inventory' && raw.vehicles === 1
      ? fromOptima(join(folder, 'optima.csv'), raw.name, raw.policy)
      : null) ??
    (raw.form === 'inventory' && raw.policy === 'ML' ? fromBestKnown(join(folder, '..', 'best-known.csv'), path) : null)
  );
}

function lines(path: string): string[] {
  return existsSync(path) ? readFileSync(path, 'utf8').split(/\r?\n/) : [];
}

/** CVRPLIB's `.sol`: a line `Cost VALUE`. */
function fromSolution(path: string): number | null {
  for (const line of lines(path.replace(/\.\w+$/, '.sol'))) {
    const found = /^\s*Cost\s+([\d.]+)/i.exec(line);
    if (found !== null) return Number(found[1]);
  }
  return null;
}

/** TSPLIB's list: `name : value`. */
function fromList(path: string, name: string): number | null {
  for (const line of lines(path)) {
    const found = /^\s*(\S+)\s*:\s*(\d+)/.exec(line);
    if (found !== null && found[1] === name) return Number(found[2]);
  }
  return null;
}

/** Values without the initial stock, by the head's column names. */
function fromOptima(path: string, name: string, policy: string): number | null {
  const [head, ...rows] = lines(path);
  const column = head?.split(',').findIndex((one) => one.startsWith('optimal_excl')) ?? -1;
  const [, group, instance] = /^([LH]\d+)_(.+)$/.exec(name) ?? [];
  for (const row of rows) {
    const cells = row.split(',');
    if (cells[0] === instance && cells[1] === group && cells[4] === policy) return Number(cells[column]);
  }
  return null;
}

/** Key: `S_` with the folder's name behind, or `L_` with the group from the file's name behind. */
function fromBestKnown(path: string, instancePath: string): number | null {
  const name = basename(instancePath, '.dat');
  const group = basename(dirname(instancePath));
  const big = /^([LH]\d+)_(.+)$/.exec(name);
  const key = big === null ? `S_${name}_${group}` : `L_${big[2]}_${big[1]}`;
  for (const row of lines(path)) {
    const cells = row.split(',');
    if (cells[0] === key) return Number(cells[2]);
  }
  return null;
}
