import type { Scope } from '../../../src/domain/access.js';
import type {
  AccessReader,
  ChangeReader,
  CommissioningReader,
  CrewReader,
  DoorsReader,
  NotifyReader,
  PeopleReader,
  PotReader,
  ReadingsReader,
  RegistryReader,
  Store,
  WeatherReader,
  WorkReader,
} from '../../../src/domain/ports/store.js';
import { DAY, type idsOf, T0 } from './worlds.js';

/** The methods of a reader that take a scope; a new one that is not in the table below does not compile. */
type ScopedMethod<Reader> = {
  [Name in keyof Reader]: Reader[Name] extends (...args: infer Args) => unknown
    ? Args extends readonly [infer First, ...unknown[]]
      ? [First] extends [Scope]
        ? Name
        : never
      : never
    : never;
}[keyof Reader];

export type Ask = (store: Store, scope: Scope, about: ReturnType<typeof idsOf>) => Promise<unknown>;

const span = [T0 - 10 * DAY, T0 + 10 * DAY] as const;
const days = { fromDay: '2026-06-01', toDay: '2026-06-30' } as const;

const REGISTRY: Record<ScopedMethod<RegistryReader>, Ask> = {
  accounts: (store, scope) => store.registry.accounts(scope),
  sites: (store, scope) => store.registry.sites(scope),
  site: (store, scope, ids) => store.registry.site(scope, ids.site),
  containers: (store, scope) => store.registry.containers(scope),
  containersPage: (store, scope) =>
    store.registry.containersPage(scope, { limit: 10, cursor: null }, { text: null, siteId: null, accountId: null }),
  container: (store, scope, ids) => store.registry.container(scope, ids.container),
  gateways: (store, scope) => store.registry.gateways(scope),
  nodes: (store, scope) => store.registry.nodes(scope),
  assignments: (store, scope) => store.registry.assignments(scope),
  assignmentsOfContainer: (store, scope, ids) => store.registry.assignmentsOfContainer(scope, ids.container),
};

const READINGS: Record<ScopedMethod<ReadingsReader>, Ask> = {
  ofContainer: (store, scope, ids) => store.readings.ofContainer(scope, ids.container, ...span),
};

const POTS: Record<ScopedMethod<PotReader>, Ask> = {
  statuses: (store, scope) => store.pots.statuses(scope),
  status: (store, scope, ids) => store.pots.status(scope, ids.container),
  events: (store, scope, ids) => store.pots.events(scope, ids.container, ...span),
  findings: (store, scope) => store.pots.findings(scope, { containerId: null, openOnly: false, fromMs: null }),
  forecasts: (store, scope, ids) => store.pots.forecasts(scope, ids.container, ...span),
  hourRollups: (store, scope, ids) => store.pots.hourRollups(scope, ids.container, ...span),
  dayRollups: (store, scope, ids) => store.pots.dayRollups(scope, ids.container, days.fromDay, days.toDay),
  ledgerDays: (store, scope) => store.pots.ledgerDays(scope, { containerId: null, ...days }),
  ledgerPostings: (store, scope, ids) => store.pots.ledgerPostings(scope, ids.container, '2026-06-10'),
  ledgerSums: (store, scope) => store.pots.ledgerSums(scope, { by: 'site', byMonth: false, ...days }),
};

const COMMISSIONING: Record<ScopedMethod<CommissioningReader>, Ask> = {
  pourRecords: (store, scope, ids) => store.commissioning.pourRecords(scope, ids.container),
  dryHours: (store, scope) => store.commissioning.dryHours(scope, { ...days, fromMs: span[0], toMs: span[1] }),
};

const WORK: Record<ScopedMethod<WorkReader>, Ask> = {
  alarms: (store, scope) => store.work.alarms(scope, { includeNormal: true, siteId: null }),
  alarm: (store, scope, ids) => store.work.alarm(scope, ids.alarm),
  alarmTransitions: (store, scope, ids) => store.work.alarmTransitions(scope, ids.alarm),
  alarmTransitionsBetween: (store, scope) => store.work.alarmTransitionsBetween(scope, ...span),
  alarmOverrides: (store, scope) => store.work.alarmOverrides(scope, null),
  tasks: (store, scope) =>
    store.work.tasks(scope, { openOnly: false, settledSinceMs: null, siteId: null, containerId: null }),
  task: (store, scope, ids) => store.work.task(scope, ids.task),
  visits: (store, scope) =>
    store.work.visits(scope, { containerId: null, siteId: null, fromMs: span[0], toMs: span[1] }),
};

