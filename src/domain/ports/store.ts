import type { Scope } from '../access.js';
import type { Alarm, AlarmOverride, AlarmTransition } from '../alarm.js';
import type { FleetCalibration } from '../analysis.js';
import type { Change, ChangeSet, CommitResult, Edit } from '../change-set.js';
import type { DryHours, Firm, PourRecord } from '../commissioning.js';
import type { Credential, PersonSecret, Session } from '../credential.js';
import type { Absence, CrewTerms, SiteTerms } from '../crew.js';
import type { ApiToken, Invitation, SecondFactor } from '../doors.js';
import type { AccountId, ContainerId, EpochMs, LocalDay, NodeId, PersonId, SiteId } from '../ids.js';
import type { Address, CalendarFeed, ChannelKind, ContactRules, OutboxEntry } from '../notify.js';
import type { LearnedPace, PlanVersion, PublishedVisit } from '../plan.js';
import type {
  DayRollup,
  EventCorrection,
  Finding,
  Forecast,
  HourRollup,
  LedgerDay,
  LedgerPosting,
  PotEvent,
  PotReading,
  PotStatus,
} from '../pot.js';
import type { QuarantinedRecord, Reading } from '../reading.js';
import type {
  Account,
  Assignment,
  Container,
  Depot,
  Fleet,
  Gateway,
  Person,
  SensorNode,
  Site,
  Truck,
} from '../registry.js';
import type { AccessLook, SiteAccess } from '../site-access.js';
import type { WeatherDay, WeatherSample } from '../weather.js';
import type {
  Alert,
  RoundStop,
  Task,
  TaskKind,
  TaskTransition,
  Visit,
  VisitAction,
  VisitVerification,
} from '../work.js';

/** One page of a list; `nextCursor` is null on the last page. */
export interface Page<Row> {
  readonly rows: readonly Row[];
  readonly nextCursor: string | null;
}

export interface PageRequest {
  readonly limit: number;
  readonly cursor: string | null;
}

export interface RegistryReader {
  accounts(scope: Scope): Promise<readonly Account[]>;
  sites(scope: Scope): Promise<readonly Site[]>;
  site(scope: Scope, id: SiteId): Promise<Site | null>;
  containers(scope: Scope): Promise<readonly Container[]>;
  containersPage(
    scope: Scope,
    page: PageRequest,
    filter: { readonly text: string | null; readonly siteId: SiteId | null; readonly accountId: AccountId | null },
  ): Promise<Page<Container>>;
  container(scope: Scope, id: ContainerId): Promise<Container | null>;
  gateways(scope: Scope): Promise<readonly Gateway[]>;
  nodes(scope: Scope): Promise<readonly SensorNode[]>;
  node(id: NodeId): Promise<SensorNode | null>;
  assignments(scope: Scope): Promise<readonly Assignment[]>;
  assignmentsOfContainer(scope: Scope, id: ContainerId): Promise<readonly Assignment[]>;
  assignmentsOfNode(id: NodeId): Promise<readonly Assignment[]>;
  depots(): Promise<readonly Depot[]>;
  trucks(): Promise<readonly Truck[]>;
  /** The whole registry, for export and for checking an import against what is there. */
  fleet(): Promise<Fleet>;
}

/** When a kind of task was last done at a container. */
export interface DoneTask {
  readonly containerId: ContainerId;
  readonly kind: TaskKind;
  readonly atMs: EpochMs;
}

/** How the crew works; what nobody set is not there (see `usualCrewTerms`, `usualSiteTerms`). */
export interface CrewReader {
  crewTerms(): Promise<readonly CrewTerms[]>;
  siteTerms(): Promise<readonly SiteTerms[]>;
  /** Those that were not taken back and end on `fromDay` or later; null: all of them. */
  absences(filter: { readonly fromDay: LocalDay | null }): Promise<readonly Absence[]>;
  absence(id: string): Promise<Absence | null>;
}

export interface PeopleReader {
  people(): Promise<readonly Person[]>;
  person(id: PersonId): Promise<Person | null>;
  personByLogin(login: string): Promise<{ readonly person: Person; readonly secret: PersonSecret } | null>;
  session(tokenHash: string): Promise<{ readonly session: Session; readonly person: Person } | null>;
  credential(principalId: string): Promise<Credential | null>;
}

