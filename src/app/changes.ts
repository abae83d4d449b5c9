import { type Action, authorize, type Principal, type Scope } from '../domain/access.js';
import type { Change, Edit, WriteKind } from '../domain/change-set.js';
import type { SiteId } from '../domain/ids.js';
import type { Page, PageRequest, Store } from '../domain/ports/store.js';
import { type App, allowed } from './context.js';

/** What a person has to be allowed to read, to hear of a change; null: nobody hears of it. */
const HEARD_BY: Readonly<Record<WriteKind, Action | null>> = {
  account: 'registry.read',
  account_erased: 'registry.read',
  site: 'registry.read',
  site_access: 'access.read',
  access_look: null,
  container: 'registry.read',
  gateway: 'registry.read',
  node: 'registry.read',
  assignment: 'registry.read',
  assignment_removed: 'registry.read',
  depot: 'registry.read',
  truck: 'registry.read',
  crew_terms: 'crew.read',
  site_terms: 'crew.read',
  absence: 'crew.read',
  person: 'people.read',
  person_secret: null,
  session: null,
  session_ended: null,
  sessions_ended: null,
  invitation: null,
  invitation_used: null,
  second_factor: null,
  second_factor_removed: null,
  second_factor_used: null,
  recovery_codes: null,
  recovery_code_used: null,
  api_token: null,
  credential: null,
  readings: 'containers.read',
  quarantined: 'quarantine.read',
  quarantine_resolved: 'quarantine.read',
  weather_days: 'containers.read',
  weather_samples: 'containers.read',
  event_correction: 'containers.read',
  derived: 'containers.read',
  checkpoints: null,
  reading_horizon: null,
  readings_expired: null,
  changes_expired: null,
  status: 'containers.read',
  forecast: null,
  finding: 'containers.read',
  calibration: null,
  alarm: 'alarms.read',
  alarm_transition: null,
  alarm_override: 'alarms.read',
  task: 'tasks.read',
  task_transition: null,
  round_stop: 'rounds.read',
  published_visit: null,
  plan_version: 'plan.read',
  learned_pace: null,
  visit: 'visits.read',
  visit_verification: 'visits.read',
  alert: 'alerts.read',
  address: null,
  contact_rules: null,
  outbox: null,
  calendar_feed: null,
  firm: 'registry.read',
  pour_record: 'containers.read',
  fast_report: null,
  job_ran: null,
};

/** Tells which changes one person hears of; it keeps the sites of the person's account until the registry changes. */
export class ChangeFilter {
  readonly #store: Store;
  readonly #who: Principal;
  #sites: ReadonlySet<SiteId> | null = null;

  constructor(store: Store, who: Principal) {
    this.#store = store;
    this.#who = who;
  }

  async heard(changes: readonly Change[]): Promise<readonly Change[]> {
    const heard: Change[] = [];
    for (const change of changes) {
      if (change.kind === 'site') this.#sites = null;
      if (await this.#hears(change)) heard.push(change);
    }
    return heard;
  }

  async #hears(change: Change): Promise<boolean> {
    const action = HEARD_BY[change.kind];
    if (action === null) return false;
    const decision = authorize(this.#who, action, { accountId: null, personId: this.#who.personId });
    if (!decision.allowed) return false;
    if (change.kind === 'alert') return this.#isOwnAlert(change.key);
    return this.#isWithin(decision.scope, change);
  }

  async #isOwnAlert(id: string): Promise<boolean> {
    const own = await this.#store.work.alerts(this.#who.personId, { includeWithdrawn: true });
    return own.some((alert) => alert.id === id);
  }

  async #isWithin(scope: Scope, change: Change): Promise<boolean> {
    if (scope.kind === 'all') return true;
    if (change.kind === 'account') return change.key === scope.accountId;
    if (change.siteId === null) return false;
    this.#sites ??= new Set((await this.#store.registry.sites(scope)).map((site) => site.id));
    return this.#sites.has(change.siteId);
  }
}

/** Several changes of one thing within a batch become the last of them, over the whole time that they touched. */
export function coalesce(changes: readonly Change[]): readonly Change[] {
  const byThing = new Map<string, Change>();
  for (const change of changes) {
    const thing = `${change.kind} ${change.key} ${change.containerId}`;
    const before = byThing.get(thing);
    byThing.delete(thing);
    byThing.set(thing, before === undefined ? change : { ...change, ...span(before, change) });
  }
  return [...byThing.values()];
}

function span(a: Change, b: Change): Pick<Change, 'fromMs' | 'toMs'> {
  return {
    fromMs: a.fromMs === null || b.fromMs === null ? null : Math.min(a.fromMs, b.fromMs),
    toMs: a.toMs === null || b.toMs === null ? null : Math.max(a.toMs, b.toMs),
  };
}

/** Changes that the feed keeps at hand, so that many open pages do not each read them from the store. */
const KEPT_CHANGES = 4_000;
const READ_AT_A_TIME = 1_000;

/** Hands out the change log as it grows. Whoever follows it keeps an own place in it. */
export class ChangeFeed {
  readonly #store: Store;
  readonly #listeners = new Set<() => void>();
  /** The newest changes, without gaps, up to `#lastSeq`. */
  #kept: Change[] = [];
  #lastSeq = 0;
  #reading: Promise<void> | null = null;

  private constructor(store: Store, lastSeq: number) {
    this.#store = store;
    this.#lastSeq = lastSeq;
  }

  static async open(store: Store): Promise<ChangeFeed> {
    return new ChangeFeed(store, await store.changes.lastSeq());
  }

  get lastSeq(): number {
    return this.#lastSeq;
  }

  /** Calls back when there is something new; returns the way to stop. */
  follow(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** Reads what was committed meanwhile, also by other processes, and tells the followers. */
  refresh(): Promise<void> {
    this.#reading ??= this.#readNew().finally(() => {
      this.#reading = null;
    });
    return this.#reading;
  }

  /** Changes after a place, oldest first; fewer than there are where there are many. */
  async after(seq: number): Promise<readonly Change[]> {
    if (seq >= this.#lastSeq) return [];
    const [oldest] = this.#kept;
    if (oldest !== undefined && oldest.seq <= seq + 1) return this.#kept.filter((change) => change.seq > seq);
    return this.#store.changes.after(seq, READ_AT_A_TIME);
  }

  async #readNew(): Promise<void> {
    let grew = false;
    for (;;) {
      const fresh = await this.#store.changes.after(this.#lastSeq, READ_AT_A_TIME);
      const last = fresh.at(-1);
      if (last === undefined) break;
      grew = true;
      this.#kept.push(...fresh);
      if (this.#kept.length > KEPT_CHANGES) this.#kept = this.#kept.slice(-KEPT_CHANGES);
      this.#lastSeq = last.seq;
      if (fresh.length < READ_AT_A_TIME) break;
    }
    if (grew) for (const listener of this.#listeners) listener();
  }
}

/** What people and commands changed, before and after, newest first. */
export async function edits(
  app: App,
  who: Principal,
  page: PageRequest,
  filter: { readonly key: string | null },
): Promise<Page<Edit>> {
  allowed(who, 'audit.read');
  return app.store.changes.edits(page, filter);
}

/** Who changed what, newest first. */
export async function audit(app: App, who: Principal, page: PageRequest): Promise<Page<Change>> {
  allowed(who, 'audit.read');
  return app.store.changes.audit(page);
}
