import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The project's folder or, in the built program, the folder of what was built. */
const ROOT = fileURLToPath(new URL('../../', import.meta.url));
/** What the programs started by tests are made of; the analysis and the pages are not among it. */
const BUILT_FROM = ['src/app', 'src/domain', 'src/ingest', 'src/store', 'tests/support'] as const;

/**
 * Arguments for node to run a program of this project in a process of its own: the built one where the build is not
 * older than the sources, as after `npm run build`, otherwise the source itself, which takes some seconds longer to load.
 * @param source path below the project's folder, for instance `tests/support/ingest-server.ts`
 */
export function programArguments(source: string): readonly string[] {
  const builtSource = source.replace(/\.ts$/, '.js');
  if (import.meta.url.endsWith('.js')) return [join(ROOT, builtSource)];
  const built = join(ROOT, 'dist', builtSource);
  const fresh =
    newestMs('.ts', '') <= newestMs('.js', 'dist') && statSync(built, { throwIfNoEntry: false }) !== undefined;
  return fresh ? [built] : ['--import', 'tsx', join(ROOT, source)];
}

function newestMs(ending: string, below: string): number {
  let newest = 0;
  for (const folder of BUILT_FROM) {
    const path = join(ROOT, below, folder);
    if (statSync(path, { throwIfNoEntry: false }) === undefined) continue;
    for (const name of readdirSync(path, { recursive: true, encoding: 'utf8' })) {
      if (name.endsWith(ending)) newest = Math.max(newest, statSync(join(path, name)).mtimeMs);
    }
  }
  return newest;
}