export interface DoorsReader {
  hasPassword(personId: PersonId): Promise<boolean>;
  invitation(tokenHash: string): Promise<Invitation | null>;
  /**
   * Confirmed or only begun; null: none.
   * @throws DomainError `key_missing` where the key that sealed it is not there
   */
  secondFactor(personId: PersonId): Promise<SecondFactor | null>;
  /** Whether there is a confirmed one; needs no key. */
  hasSecondFactor(personId: PersonId): Promise<boolean>;
  recoveryCodesLeft(personId: PersonId): Promise<number>;
  apiTokenByHash(tokenHash: string): Promise<ApiToken | null>;
  /** Of a person, or with null everybody's; also revoked and expired ones. */
  apiTokens(personId: PersonId | null): Promise<readonly ApiToken[]>;
}

export interface AccessReader {
  /**
   * How to get into a site; null where nothing is kept.
   * @throws DomainError `key_missing` where the key that sealed it is not there
   */
  siteAccess(siteId: SiteId): Promise<SiteAccess | null>;
  /** When a person was shown it last. */
  lastLookMs(personId: PersonId, siteId: SiteId): Promise<EpochMs | null>;
  /** Who was shown what, newest first. */
  looks(page: PageRequest): Promise<Page<AccessLook>>;
}

export interface ReadingsReader {
  /** Raw readings of a node in [fromMs, toMs), by time. */
  ofNode(nodeId: NodeId, fromMs: EpochMs, toMs: EpochMs): Promise<readonly Reading[]>;
  /** Readings attributed through the assignments, level above the floor, in [fromMs, toMs), by time. */
  ofContainer(scope: Scope, containerId: ContainerId, fromMs: EpochMs, toMs: EpochMs): Promise<readonly PotReading[]>;
  latestOfNode(nodeId: NodeId): Promise<Reading | null>;
  /** When the oldest reading was taken that is still kept of a node. */
  oldestMs(nodeId: NodeId): Promise<EpochMs | null>;
  /** Last time each node was heard, by receipt. */
  lastHeard(): Promise<ReadonlyMap<NodeId, EpochMs>>;
  /** Refused records, the latest first; all of them, or only those that still wait for a remedy. */
  quarantine(page: PageRequest, filter?: { readonly unresolvedOnly: boolean }): Promise<Page<QuarantinedRecord>>;
  quarantined(id: string): Promise<QuarantinedRecord | null>;
}

export interface WeatherReader {
  /** Observed days, inclusive. */
  observedDays(siteId: SiteId, fromDay: LocalDay, toDay: LocalDay): Promise<readonly WeatherDay[]>;
  /** For each day from `fromDay` on, the forecast issued last, but not after `knownAtMs`. */
  forecastDays(siteId: SiteId, fromDay: LocalDay, knownAtMs: EpochMs): Promise<readonly WeatherDay[]>;
  /** Every issue for the days from `fromDay` to `toDay` that was there at `knownAtMs`, by day and issue. */
  forecastsOf(siteId: SiteId, fromDay: LocalDay, toDay: LocalDay, knownAtMs: EpochMs): Promise<readonly WeatherDay[]>;
  samples(siteId: SiteId, fromMs: EpochMs, toMs: EpochMs): Promise<readonly WeatherSample[]>;
}

export interface PotReader {
  statuses(scope: Scope): Promise<readonly PotStatus[]>;
  status(scope: Scope, id: ContainerId): Promise<PotStatus | null>;
  events(scope: Scope, id: ContainerId, fromMs: EpochMs, toMs: EpochMs): Promise<readonly PotEvent[]>;
  /** Every word that people said on the events of a container, oldest first. */
  eventCorrections(id: ContainerId): Promise<readonly EventCorrection[]>;
  /** Open findings, or also the closed ones that were open at some time in [fromMs, now]. */
  findings(
    scope: Scope,
    filter: { readonly containerId: ContainerId | null; readonly openOnly: boolean; readonly fromMs: EpochMs | null },
  ): Promise<readonly Finding[]>;
  /** Forecasts as they were made, by origin. */
  forecasts(scope: Scope, id: ContainerId, fromMs: EpochMs, toMs: EpochMs): Promise<readonly Forecast[]>;
  hourRollups(scope: Scope, id: ContainerId, fromMs: EpochMs, toMs: EpochMs): Promise<readonly HourRollup[]>;
  dayRollups(scope: Scope, id: ContainerId, fromDay: LocalDay, toDay: LocalDay): Promise<readonly DayRollup[]>;
  /** Days inclusive. */
  ledgerDays(
    scope: Scope,
    filter: { readonly containerId: ContainerId | null; readonly fromDay: LocalDay; readonly toDay: LocalDay },
  ): Promise<readonly LedgerDay[]>;
  /** The entry that stands for a day, then those that it replaced, the latest first. */
  ledgerPostings(scope: Scope, id: ContainerId, day: LocalDay): Promise<readonly LedgerPosting[]>;
  /** Ledger sums by account, site or container, and by month where asked. */
  ledgerSums(scope: Scope, query: LedgerSumQuery): Promise<readonly LedgerSum[]>;
  /** The latest checkpoint not after `atMs`, nor after the instant before which nothing is derived anew, if that is later. */
  checkpoint(id: ContainerId, atMs: EpochMs): Promise<{ readonly atMs: EpochMs; readonly stateJson: string } | null>;
  calibration(): Promise<FleetCalibration | null>;
}

