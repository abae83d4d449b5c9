import type { ChangeNotice, LiveQuery } from '../state/live-cache.js';
import type { ApiClient } from './client.js';
import { isoInstant } from './unwire.js';
import type {
  Addresses,
  AlarmEntry,
  AlarmOverride,
  AlarmPerformance,
  AlarmView,
  Alert,
  Calendar,
  Commissioning,
  CommissioningItem,
  ContactRules,
  ContainerDetail,
  ContainerItem,
  Crew,
  Firm,
  Gateway,
  LedgerDay,
  LevelNow,
  PageOf,
  Person,
  Plan,
  PourRecord,
  Resolution,
  RoundView,
  SensorNode,
  Series,
  Site,
  SiteStory,
  SiteTerms,
  StandIn,
  TaskView,
  Today,
  Undelivered,
  VisitView,
  Water,
  WaterReview,
} from './views.js';

/** The list comes in pages; a page that shows all pots at once asks for the largest. */
const PAGE_ROWS = 500;

/** What changes the work of the day: raw readings do not, the status and forecast that follow from them do. */
const WORK_KINDS = new Set([
  'status',
  'forecast',
  'finding',
  'alarm',
  'alarm_transition',
  'task',
  'task_transition',
  'round_stop',
  'visit',
  'visit_verification',
  'container',
  'site',
  'account',
  'person',
  'assignment',
]);

const ROUND_KINDS = new Set(['task', 'task_transition', 'round_stop', 'visit', 'visit_verification', 'status', 'site']);
const PLAN_KINDS = new Set(['plan_version', 'round_stop', 'absence', 'crew_terms', 'person']);
const REGISTRY_KINDS = new Set(['container', 'site', 'account', 'assignment', 'node']);
const LEDGER_KINDS = new Set(['derived', 'visit', 'event_correction', 'container', 'site', 'account']);

const ofContainer =
  (containerId: string) =>
  (change: ChangeNotice): boolean =>
    change.containerId === containerId || change.key === containerId;

