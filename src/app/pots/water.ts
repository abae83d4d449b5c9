import type { Principal } from '../../domain/access.js';
import type { ContainerId, LocalDay } from '../../domain/ids.js';
import type { LedgerSum } from '../../domain/ports/store.js';
import type { LedgerDay, LedgerPosting } from '../../domain/pot.js';
import { type App, allowed } from '../context.js';
import { containerOf } from './containers.js';

export interface NamedSum extends LedgerSum {
  readonly name: string;
}

export interface WaterUse {
  readonly from: LocalDay;
  readonly to: LocalDay;
  readonly by: 'account' | 'site' | 'container';
  readonly items: readonly NamedSum[];
  /** Over all items; null where there are none. */
  readonly total: NamedSum | null;
}

/** Where the water of a period went, by account, site or container, and by month where asked; days inclusive. */
export async function waterUse(
  app: App,
  who: Principal,
  query: {
    readonly by: WaterUse['by'];
    readonly byMonth: boolean;
    readonly fromDay: LocalDay;
    readonly toDay: LocalDay;
    readonly accountId: string | null;
  },
): Promise<WaterUse> {
  const granted = allowed(who, 'water.read', { accountId: query.accountId, personId: null });
  const scope = query.accountId === null ? granted : ({ kind: 'account', accountId: query.accountId } as const);
  const { by, byMonth, fromDay, toDay } = query;
  const { registry, pots } = app.store;
  const [sums, whole, rows] = await Promise.all([
    pots.ledgerSums(scope, { by, byMonth, fromDay, toDay }),
    // Months are left out of the total: its opening and closing are those of the whole period.
    byMonth ? pots.ledgerSums(scope, { by, byMonth: false, fromDay, toDay }) : null,
    by === 'account' ? registry.accounts(scope) : by === 'site' ? registry.sites(scope) : registry.containers(scope),
  ]);
  const names = new Map(rows.map((row) => [row.id, row.name]));
  const items = sums.map((sum): NamedSum => ({ ...sum, name: names.get(sum.id) ?? sum.id }));
  return { from: fromDay, to: toDay, by, items, total: total(whole ?? sums) };
}

/** The account of one container's water by site-local day, inclusive. */
export async function containerLedger(
  app: App,
  who: Principal,
  id: ContainerId,
  span: { readonly fromDay: LocalDay; readonly toDay: LocalDay },
): Promise<readonly LedgerDay[]> {
  const scope = allowed(who, 'containers.read');
  await containerOf(app, who, id);
  return app.store.pots.ledgerDays(scope, { containerId: id, ...span });
}

/** The entry that stands for a day of a container's account, and those that corrections and late data replaced. */
export async function ledgerPostings(
  app: App,
  who: Principal,
  id: ContainerId,
  day: LocalDay,
): Promise<readonly LedgerPosting[]> {
  const scope = allowed(who, 'containers.read');
  await containerOf(app, who, id);
  return app.store.pots.ledgerPostings(scope, id, day);
}

function total(sums: readonly LedgerSum[]): NamedSum | null {
  const [first, ...rest] = sums;
  if (first === undefined) return null;
  const sum = rest.reduce(add, first);
  return { ...sum, id: 'all', name: 'all', month: null };
}

function add(a: LedgerSum, b: LedgerSum): LedgerSum {
  return {
    id: a.id,
    month: null,
    containers: a.containers + b.containers,
    containerDays: a.containerDays + b.containerDays,
    openingLitres: a.openingLitres + b.openingLitres,
    refillCrewLitres: a.refillCrewLitres + b.refillCrewLitres,
    refillOtherLitres: a.refillOtherLitres + b.refillOtherLitres,
    rainLitres: a.rainLitres + b.rainLitres,
    uptakeLitres: a.uptakeLitres + b.uptakeLitres,
    leakLitres: a.leakLitres + b.leakLitres,
    overflowLitres: a.overflowLitres + b.overflowLitres,
    drainedLitres: a.drainedLitres + b.drainedLitres,
    unexplainedLitres: a.unexplainedLitres + b.unexplainedLitres,
    closingLitres: a.closingLitres + b.closingLitres,
    // Errors of different pots are independent, so their squares add.
    sdLitres: Math.hypot(a.sdLitres, b.sdLitres),
  };
}
