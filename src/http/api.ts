import type { IncomingMessage, Server, ServerResponse } from 'node:http';
import type { FastifyBaseLogger, FastifyInstance, FastifyRequest } from 'fastify';
import type { ZodTypeProvider } from 'fastify-type-provider-zod';
import type { OpenMetricsContentType, Registry } from 'prom-client';
import type { ChangeFeed } from '../app/changes.js';
import type { App } from '../app/context.js';
import type { Reachability } from '../app/fieldwork/contacts.js';
import type { SessionSettings, SignedIn } from '../app/people/sessions.js';
import type { SetUpDoor } from '../app/people/set-up.js';
import type { Planner } from '../app/planning/planner.js';
import type { ExplainContainer } from '../app/pots/containers.js';
import type { Principal } from '../domain/access.js';
import { DomainError } from '../domain/errors.js';
import type { Clock } from '../domain/ports/clock.js';
import type { Page, PageRequest } from '../domain/ports/store.js';
import type { HttpSettings } from './settings.js';
import { toWire, type Wire } from './wire.js';

export type Api = FastifyInstance<Server, IncomingMessage, ServerResponse, FastifyBaseLogger, ZodTypeProvider>;

/** What became of one quarantined record that was run again. */
export interface RerunResult {
  readonly id: string;
  readonly taken: boolean;
  /** Why it was refused again; null where it was taken. */
  readonly detail: string | null;
}

/** All that the routes stand on; made by the wiring. */
export interface HttpDeps {
  readonly app: App;
  readonly planner: Planner;
  readonly settings: HttpSettings;
  /** The port speaks TLS with this certificate; null: it does not. */
  readonly tls: { readonly key: string; readonly cert: string } | null;
  readonly sessions: SessionSettings;
  readonly processClock: Clock;
  /** Business seconds in one real second. */
  readonly speed: number;
  readonly demo: boolean;
  /** The way in for the very first person. */
  readonly setUpDoor: SetUpDoor;
  readonly feed: ChangeFeed;
  readonly explain: ExplainContainer;
  readonly rerun: (who: Principal, ids: readonly string[]) => Promise<readonly RerunResult[]>;
  /** What keeps the server from doing its work now, in words; empty when it is ready. */
  readonly notReady: () => Promise<readonly string[]>;
  readonly reach: Reachability;
  /** The iCalendar feed behind a token; null where there is none. */
  readonly calendar: (token: string) => Promise<string | null>;
  readonly metrics: Registry<OpenMetricsContentType>;
  /** Folder of the built dashboard; null where it was not built. */
  readonly dashboardDir: string | null;
  readonly log: FastifyBaseLogger;
}

declare module 'fastify' {
  interface FastifyRequest {
    /** Null on public routes, and before the session was looked up. */
    signedIn: SignedIn | null;
  }
}

export function signedIn(request: FastifyRequest): SignedIn {
  if (request.signedIn === null) {
    throw new DomainError('not_authenticated', 'This needs a session. Sign in with POST /api/v1/session.');
  }
  return request.signedIn;
}

export function whoOf({ person, actions }: SignedIn): Principal {
  const who = { personId: person.id, role: person.role, accountId: person.accountId };
  return actions === null ? who : { ...who, actions };
}

/** Who is asking. @throws DomainError `not_authenticated` */
export function who(request: FastifyRequest): Principal {
  return whoOf(signedIn(request));
}

export function pageRequest(query: { readonly limit: number; readonly cursor?: string | undefined }): PageRequest {
  return { limit: query.limit, cursor: query.cursor ?? null };
}

export function wirePage<Row>(page: Page<Row>): { items: readonly Wire<Row>[]; nextCursor: string | null } {
  return { items: page.rows.map((row) => toWire(row)), nextCursor: page.nextCursor };
}