/** The same readers where a filter could stand in for the scope. */
const NARROWED: Record<string, Ask> = {
  'containersPage of a site': (store, scope, ids) =>
    store.registry.containersPage(
      scope,
      { limit: 10, cursor: null },
      { text: null, siteId: ids.site, accountId: ids.account },
    ),
  'findings of a container': (store, scope, ids) =>
    store.pots.findings(scope, { containerId: ids.container, openOnly: true, fromMs: null }),
  'ledgerDays of a container': (store, scope, ids) =>
    store.pots.ledgerDays(scope, { containerId: ids.container, ...days }),
  'ledgerSums by account': (store, scope) => store.pots.ledgerSums(scope, { by: 'account', byMonth: true, ...days }),
  'ledgerSums by container': (store, scope) =>
    store.pots.ledgerSums(scope, { by: 'container', byMonth: false, ...days }),
  'alarms of a site': (store, scope, ids) => store.work.alarms(scope, { includeNormal: false, siteId: ids.site }),
  'tasks of a container': (store, scope, ids) =>
    store.work.tasks(scope, { openOnly: true, settledSinceMs: T0, siteId: ids.site, containerId: ids.container }),
  'visits of a container': (store, scope, ids) =>
    store.work.visits(scope, { containerId: ids.container, siteId: null, fromMs: span[0], toMs: span[1] }),
  'visits of a site': (store, scope, ids) =>
    store.work.visits(scope, { containerId: null, siteId: ids.site, fromMs: span[0], toMs: span[1] }),
};

/** Every reader that takes a scope. */
export const SCOPED: readonly [string, Ask][] = Object.entries({
  ...REGISTRY,
  ...READINGS,
  ...POTS,
  ...COMMISSIONING,
  ...WORK,
  ...NARROWED,
});

type AnyReader =
  | RegistryReader
  | CrewReader
  | CommissioningReader
  | PeopleReader
  | ReadingsReader
  | WeatherReader
  | PotReader
  | WorkReader
  | NotifyReader;
type NamesOf<Reader> = Reader extends unknown ? Exclude<keyof Reader, ScopedMethod<Reader>> : never;
type UnscopedMethod = NamesOf<AnyReader | AccessReader | DoorsReader | ChangeReader>;