export interface LedgerSumQuery {
  readonly by: 'account' | 'site' | 'container';
  readonly byMonth: boolean;
  readonly fromDay: LocalDay;
  readonly toDay: LocalDay;
}

/** Sums of ledger days; opening and closing are of the first and the last day of the period. */
export interface LedgerSum extends Omit<LedgerDay, 'containerId' | 'day' | 'coverage'> {
  /** Id of the account, site or container. */
  readonly id: string;
  /** `YYYY-MM`, or null where months were not asked for. */
  readonly month: string | null;
  readonly containers: number;
  readonly containerDays: number;
}

export interface WorkReader {
  alarms(
    scope: Scope,
    filter: { readonly includeNormal: boolean; readonly siteId: SiteId | null },
  ): Promise<readonly Alarm[]>;
  alarm(scope: Scope, id: string): Promise<Alarm | null>;
  alarmTransitions(scope: Scope, alarmId: string): Promise<readonly AlarmTransition[]>;
  /** Of all alarms, in [fromMs, toMs), in order. */
  alarmTransitionsBetween(scope: Scope, fromMs: EpochMs, toMs: EpochMs): Promise<readonly AlarmTransition[]>;
  /** Every override as it was made, oldest first; the last row of an id counts. */
  alarmOverrides(scope: Scope, siteId: SiteId | null): Promise<readonly AlarmOverride[]>;
  /** With `openOnly`: open tasks, and those that were done, verified or cancelled since `settledSinceMs`, if given. */
  tasks(
    scope: Scope,
    filter: {
      readonly openOnly: boolean;
      readonly settledSinceMs: EpochMs | null;
      readonly siteId: SiteId | null;
      readonly containerId: ContainerId | null;
    },
  ): Promise<readonly Task[]>;
  task(scope: Scope, id: string): Promise<Task | null>;
  /** When work of each kind was last done at the pots of a site: only what was done or verified. */
  lastDone(siteId: SiteId): Promise<readonly DoneTask[]>;
  taskTransitions(taskId: string): Promise<readonly TaskTransition[]>;
  roundStops(filter: {
    readonly fromDay: LocalDay;
    readonly toDay: LocalDay;
    readonly technicianId: PersonId | null;
  }): Promise<readonly RoundStop[]>;
  visit(id: string): Promise<Visit | null>;
  visits(
    scope: Scope,
    filter: {
      readonly containerId: ContainerId | null;
      readonly siteId: SiteId | null;
      readonly fromMs: EpochMs;
      readonly toMs: EpochMs;
    },
  ): Promise<readonly Visit[]>;
  /** Actions of visits that the sensor has not yet spoken about, or had no data for. */
  unverifiedActions(sinceMs: EpochMs): Promise<readonly { readonly visit: Visit; readonly action: VisitAction }[]>;
  verifications(visitId: string): Promise<readonly VisitVerification[]>;
  alerts(personId: PersonId, filter: { readonly includeWithdrawn: boolean }): Promise<readonly Alert[]>;
  alert(id: string): Promise<Alert | null>;
  /** The alerts about one topic, whoever they are for. */
  standingAlerts(topic: string): Promise<readonly Alert[]>;
  jobLastRan(job: string): Promise<EpochMs | null>;
}

