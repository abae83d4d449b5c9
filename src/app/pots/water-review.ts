import type { Principal, Scope } from '../../domain/access.js';
import { et0OfDay } from '../../domain/day-et0.js';
import type { AccountId, ContainerId, LocalDay, SiteId } from '../../domain/ids.js';
import { addDays, daysBetween } from '../../domain/local-day.js';
import type { LedgerSum, Store } from '../../domain/ports/store.js';
import type { Container, Site } from '../../domain/registry.js';
import type { Visit } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { mostUsedZone } from '../fieldwork/round-views.js';
import { localDaysOf } from '../fleet-view.js';
import { firm } from '../people/firm.js';
import { observedOrShared } from '../weather/weather-observations.js';

/** What a period's water came to, beside its ledger: for the owner's review and the client's page. */
export interface ReviewItem {
  /** Of the account, site or container. */
  readonly id: string;
  readonly name: string;
  readonly containers: number;
  readonly containerDays: number;
  readonly uptakeLitres: number;
  /** What the ledger says that the crew's visits brought into the pots. */
  readonly tookLitres: number;
  /** What the crew wrote down as poured. */
  readonly meterLitres: number;
  readonly leakLitres: number;
  readonly overflowLitres: number;
  readonly visits: number;
  readonly dryHours: number;
  /** Pots times millimetres of reference evapotranspiration; null where no weather is known. */
  readonly potMm: number | null;
  /** The same span before: null where there was no pot yet. */
  readonly before: {
    readonly uptakeLitres: number;
    readonly containerDays: number;
    readonly potMm: number | null;
  } | null;
  /** What the pots of both spans would have drawn at the earlier thirst in this span's weather; null where it is not known. */
  readonly weatherLitres: number | null;
  /** What those pots did draw, to be held against it. */
  readonly comparableLitres: number | null;
}

export interface WaterReview {
  readonly from: LocalDay;
  readonly to: LocalDay;
  readonly before: { readonly from: LocalDay; readonly to: LocalDay };
  readonly by: 'account' | 'site' | 'container';
  readonly firmName: string;
  readonly currency: string;
  /** Null without a tariff, and for a client: what the crew's water costs is the firm's business. */
  readonly pricePerM3: number | null;
  readonly items: readonly ReviewItem[];
  readonly total: ReviewItem | null;
}

interface Grouping {
  readonly id: string;
  readonly name: string;
}

/** Days inclusive; the span before is the month before for a whole month, else as many days. */
export async function waterReview(
  app: App,
  who: Principal,
  query: {
    readonly by: WaterReview['by'];
    readonly fromDay: LocalDay;
    readonly toDay: LocalDay;
    readonly accountId: AccountId | null;
  },
): Promise<WaterReview> {
  const granted = allowed(who, 'water.read', { accountId: query.accountId, personId: null });
  const scope: Scope = query.accountId === null ? granted : { kind: 'account', accountId: query.accountId };
  const { registry, pots } = app.store;
  const [containers, sites, accounts, ofFirm] = await Promise.all([
    registry.containers(scope),
    registry.sites(scope),
    registry.accounts(scope),
    firm(app),
  ]);
  const span = { fromDay: query.fromDay, toDay: query.toDay };
  const earlier = spanBefore(span);
  const siteOf = new Map(sites.map((site) => [site.id, site]));
  const accountNames = new Map(accounts.map((account) => [account.id, account.name]));
  const zone = localDaysOf(mostUsedZone(sites));
  const instants = { fromMs: zone.startMs(span.fromDay), toMs: zone.endMs(span.toDay) };
  const [now, before, dry, visits, et0Now, et0Before] = await Promise.all([
    pots.ledgerSums(scope, { by: 'container', byMonth: false, ...span }),
    pots.ledgerSums(scope, { by: 'container', byMonth: false, ...earlier }),
    app.store.commissioning.dryHours(scope, { ...span, ...instants }),
    app.store.work.visits(scope, { containerId: null, siteId: null, ...instants }),
    et0BySite(app.store, sites, span),
    et0BySite(app.store, sites, earlier),
  ]);
  const sheet: Sheet = {
    now: byId(now),
    before: byId(before),
    dryHours: new Map(dry.map((row) => [row.containerId, row.hours])),
    visits,
    et0Now,
    et0Before,
  };
  const groups = new Map<string, { readonly grouping: Grouping; readonly containers: Container[] }>();
  for (const container of containers) {
    const site = siteOf.get(container.siteId);
    if (site === undefined || (!sheet.now.has(container.id) && !sheet.before.has(container.id))) continue;
    const grouping = groupOf(query.by, container, site, accountNames);
    const known = groups.get(grouping.id);
    if (known === undefined) groups.set(grouping.id, { grouping, containers: [container] });
    else known.containers.push(container);
  }
  const all = [...groups.values()].flatMap((group) => group.containers);
  return {
    from: span.fromDay,
    to: span.toDay,
    before: { from: earlier.fromDay, to: earlier.toDay },
    by: query.by,
    firmName: ofFirm.name,
    currency: ofFirm.currency,
    pricePerM3: who.role === 'client' ? null : ofFirm.waterPricePerM3,
    items: [...groups.values()].map(({ grouping, containers: own }) => itemOf(grouping, own, sheet)),
    total: all.length === 0 ? null : itemOf({ id: 'all', name: 'all' }, all, sheet),
  };
}

interface Sheet {
  readonly now: ReadonlyMap<ContainerId, LedgerSum>;
  readonly before: ReadonlyMap<ContainerId, LedgerSum>;
  readonly dryHours: ReadonlyMap<ContainerId, number>;
  readonly visits: readonly Visit[];
  /** Mean mm a day over the span, by site; without an entry where no weather is known. */
  readonly et0Now: ReadonlyMap<SiteId, number>;
  readonly et0Before: ReadonlyMap<SiteId, number>;
}