/** The readers without a scope; a new one that is not in this table does not compile. */
const UNSCOPED_READERS: Record<UnscopedMethod, Ask> = {
  crewTerms: (store) => store.crew.crewTerms(),
  siteTerms: (store) => store.crew.siteTerms(),
  absences: (store) => store.crew.absences({ fromDay: '2026-06-01' }),
  absence: (store) => store.crew.absence('away'),
  hasPassword: (store, _scope, ids) => store.doors.hasPassword(ids.person),
  invitation: (store) => store.doors.invitation('hash'),
  secondFactor: (store, _scope, ids) => store.doors.secondFactor(ids.person),
  hasSecondFactor: (store, _scope, ids) => store.doors.hasSecondFactor(ids.person),
  recoveryCodesLeft: (store, _scope, ids) => store.doors.recoveryCodesLeft(ids.person),
  apiTokenByHash: (store) => store.doors.apiTokenByHash('hash'),
  apiTokens: (store, _scope, ids) => store.doors.apiTokens(ids.person),
  siteAccess: (store, _scope, ids) => store.access.siteAccess(ids.site),
  lastLookMs: (store, _scope, ids) => store.access.lastLookMs(ids.person, ids.site),
  looks: (store) => store.access.looks({ limit: 10, cursor: null }),
  firm: (store) => store.commissioning.firm(),
  pouredContainers: (store) => store.commissioning.pouredContainers(),
  fastUntilMs: (store, _scope, ids) => store.commissioning.fastUntilMs(ids.node),
  depots: (store) => store.registry.depots(),
  trucks: (store) => store.registry.trucks(),
  fleet: (store) => store.registry.fleet(),
  people: (store) => store.people.people(),
  person: (store, _scope, ids) => store.people.person(ids.person),
  personByLogin: (store) => store.people.personByLogin('A-login'),
  session: (store) => store.people.session('token'),
  credential: (store, _scope, ids) => store.people.credential(ids.node),

  node: (store, _scope, ids) => store.registry.node(ids.node),
  assignmentsOfNode: (store, _scope, ids) => store.registry.assignmentsOfNode(ids.node),
  ofNode: (store, _scope, ids) => store.readings.ofNode(ids.node, ...span),
  latestOfNode: (store, _scope, ids) => store.readings.latestOfNode(ids.node),
  edits: (store) => store.changes.edits({ limit: 10, cursor: null }, { key: 'A-site' }),
  oldestMs: (store, _scope, ids) => store.readings.oldestMs(ids.node),
  lastSeqBefore: (store) => store.changes.lastSeqBefore(T0),
  seqAfter: (store) => store.changes.seqAfter(0, 10),
  lastHeard: (store) => store.readings.lastHeard(),
  quarantine: (store) => store.readings.quarantine({ limit: 10, cursor: null }),
  quarantined: (store) => store.readings.quarantined('record'),
  observedDays: (store, _scope, ids) => store.weather.observedDays(ids.site, days.fromDay, days.toDay),
  forecastsOf: (store, _scope, ids) => store.weather.forecastsOf(ids.site, days.fromDay, days.toDay, T0),
  forecastDays: (store, _scope, ids) => store.weather.forecastDays(ids.site, days.fromDay, T0),
  samples: (store, _scope, ids) => store.weather.samples(ids.site, ...span),
  eventCorrections: (store, _scope, ids) => store.pots.eventCorrections(ids.container),
  checkpoint: (store, _scope, ids) => store.pots.checkpoint(ids.container, T0),
  calibration: (store) => store.pots.calibration(),
  lastDone: (store, _scope, ids) => store.work.lastDone(ids.site),
  taskTransitions: (store, _scope, ids) => store.work.taskTransitions(ids.task),
  roundStops: (store) => store.work.roundStops({ ...days, technicianId: null }),
  visit: (store, _scope, ids) => store.work.visit(ids.visit),
  unverifiedActions: (store) => store.work.unverifiedActions(T0),
  verifications: (store, _scope, ids) => store.work.verifications(ids.visit),
  alerts: (store, _scope, ids) => store.work.alerts(ids.person, { includeWithdrawn: false }),
  standingAlerts: (store) => store.work.standingAlerts('topic'),
  alert: (store) => store.work.alert('alert'),
  addresses: (store, _scope, ids) => store.notify.addresses(ids.person),
  address: (store) => store.notify.address('address'),
  addressesOfTarget: (store) => store.notify.addressesOfTarget('email', 'a@b'),
  calendarFeed: (store) => store.notify.calendarFeed('0'.repeat(64)),
  calendarFeedOf: (store, _scope, ids) => store.notify.calendarFeedOf(ids.person),
  rules: (store, _scope, ids) => store.notify.rules(ids.person),
  due: (store) => store.notify.due(T0, 10, null),
  outlived: (store) => store.notify.outlived(T0, 10),
  ofTopic: (store) => store.notify.ofTopic('topic'),
  entry: (store) => store.notify.entry('entry'),
  dead: (store) => store.notify.dead({ limit: 10, cursor: null }),
  jobLastRan: (store) => store.work.jobLastRan('digest'),
  lastSeq: (store) => store.changes.lastSeq(),
  after: (store) => store.changes.after(0, 100),
  cursor: (store) => store.changes.cursor('analysis'),
  audit: (store) => store.changes.audit({ limit: 10, cursor: null }),
};

export const UNSCOPED: readonly [string, Ask][] = [
  ...Object.entries(UNSCOPED_READERS),
  [
    'quarantine that waits',
    (store) => store.readings.quarantine({ limit: 10, cursor: null }, { unresolvedOnly: true }),
  ],
];