export interface PlanReader {
  /** The draft; null before there was any. */
  latestVersion(): Promise<PlanVersion | null>;
  version(seq: number): Promise<PlanVersion | null>;
  /** What was planned for the stops of these days, both included. */
  publishedVisits(fromDay: LocalDay, toDay: LocalDay): Promise<readonly PublishedVisit[]>;
  learnedPace(): Promise<LearnedPace | null>;
}

export interface NotifyReader {
  /** Addresses in use: of a person, or with null those that serve the whole firm. */
  addresses(personId: PersonId | null): Promise<readonly Address[]>;
  address(id: string): Promise<Address | null>;
  /** Addresses in use with that target, whoever's they are. */
  addressesOfTarget(channel: ChannelKind, target: string): Promise<readonly Address[]>;
  rules(personId: PersonId): Promise<ContactRules | null>;
  /** Waiting entries of a channel whose time has come, longest waiting first; null: of every channel. */
  due(nowMs: EpochMs, limit: number, channel: ChannelKind | null): Promise<readonly OutboxEntry[]>;
  /** Waiting entries that speak of what has passed, whatever their channel. */
  outlived(nowMs: EpochMs, limit: number): Promise<readonly OutboxEntry[]>;
  /** All that was ever written about a topic, oldest first. */
  ofTopic(topic: string): Promise<readonly OutboxEntry[]>;
  entry(id: string): Promise<OutboxEntry | null>;
  /** What was given up, oldest first. */
  dead(page: PageRequest): Promise<Page<OutboxEntry>>;
  /** The feed of a token that was not revoked. */
  calendarFeed(tokenHash: string): Promise<CalendarFeed | null>;
  calendarFeedOf(personId: PersonId): Promise<CalendarFeed | null>;
}

/** What is known beside the registry of how pots were set up, and of the firm. */
export interface CommissioningReader {
  /** Null before the first set-up. */
  firm(): Promise<Firm | null>;
  /** How a container was calibrated, oldest first. */
  pourRecords(scope: Scope, id: ContainerId): Promise<readonly PourRecord[]>;
  /** Containers of the whole fleet whose table was made by pouring. */
  pouredContainers(): Promise<ReadonlySet<ContainerId>>;
  /** Until when a node is asked to hurry; null where it never was. */
  fastUntilMs(nodeId: NodeId): Promise<EpochMs | null>;
  /**
   * Hours in [fromMs, toMs) in which the water stood at the wick foot, of the containers that were that low on a day of
   * the span; the others are left out.
   */
  dryHours(
    scope: Scope,
    span: {
      readonly fromDay: LocalDay;
      readonly toDay: LocalDay;
      readonly fromMs: EpochMs;
      readonly toMs: EpochMs;
    },
  ): Promise<readonly DryHours[]>;
}

export interface ChangeReader {
  lastSeq(): Promise<number>;
  /** Changes after `afterSeq`, at most `limit`, oldest first. */
  after(afterSeq: number, limit: number): Promise<readonly Change[]>;
  cursor(stage: string): Promise<number>;
  /** The last line written before an instant; 0: none. */
  lastSeqBefore(atMs: EpochMs): Promise<number>;
  /** The number of the line that comes so many lines after another; null where there are not as many. */
  seqAfter(seq: number, lines: number): Promise<number | null>;
  audit(page: PageRequest): Promise<Page<Change>>;
  /** What was changed, before and after, newest first; of everything, or of what bears that id. */
  edits(page: PageRequest, filter: { readonly key: string | null }): Promise<Page<Edit>>;
}

/** The one place where things are kept. Adapters: SQLite now; nothing above knows which. */
export interface Store {
  readonly registry: RegistryReader;
  readonly people: PeopleReader;
  readonly crew: CrewReader;
  readonly access: AccessReader;
  readonly doors: DoorsReader;
  readonly readings: ReadingsReader;
  readonly weather: WeatherReader;
  readonly pots: PotReader;
  readonly work: WorkReader;
  readonly plans: PlanReader;
  readonly notify: NotifyReader;
  readonly changes: ChangeReader;
  readonly commissioning: CommissioningReader;
  /**
   * Applies a change set in one transaction that is durable when the promise resolves.
   * @throws DomainError `cursor_moved` where another commit moved the stage's cursor
   */
  commit(changeSet: ChangeSet): Promise<CommitResult>;
  /** Calls back after each commit; returns the way to stop. */
  onCommit(listener: (result: CommitResult) => void): () => void;
  close(): Promise<void>;
}
