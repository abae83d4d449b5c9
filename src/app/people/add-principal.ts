import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { Credential, PrincipalKind } from '../../domain/credential.js';
import { DomainError } from '../../domain/errors.js';
import { type EpochMs, type GatewayId, ID_PATTERN, type SiteId } from '../../domain/ids.js';
import type { App } from '../context.js';
import { overlapOf } from './credentials.js';
import { GENERATED_SECRET_COST, generateSecret, hashSecret } from './secrets.js';

export interface NewPrincipal {
  readonly id: string;
  readonly kind: PrincipalKind;
  /** The site of a station, or of a gateway that is new. */
  readonly siteId: SiteId | null;
  /** The gateway that may publish for a node. */
  readonly gatewayId: GatewayId | null;
  /** Take the place of credentials that are there already. */
  readonly replace: boolean;
  /** Hours for which the replaced secret still opens the door; left out: it stops at once. */
  readonly overlap?: { readonly hours: number; readonly nowMs: EpochMs };
}

/**
 * Makes MQTT credentials from the terminal of the machine, where nobody is signed in; a node or gateway that is not in
 * the registry yet is added in the same commit.
 * @returns the secret, which is stored as a hash only and cannot be shown again
 * @throws DomainError `invalid_input` for what does not fit together, `conflict` where there are credentials already
 */
export async function addPrincipal(
  app: App,
  input: NewPrincipal,
): Promise<{ readonly credential: Credential; readonly secret: string }> {
  if (!ID_PATTERN.test(input.id)) {
    throw new DomainError(
      'invalid_input',
      `The id “${input.id}” cannot be used; 1 to 64 letters, digits, dots, dashes or underscores.`,
    );
  }
  const before = await app.store.people.credential(input.id);
  if (before !== null && (!input.replace || before.kind !== input.kind)) {
    const advice =
      before.kind === input.kind ? 'Give --replace to make new ones; the old stop working.' : 'Choose another id.';
    throw new DomainError('conflict', `“${input.id}” has credentials as a ${before.kind} already. ${advice}`);
  }
  const registryWrites = await registryOf(app, input);
  const secret = generateSecret();
  const credential: Credential = {
    principalId: input.id,
    kind: input.kind,
    siteId: input.kind === 'station' ? input.siteId : null,
    secretHash: await hashSecret(secret, GENERATED_SECRET_COST),
    createdMs: app.clock.nowMs(),
    revokedMs: null,
    ...overlapOf(before, input.overlap?.hours ?? 0, input.overlap?.nowMs ?? 0),
  };
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'command', id: 'node add' },
    writes: [...registryWrites, { kind: 'credential', row: credential }],
    cursor: null,
  });
  return { credential, secret };
}

async function registryOf(app: App, input: NewPrincipal): Promise<readonly Write[]> {
  if (input.siteId !== null && input.kind !== 'station' && input.kind !== 'gateway') {
    throw new DomainError(
      'invalid_input',
      `--site is for stations and gateways, and “${input.id}” is a ${input.kind}.`,
    );
  }
  if (input.gatewayId !== null && input.kind !== 'node') {
    throw new DomainError('invalid_input', `--gateway is for nodes, and “${input.id}” is a ${input.kind}.`);
  }
  if (input.siteId !== null && (await app.store.registry.site(WHOLE_FLEET, input.siteId)) === null) {
    throw new DomainError(
      'invalid_input',
      `There is no site “${input.siteId}”. Import the fleet first, or check the id.`,
    );
  }
  switch (input.kind) {
    case 'subscriber':
      return [];
    case 'station':
      if (input.siteId !== null) return [];
      throw new DomainError('invalid_input', 'A weather station belongs to a site; give --site S.');
    case 'gateway':
      return gatewayWrites(app, input);
    case 'node':
      return nodeWrites(app, input);
  }
}

async function gatewayWrites(app: App, { id, siteId }: NewPrincipal): Promise<readonly Write[]> {
  const gateways = await app.store.registry.gateways(WHOLE_FLEET);
  if (gateways.some((gateway) => gateway.id === id)) return [];
  if (siteId === null) throw new DomainError('invalid_input', `Gateway “${id}” is new; give its site with --site S.`);
  return [{ kind: 'gateway', row: { id, siteId, name: id } }];
}

async function nodeWrites(app: App, { id, gatewayId }: NewPrincipal): Promise<readonly Write[]> {
  const node = await app.store.registry.node(id);
  if (gatewayId !== null) {
    const gateways = await app.store.registry.gateways(WHOLE_FLEET);
    if (!gateways.some((gateway) => gateway.id === gatewayId)) {
      throw new DomainError('invalid_input', `There is no gateway “${gatewayId}”. Add it first, with --kind gateway.`);
    }
  }
  if (node !== null && gatewayId === null) return [];
  return [
    {
      kind: 'node',
      row: { id, gatewayId: gatewayId ?? node?.gatewayId ?? null, promisedIntervalS: node?.promisedIntervalS ?? null },
    },
  ];
}

/**
 * Takes a principal's credentials away from the terminal of the machine; a running server ends its connections within
 * seconds.
 * @throws DomainError `not_found` where there are none
 */
export async function revokePrincipal(app: App, id: string): Promise<Credential> {
  const credential = await app.store.people.credential(id);
  if (credential === null) throw new DomainError('not_found', `“${id}” has no credentials. Check the id.`);
  if (credential.revokedMs !== null) return credential;
  const row: Credential = {
    ...credential,
    revokedMs: app.clock.nowMs(),
    previousHash: null,
    previousUntilMs: null,
  };
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'command', id: 'node revoke' },
    writes: [{ kind: 'credential', row }],
    cursor: null,
  });
  return row;
}
