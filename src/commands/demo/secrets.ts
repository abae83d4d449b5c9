import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import type { App } from '../../app/context.js';
import { GENERATED_SECRET_COST, generateSecret, hashSecret, PASSWORD_COST } from '../../app/people/secrets.js';
import type { Write } from '../../domain/change-set.js';
import type { Person } from '../../domain/registry.js';
import type { DemoFolder } from './folder.js';

/** Known to everybody who reads this, and therefore used by the demo only, which listens on this machine only. */
export const DEMO_PASSWORD = 'tern-and-tide';

const principalsSchema = z.array(
  z.object({
    id: z.string(),
    kind: z.enum(['node', 'gateway', 'station', 'subscriber']),
    siteId: z.string().nullable(),
    gatewayId: z.string().nullable(),
  }),
);

export interface DemoSecrets {
  readonly people: readonly Person[];
  /** MQTT passwords by principal. */
  readonly passwordOf: ReadonlyMap<string, string>;
}

/** Gives every person the demo's password, and every node, gateway and station a secret of its own. */
export async function makeSecrets(app: App, folder: DemoFolder): Promise<DemoSecrets> {
  const principals = principalsSchema.parse(
    JSON.parse(await readFile(join(folder.fleetDir, 'principals.json'), 'utf8')),
  );
  const people = await app.store.people.people();
  const passwordOf = new Map(principals.map(({ id }) => [id, typableSecret()]));
  const atMs = app.clock.nowMs();
  const passwordHash = await hashSecret(DEMO_PASSWORD, PASSWORD_COST);
  const credentials = principals.map(async ({ id, kind, siteId }): Promise<Write> => {
    const secretHash = await hashSecret(passwordOf.get(id) ?? '', GENERATED_SECRET_COST);
    return {
      kind: 'credential',
      row: {
        principalId: id,
        kind,
        siteId: kind === 'station' ? siteId : null,
        secretHash,
        createdMs: atMs,
        revokedMs: null,
        previousHash: null,
        previousUntilMs: null,
      },
    };
  });
  await app.store.commit({
    atMs,
    actor: { kind: 'command', id: 'demo' },
    writes: [
      ...people.map(({ id }): Write => ({ kind: 'person_secret', row: { personId: id, passwordHash } })),
      ...(await Promise.all(credentials)),
    ],
    cursor: null,
  });
  return { people, passwordOf };
}

/** Typed after an option on a command line, so it must not look like one. */
function typableSecret(): string {
  const secret = generateSecret();
  return secret.startsWith('-') ? typableSecret() : secret;
}

/** Writes what the simulator needs to speak as the nodes and the crews, for this user's eyes only. */
export async function writeCredentials(folder: DemoFolder, secrets: DemoSecrets, httpUrl: string): Promise<void> {
  const content = {
    httpUrl,
    principals: [...secrets.passwordOf].map(([id, password]) => ({ id, password })),
    people: secrets.people.map(({ login }) => ({ login, password: DEMO_PASSWORD })),
  };
  await writeFile(folder.credentialsFile, `${JSON.stringify(content)}\n`, { mode: 0o600 });
}