const byId = (sums: readonly LedgerSum[]): ReadonlyMap<ContainerId, LedgerSum> =>
  new Map(sums.map((sum) => [sum.id, sum]));

function groupOf(
  by: WaterReview['by'],
  container: Container,
  site: Site,
  accountNames: ReadonlyMap<AccountId, string>,
): Grouping {
  if (by === 'container') return { id: container.id, name: container.name };
  if (by === 'site') return { id: site.id, name: site.name };
  return { id: site.accountId, name: accountNames.get(site.accountId) ?? site.accountId };
}

function itemOf({ id, name }: Grouping, containers: readonly Container[], sheet: Sheet): ReviewItem {
  const own = new Set(containers.map((container) => container.id));
  let meterLitres = 0;
  let visits = 0;
  for (const visit of sheet.visits) {
    const actions = visit.actions.filter((action) => own.has(action.containerId));
    if (actions.length > 0) visits++;
    for (const action of actions) if (action.exception === null) meterLitres += action.litres ?? 0;
  }
  const now = containers.flatMap((container) => sumAndMm(container, sheet.now, sheet.et0Now));
  const before = containers.flatMap((container) => sumAndMm(container, sheet.before, sheet.et0Before));
  const comparison = compare(containers, sheet);
  const total = (pick: (sum: LedgerSum) => number): number => now.reduce((sum, one) => sum + pick(one.sum), 0);
  return {
    id,
    name,
    containers: now.length,
    containerDays: total((sum) => sum.containerDays),
    uptakeLitres: total((sum) => sum.uptakeLitres),
    tookLitres: total((sum) => sum.refillCrewLitres),
    meterLitres,
    leakLitres: total((sum) => sum.leakLitres),
    overflowLitres: total((sum) => sum.overflowLitres),
    visits,
    dryHours: containers.reduce((sum, container) => sum + (sheet.dryHours.get(container.id) ?? 0), 0),
    potMm: sumKnown(now.map((one) => one.potMm)),
    before:
      before.length === 0
        ? null
        : {
            uptakeLitres: before.reduce((sum, one) => sum + one.sum.uptakeLitres, 0),
            containerDays: before.reduce((sum, one) => sum + one.sum.containerDays, 0),
            potMm: sumKnown(before.map((one) => one.potMm)),
          },
    ...comparison,
  };
}

/** Pots that drew in both spans: their earlier thirst a millimetre, times this span's millimetres. */
function compare(
  containers: readonly Container[],
  sheet: Sheet,
): Pick<ReviewItem, 'weatherLitres' | 'comparableLitres'> {
  let weatherLitres = 0;
  let comparableLitres = 0;
  let compared = 0;
  for (const container of containers) {
    const [now] = sumAndMm(container, sheet.now, sheet.et0Now);
    const [before] = sumAndMm(container, sheet.before, sheet.et0Before);
    if (now?.potMm == null || before?.potMm == null || before.potMm <= 0) continue;
    compared++;
    weatherLitres += (before.sum.uptakeLitres / before.potMm) * now.potMm;
    comparableLitres += now.sum.uptakeLitres;
  }
  return compared === 0 ? { weatherLitres: null, comparableLitres: null } : { weatherLitres, comparableLitres };
}

function sumAndMm(
  container: Container,
  sums: ReadonlyMap<ContainerId, LedgerSum>,
  et0: ReadonlyMap<SiteId, number>,
): readonly { readonly sum: LedgerSum; readonly potMm: number | null }[] {
  const sum = sums.get(container.id);
  if (sum === undefined) return [];
  const mmPerDay = et0.get(container.siteId);
  return [{ sum, potMm: mmPerDay === undefined ? null : mmPerDay * sum.containerDays }];
}

/** Null where one of them is not known: a sum without it would claim too little. */
function sumKnown(values: readonly (number | null)[]): number | null {
  let sum = 0;
  for (const value of values) {
    if (value === null) return null;
    sum += value;
  }
  return values.length === 0 ? null : sum;
}

/** The month before a whole month; otherwise as many days as the span has. */
export function spanBefore(span: { readonly fromDay: LocalDay; readonly toDay: LocalDay }): {
  readonly fromDay: LocalDay;
  readonly toDay: LocalDay;
} {
  const toDay = addDays(span.fromDay, -1);
  const wholeMonth =
    span.fromDay.endsWith('-01') &&
    addDays(span.toDay, 1).endsWith('-01') &&
    span.fromDay.slice(0, 7) === span.toDay.slice(0, 7);
  if (wholeMonth) return { fromDay: `${toDay.slice(0, 7)}-01`, toDay };
  return { fromDay: addDays(span.fromDay, -(daysBetween(span.fromDay, span.toDay) + 1)), toDay };
}

async function et0BySite(
  store: Store,
  sites: readonly Site[],
  span: { readonly fromDay: LocalDay; readonly toDay: LocalDay },
): Promise<ReadonlyMap<SiteId, number>> {
  const found = new Map<SiteId, number>();
  for (const site of sites) {
    const own = await store.weather.observedDays(site.id, span.fromDay, span.toDay);
    const days = own.length > 0 ? own : await observedOrShared(store, site, span.fromDay, span.toDay);
    const values = days.flatMap((day) => et0OfDay(site, day)?.et0Mm ?? []);
    if (values.length > 0) found.set(site.id, values.reduce((sum, value) => sum + value, 0) / values.length);
  }
  return found;
}