/** Each view with the changes that make it old: what a reading does not touch is not loaded again. */
export function makeResources(client: ApiClient) {
  const query = (parts: Readonly<Record<string, string | null>>): string => {
    const given = Object.entries(parts).filter((entry): entry is [string, string] => entry[1] !== null);
    return given.length === 0 ? '' : `?${new URLSearchParams(given).toString()}`;
  };

  async function allPages<Item>(path: string, parts: Readonly<Record<string, string | null>>, signal: AbortSignal) {
    const rows: Item[] = [];
    let cursor: string | null = null;
    do {
      const page: PageOf<Item> = (await client.get<PageOf<Item>>(
        `${path}${query({ ...parts, limit: String(PAGE_ROWS), cursor })}`,
        signal,
      )) as unknown as PageOf<Item>;
      rows.push(...page.items);
      cursor = page.nextCursor;
    } while (cursor !== null);
    return rows;
  }

  const items = async <Item>(
    path: string,
    parts: Readonly<Record<string, string | null>>,
    signal: AbortSignal,
  ): Promise<readonly Item[]> =>
    ((await client.get(`${path}${query(parts)}`, signal)) as { readonly items: readonly Item[] }).items;

  return {
    today(): LiveQuery<Today> {
      return {
        key: 'today',
        load: async (signal) => (await client.get('/today', signal)) as Today,
        touchedBy: (change) => WORK_KINDS.has(change.kind),
      };
    },
    rounds(day: string | null, technicianId: string | null): LiveQuery<readonly RoundView[]> {
      return {
        key: `rounds/${day}/${technicianId}`,
        load: (signal) => items<RoundView>('/rounds', { day, technicianId }, signal),
        touchedBy: (change) => ROUND_KINDS.has(change.kind),
      };
    },
    alarms(): LiveQuery<readonly AlarmView[]> {
      return {
        key: 'alarms',
        load: (signal) => items<AlarmView>('/alarms', {}, signal),
        touchedBy: (change) => change.kind === 'alarm' || change.kind === 'alarm_transition',
      };
    },
    alarmPerformance(fromMs: number, toMs: number): LiveQuery<AlarmPerformance> {
      return {
        key: `alarm-performance/${fromMs}/${toMs}`,
        load: async (signal) =>
          (await client.get(
            `/alarms/performance${query({ from: isoInstant(fromMs), to: isoInstant(toMs) })}`,
            signal,
          )) as AlarmPerformance,
        touchedBy: (change) => change.kind === 'alarm',
      };
    },
    alarmCatalogue(): LiveQuery<readonly AlarmEntry[]> {
      return {
        key: 'alarm-catalogue',
        load: (signal) => items<AlarmEntry>('/alarms/catalogue', {}, signal),
        touchedBy: () => false,
      };
    },
    alarmOverrides(): LiveQuery<readonly AlarmOverride[]> {
      return {
        key: 'alarm-overrides',
        load: (signal) => items<AlarmOverride>('/alarms/overrides', {}, signal),
        touchedBy: (change) => change.kind === 'alarm_override',
      };
    },
    undelivered(): LiveQuery<PageOf<Undelivered>> {
      return {
        key: 'undelivered',
        load: async (signal) => (await client.get('/undelivered', signal)) as unknown as PageOf<Undelivered>,
        // What becomes of messages is no change that others hear of; alerts are what makes them.
        touchedBy: (change) => change.kind === 'alert',
      };
    },
    plan(): LiveQuery<Plan> {
      return {
        key: 'plan',
        load: async (signal) => (await client.get('/plan', signal)) as unknown as Plan,
        touchedBy: (change) => PLAN_KINDS.has(change.kind),
      };
    },
    siteStory(siteId: string, seq: number): LiveQuery<SiteStory> {
      return {
        key: `plan-site/${siteId}/${seq}`,
        load: async (signal) =>
          (await client.get(`/plan/sites/${encodeURIComponent(siteId)}`, signal)) as unknown as SiteStory,
        touchedBy: () => false,
      };
    },
    sites(): LiveQuery<readonly Site[]> {
      return {
        key: 'sites',
        load: (signal) => allPages<Site>('/sites', {}, signal),
        touchedBy: (change) => change.kind === 'site',
      };
    },
    siteTerms(siteId: string): LiveQuery<SiteTerms> {
      return {
        key: `site-terms/${siteId}`,
        load: async (signal) =>
          (await client.get(`/sites/${encodeURIComponent(siteId)}/terms`, signal)) as unknown as SiteTerms,
        touchedBy: (change) => change.kind === 'site_terms' && change.key === siteId,
      };
    },
    gateways(): LiveQuery<readonly Gateway[]> {
      return {
        key: 'gateways',
        load: (signal) => allPages<Gateway>('/gateways', {}, signal),
        touchedBy: (change) => change.kind === 'gateway',
      };
    },
    nodes(): LiveQuery<readonly SensorNode[]> {
      return {
        key: 'nodes',
        load: (signal) => allPages<SensorNode>('/nodes', {}, signal),
        touchedBy: (change) => change.kind === 'node',
      };
    },
    crew(): LiveQuery<Crew> {
      return {
        key: 'crew',
        load: async (signal) => (await client.get('/crew', signal)) as unknown as Crew,
        touchedBy: (change) => ['crew_terms', 'absence', 'truck', 'depot', 'person'].includes(change.kind),
      };
    },
    contactRules(): LiveQuery<ContactRules> {
      return {
        key: 'contact-rules',
        load: async (signal) => (await client.get('/contact-rules', signal)) as unknown as ContactRules,
        touchedBy: () => false,
      };
    },
    standIns(): LiveQuery<readonly StandIn[]> {
      return {
        key: 'stand-ins',
        load: (signal) => items<StandIn>('/stand-ins', {}, signal),
        touchedBy: (change) => change.kind === 'person',
      };
    },
    addresses(): LiveQuery<Addresses> {
      return {
        key: 'addresses',
        load: async (signal) => (await client.get('/addresses', signal)) as Addresses,
        touchedBy: () => false,
      };
    },
    calendar(): LiveQuery<Calendar> {
      return {
        key: 'calendar',
        load: async (signal) => (await client.get('/calendar', signal)) as Calendar,
        touchedBy: () => false,
      };
    },
    alerts(): LiveQuery<readonly Alert[]> {
      return {
        key: 'alerts',
        load: (signal) => items<Alert>('/alerts', {}, signal),
        touchedBy: (change) => change.kind === 'alert',
      };
    },
    people(): LiveQuery<readonly Person[]> {
      return {
        key: 'people',
        load: (signal) => items<Person>('/people', {}, signal),
        touchedBy: (change) => change.kind === 'person',
      };
    },
    containers(): LiveQuery<readonly ContainerItem[]> {
      return {
        key: 'containers',
        load: (signal) => allPages<ContainerItem>('/containers', {}, signal),
        touchedBy: (change) => change.kind === 'status' || change.kind === 'finding' || REGISTRY_KINDS.has(change.kind),
      };
    },
    container(id: string): LiveQuery<ContainerDetail> {
      const here = ofContainer(id);
      return {
        key: `container/${id}`,
        load: async (signal) => (await client.get(`/containers/${encodeURIComponent(id)}`, signal)) as ContainerDetail,
        touchedBy: (change) => here(change) && change.kind !== 'readings',
      };
    },
    series(id: string, fromMs: number, toMs: number, resolution: Resolution): LiveQuery<Series> {
      const here = ofContainer(id);
      return {
        key: `series/${id}/${fromMs}/${toMs}/${resolution}`,
        load: async (signal) =>
          (await client.get(
            `/containers/${encodeURIComponent(id)}/series${query({
              from: isoInstant(fromMs),
              to: isoInstant(toMs),
              resolution,
              cleaning: resolution === 'raw' ? 'true' : null,
            })}`,
            signal,
          )) as Series,
        touchedBy: (change) => here(change),
      };
    },
    ledger(id: string, fromDay: string, toDay: string): LiveQuery<readonly LedgerDay[]> {
      const here = ofContainer(id);
      return {
        key: `ledger/${id}/${fromDay}/${toDay}`,
        load: (signal) =>
          items<LedgerDay>(`/containers/${encodeURIComponent(id)}/ledger`, { from: fromDay, to: toDay }, signal),
        touchedBy: (change) => here(change) && LEDGER_KINDS.has(change.kind),
      };
    },
    tasksOf(containerId: string): LiveQuery<readonly TaskView[]> {
      const here = ofContainer(containerId);
      return {
        key: `tasks/${containerId}`,
        load: (signal) => items<TaskView>('/tasks', { containerId }, signal),
        touchedBy: (change) => here(change) && (change.kind === 'task' || change.kind === 'task_transition'),
      };
    },
    visitsOf(containerId: string, fromMs: number, toMs: number): LiveQuery<readonly VisitView[]> {
      return {
        key: `visits/${containerId}/${fromMs}/${toMs}`,
        load: (signal) =>
          items<VisitView>('/visits', { containerId, from: isoInstant(fromMs), to: isoInstant(toMs) }, signal),
        touchedBy: (change) => change.kind === 'visit' || change.kind === 'visit_verification',
      };
    },
    firm(): LiveQuery<Firm> {
      return {
        key: 'firm',
        load: async (signal) => (await client.get('/firm', signal)) as Firm,
        touchedBy: (change) => change.kind === 'firm',
      };
    },
    commissioningList(): LiveQuery<readonly CommissioningItem[]> {
      return {
        key: 'commissioning',
        load: (signal) => items<CommissioningItem>('/commissioning', {}, signal),
        touchedBy: (change) => change.kind === 'finding' || REGISTRY_KINDS.has(change.kind),
      };
    },
    commissioning(id: string): LiveQuery<Commissioning> {
      const here = ofContainer(id);
      return {
        key: `commissioning/${id}`,
        load: async (signal) =>
          (await client.get(`/containers/${encodeURIComponent(id)}/commissioning`, signal)) as Commissioning,
        touchedBy: (change) => here(change) && change.kind !== 'readings',
      };
    },
    pouredTable(id: string): LiveQuery<PourRecord | null> {
      const here = ofContainer(id);
      return {
        key: `pours/${id}`,
        load: async (signal) =>
          ((await client.get(`/containers/${encodeURIComponent(id)}/pours`, signal)) as { poured: PourRecord | null })
            .poured,
        touchedBy: (change) => here(change) && (change.kind === 'container' || change.kind === 'pour_record'),
      };
    },
    levelNow(id: string): LiveQuery<LevelNow> {
      const here = ofContainer(id);
      return {
        key: `level/${id}`,
        load: async (signal) => (await client.get(`/containers/${encodeURIComponent(id)}/level`, signal)) as LevelNow,
        touchedBy: (change) => here(change) && (change.kind === 'readings' || change.kind === 'assignment'),
      };
    },
    waterReview(parts: {
      readonly by: 'account' | 'site' | 'container';
      readonly from: string;
      readonly to: string;
      readonly accountId: string | null;
    }): LiveQuery<WaterReview> {
      const wanted = query(parts);
      return {
        key: `water/review${wanted}`,
        load: async (signal) => (await client.get(`/water/review${wanted}`, signal)) as unknown as WaterReview,
        touchedBy: (change) => LEDGER_KINDS.has(change.kind) || change.kind === 'firm',
      };
    },
    water(parts: {
      readonly by: 'account' | 'site' | 'container';
      readonly from: string;
      readonly to: string;
      readonly byMonth: boolean;
      readonly accountId: string | null;
    }): LiveQuery<Water> {
      const wanted = query({
        by: parts.by,
        from: parts.from,
        to: parts.to,
        byMonth: parts.byMonth ? 'true' : null,
        accountId: parts.accountId,
      });
      return {
        key: `water${wanted}`,
        load: async (signal) => (await client.get(`/water${wanted}`, signal)) as unknown as Water,
        touchedBy: (change) => LEDGER_KINDS.has(change.kind),
      };
    },
  };
}

export type Resources = ReturnType<typeof makeResources>;
