import type { Principal } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { AccountId, ContainerId, SiteId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Message } from '../../domain/message.js';
import type { Page, PageRequest } from '../../domain/ports/store.js';
import type { Finding, FindingKind, PotEvent, PotStatus, Severity } from '../../domain/pot.js';
import type { Assignment, Container, Site } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { type NamedCorrection, namedCorrections } from './named-corrections.js';

/** How far back a container's page looks for events and closed findings. */
const LOOK_BACK_MS = 60 * DAY_MS;

export interface ContainerLine {
  readonly id: ContainerId;
  readonly siteId: SiteId;
  readonly siteName: string;
  readonly accountId: AccountId;
  readonly accountName: string;
  readonly name: string;
  readonly place: string | null;
  readonly covered: boolean;
  readonly removedOn: string | null;
  /** Null before the first analysis. */
  readonly status: PotStatus | null;
  readonly findings: readonly { readonly kind: FindingKind; readonly severity: Severity }[];
}

export interface ContainerPage {
  readonly container: Container;
  readonly site: Site;
  readonly accountName: string;
  readonly status: PotStatus | null;
  readonly findings: readonly Finding[];
  /** Newest first. */
  readonly events: readonly PotEvent[];
  /** What people said on these events, newest first. */
  readonly corrections: readonly NamedCorrection[];
  readonly assignments: readonly Assignment[];
  readonly explanation: readonly Message[];
}

/** Says how the numbers of a container came about; the analysis knows. */
export type ExplainContainer = (containerId: ContainerId) => Promise<readonly Message[]>;

/** Containers with what is known of each now. */
export async function containers(
  app: App,
  who: Principal,
  page: PageRequest,
  filter: { readonly text: string | null; readonly siteId: SiteId | null; readonly accountId: AccountId | null },
): Promise<Page<ContainerLine>> {
  const scope = allowed(who, 'containers.read', { accountId: filter.accountId, personId: null });
  const { registry, pots } = app.store;
  const [found, sites, accounts, statuses, findings] = await Promise.all([
    registry.containersPage(scope, page, filter),
    registry.sites(scope),
    registry.accounts(scope),
    pots.statuses(scope),
    pots.findings(scope, { containerId: null, openOnly: true, fromMs: null }),
  ]);
  const siteById = new Map(sites.map((site) => [site.id, site]));
  const accountNames = new Map(accounts.map((account) => [account.id, account.name]));
  const statusById = new Map(statuses.map((status) => [status.containerId, status]));
  const findingsById = new Map<ContainerId, Finding[]>();
  for (const finding of findings) {
    const known = findingsById.get(finding.containerId);
    if (known === undefined) findingsById.set(finding.containerId, [finding]);
    else known.push(finding);
  }
  const rows = found.rows.map((container): ContainerLine => {
    const site = siteById.get(container.siteId);
    if (site === undefined)
      throw new Error(`container ${container.id} stands on site ${container.siteId}, which is not there`);
    return {
      id: container.id,
      siteId: site.id,
      siteName: site.name,
      accountId: site.accountId,
      accountName: accountNames.get(site.accountId) ?? site.accountId,
      name: container.name,
      place: container.place,
      covered: container.covered,
      removedOn: container.removedOn,
      status: statusById.get(container.id) ?? null,
      findings: (findingsById.get(container.id) ?? []).map(({ kind, severity }) => ({ kind, severity })),
    };
  });
  return { rows, nextCursor: found.nextCursor };
}

/** One container as a person may see it. @throws DomainError `not_found`, also for one of another account */
export async function containerOf(app: App, who: Principal, id: ContainerId): Promise<Container> {
  const container = await app.store.registry.container(allowed(who, 'containers.read'), id);
  if (container === null) {
    throw new DomainError('not_found', `There is no container “${id}”, or it is not one that you may see.`);
  }
  return container;
}

/** All that a container's page shows, but the series. */
export async function containerPage(
  app: App,
  who: Principal,
  explain: ExplainContainer,
  id: ContainerId,
): Promise<ContainerPage> {
  const scope = allowed(who, 'containers.read');
  const container = await containerOf(app, who, id);
  const nowMs = app.clock.nowMs();
  const fromMs = nowMs - LOOK_BACK_MS;
  const { registry, pots } = app.store;
  const [site, accounts, status, findings, events, corrections, assignments, explanation] = await Promise.all([
    registry.site(scope, container.siteId),
    registry.accounts(scope),
    pots.status(scope, id),
    pots.findings(scope, { containerId: id, openOnly: false, fromMs }),
    pots.events(scope, id, fromMs, nowMs + DAY_MS),
    namedCorrections(app, id, fromMs),
    registry.assignmentsOfContainer(scope, id),
    explain(id),
  ]);
  if (site === null) throw new Error(`container ${id} stands on site ${container.siteId}, which is not there`);
  return {
    container,
    site,
    accountName: accounts.find((account) => account.id === site.accountId)?.name ?? site.accountId,
    status,
    findings,
    events: [...events].sort((a, b) => b.startMs - a.startMs),
    corrections,
    assignments: [...assignments].sort((a, b) => a.fromMs - b.fromMs),
    explanation,
  };
}
