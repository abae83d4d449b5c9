import { readFileSync } from 'node:fs';

/** What a process did to a file, as a trace of its system calls tells it. */
export interface FileStep {
  /** When the call had returned, epoch ms. */
  readonly atMs: number;
  readonly file: string;
  readonly what:
    | { readonly kind: 'write'; readonly offset: number; readonly bytes: Buffer }
    | { readonly kind: 'truncate'; readonly size: number }
    | { readonly kind: 'sync' };
}

/** For strace: every write and flush of the named files with its bytes, its place and its time. */
export function traceArguments(files: readonly string[], output: string): readonly string[] {
  return [
    'strace',
    '-f',
    '-y',
    '-ttt',
    '-T',
    '-xx',
    ...['-s', '1000000'],
    ...['-e', 'trace=pwrite64,write,ftruncate,fdatasync,fsync'],
    ...files.flatMap((file) => ['-P', file]),
    ...['-o', output],
  ];
}

const CALL =
  /^(?:\d+\s+)?(?<at>\d+\.\d+) (?<call>pwrite64|write|ftruncate|fdatasync|fsync)\(\d+<(?<file>(?:\\x[0-9a-f]{2})+|[^>]*)>(?<rest>.*)$/;
const RESUMED = /^(?<pid>\d+)\s+(?<at>\d+\.\d+) <\.\.\. (?<call>\w+) resumed>(?<rest>.*)$/;
const UNFINISHED = ' <unfinished ...>';

/**
 * Reads a trace in the order in which calls returned.
 * @throws Error at a line that it does not understand: a step that is left out would make the test blind
 */
export function readTrace(output: string): readonly FileStep[] {
  const waiting = new Map<string, string>();
  const steps: FileStep[] = [];
  for (const line of readFileSync(output, 'latin1').split('\n')) {
    if (line === '' || line.includes('+++ ') || line.includes('--- ')) continue;
    const pid = /^\d+(?=\s+\d+\.\d+ )/.exec(line)?.[0] ?? '';
    if (line.endsWith(UNFINISHED)) {
      waiting.set(pid, line.slice(0, -UNFINISHED.length));
      continue;
    }
    const resumed = RESUMED.exec(line);
    const whole = resumed === null ? line : `${waiting.get(pid) ?? ''}${resumed.groups?.rest ?? ''}`;
    const step = readCall(whole);
    if (step !== null) steps.push(step);
  }
  return steps.sort((a, b) => a.atMs - b.atMs);
}

/** Null for a call that failed or was never finished: the process was killed in it. */
function readCall(line: string): FileStep | null {
  const found = CALL.exec(line)?.groups;
  if (found === undefined) throw new Error(`not a line of the trace that was expected: ${line.slice(0, 200)}`);
  const tail = /\)\s+= (?<result>-?\d+)[^<]*(?:<(?<took>\d+\.\d+)>)?$/.exec(found.rest ?? '')?.groups;
  if (tail === undefined || Number(tail.result) < 0) return null;
  const atMs = (Number(found.at) + Number(tail.took ?? 0)) * 1000;
  const file = decoded(String(found.file));
  const rest = String(found.rest);
  if (found.call === 'fsync' || found.call === 'fdatasync') return { atMs, file, what: { kind: 'sync' } };
  if (found.call === 'ftruncate') {
    return { atMs, file, what: { kind: 'truncate', size: Number(/^, (\d+)/.exec(rest)?.[1]) } };
  }
  const written = /^, "(?<bytes>(?:\\x[0-9a-f]{2})*)"(?<cut>\.\.\.)?, (?<length>\d+)(?:, (?<offset>\d+))?\)/.exec(
    rest,
  )?.groups;
  if (written === undefined || written.cut !== undefined || written.offset === undefined) {
    throw new Error(`not a write that can be replayed: ${line.slice(0, 200)}`);
  }
  const bytes = Buffer.from(String(written.bytes).replaceAll('\\x', ''), 'hex');
  return { atMs, file, what: { kind: 'write', offset: Number(written.offset), bytes } };
}

function decoded(text: string): string {
  return text.startsWith('\\x') ? Buffer.from(text.replaceAll('\\x', ''), 'hex').toString('utf8') : text;
}
