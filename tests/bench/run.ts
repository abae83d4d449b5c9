import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { nearestName } from '../../src/domain/nearest-name.js';

/** What each file of this folder exports as `benchmark`; `npm run bench NAME` finds it by the file's name. */
export interface Benchmark {
  readonly name: string;
  /** One line for the list. */
  readonly summary: string;
  /** What `--help` prints. */
  readonly help: string;
  /** Prints its figures; rejects where a figure or a check fails. */
  run(args: readonly string[]): Promise<void>;
}

const folder = fileURLToPath(new URL('.', import.meta.url));

function names(): string[] {
  return readdirSync(folder)
    .flatMap((file) => /^([a-z-]+)\.(?:js|ts)$/.exec(file)?.[1] ?? [])
    .filter((name) => name !== 'run')
    .sort();
}

async function load(name: string): Promise<Benchmark> {
  const ending = import.meta.url.endsWith('.ts') ? 'ts' : 'js';
  const module: unknown = await import(new URL(`./${name}.${ending}`, import.meta.url).href);
  if (typeof module === 'object' && module !== null && 'benchmark' in module) return module.benchmark as Benchmark;
  throw new Error(`tests/bench/${name}.ts exports no benchmark`);
}

async function main(args: readonly string[]): Promise<number> {
  const [name, ...rest] = args;
  const known = names();
  if (name === undefined || name === '--help' || name === '-h') {
    console.log('Usage: npm run --silent bench NAME -- [OPTIONS]; NAME --help tells its options.\n');
    for (const one of known) console.log(`  ${one.padEnd(12)} ${(await load(one)).summary}`);
    return name === undefined ? 2 : 0;
  }
  if (!known.includes(name)) {
    const near = nearestName(name, known);
    console.error(
      `There is no benchmark “${name}”.${near === null ? '' : ` Did you mean ${near}?`} There are: ${known.join(', ')}.`,
    );
    return 2;
  }
  const benchmark = await load(name);
  if (rest.includes('--help') || rest.includes('-h')) {
    console.log(benchmark.help);
    return 0;
  }
  await benchmark.run(rest);
  return 0;
}

main(process.argv.slice(2)).then(
  (status) => {
    process.exitCode = status;
  },
  (error: unknown) => {
    console.error(error instanceof Error ? error.message : error);
    process.exitCode = 1;
  },
);
