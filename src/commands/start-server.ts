import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { Server as TlsServer } from 'node:tls';
import { fileURLToPath } from 'node:url';
import type { Logger } from 'pino';
import { ANALYSIS_STAGE, AnalysisStage } from '../app/analysis/analysis-stage.js';
import { ChangeFeed } from '../app/changes.js';
import { scaledClock, systemClock } from '../app/clock.js';
import type { App } from '../app/context.js';
import { ALARM_STAGE, runAlarmStage } from '../app/fieldwork/alarm-stage.js';
import { calendarOf } from '../app/fieldwork/calendar-feeds.js';
import { NOTIFY_STAGE, runNotifyStage } from '../app/fieldwork/notify-stage.js';
import { firmZone } from '../app/fieldwork/voices.js';
import { runDueJobs } from '../app/jobs/run-jobs.js';
import { startTicker } from '../app/jobs/ticker.js';
import { LogInThrottle } from '../app/people/log-in-throttle.js';
import { addOwnerFromTerminal, hasOwner } from '../app/people/people.js';
import { SetUpDoor } from '../app/people/set-up.js';
import { Planner } from '../app/planning/planner.js';
import { PLANNER_STAGE, PlannerStage } from '../app/planning/planner-stage.js';
import { explainContainer } from '../app/pots/explain.js';
import { NodeSettingsStage } from '../app/pots/node-settings.js';
import { rerunQuarantined } from '../app/readings/quarantine.js';
import type { Settings } from '../config.js';
import type { Clock } from '../domain/ports/clock.js';
import type { ForecastSource } from '../domain/ports/forecast-source.js';
import type { Store } from '../domain/ports/store.js';
import { addStoreMetrics, makeMetrics } from '../http/metrics.js';
import { buildHttpServer, type HttpServer, listen } from '../http/server.js';
import { calendarFeed } from '../notify/calendar.js';
import { openStore } from '../store/open.js';
import { KEY_FILE_NAME } from '../store/vault.js';
import { NwsForecast } from '../weather/nws-forecast.js';
import { DailyBackups } from './daily-backups.js';
import { addBackupMetrics, addServerMetrics } from './server-metrics.js';
import { type Stage, StageLoop } from './stage-loop.js';
import { type Ingest, startIngest } from './start-ingest.js';
import { type Notify, startNotify } from './start-notify.js';
import { followTls, readTls } from './tls-files.js';

/** A whole server in this process: store, ingest, stages, jobs, API and pages. */
export interface RunningServer {
  readonly app: App;
  readonly store: Store;
  readonly url: string;
  /** Of the embedded broker; null where an external one is read. */
  readonly mqttUrl: string | null;
  readonly wsUrl: string | null;
  readonly mqttsUrl: string | null;
  readonly wssUrl: string | null;
  readonly stages: StageLoop;
  readonly analysis: AnalysisStage;
  readonly notify: Notify;
  readonly planner: Planner;
  /** The code that lets the first owner in; for the console only. */
  readonly setUpCode: string;
  /** Finishes what it holds, in the order of the way of the data, and closes everything. */
  stop(): Promise<void>;
}

export interface ServerOptions {
  readonly demo: boolean;
  /** Instead of the clock of the settings; whoever gives it moves it. */
  readonly clock?: Clock;
  /** The built pages; where the build puts them, where it is left out. */
  readonly dashboardDir?: string;
  /** Called with the open store before anything listens; for the first owner. */
  readonly beforeListening?: (app: App) => Promise<void>;
}

/** Commits of other processes are not announced; somebody looks this often. */
const LOOK_MS = 1_000;

const WEATHER_TIMEOUT_MS = 20_000;

/** The built dashboard: dist/dashboard, seen from dist/src/commands as well as from src/commands. */
export function dashboardDir(): string | null {
  for (const path of ['../../dashboard/', '../../dist/dashboard/']) {
    const dir = fileURLToPath(new URL(path, import.meta.url));
    if (existsSync(`${dir}index.html`) && existsSync(`${dir}assets`)) return dir;
  }
  return null;
}

/**
 * Starts everything; what was started is stopped again where a later part refuses.
 * @throws DomainError for a store, port or address that cannot be had, each with words that say what to do
 */
export async function startServer(settings: Settings, log: Logger, options: ServerOptions): Promise<RunningServer> {
  const stops: (() => Promise<void>)[] = [];
  const stop = async (): Promise<void> => {
    for (const one of stops.splice(0).reverse()) await one();
  };
  try {
    return await start(settings, log, options, stops, stop);
  } catch (error) {
    await stop();
    throw error;
  }
}

async function start(
  settings: Settings,
  log: Logger,
  options: ServerOptions,
  stops: (() => Promise<void>)[],
  stop: () => Promise<void>,
): Promise<RunningServer> {
  const store = await openStore({
    dir: settings.dataDir,
    keyFile: settings.keyFile,
    log: log.child({ component: 'store' }),
  });
  stops.push(() => store.close());
  const clock = options.clock ?? (settings.clock === null ? systemClock : scaledClock(settings.clock, systemClock));
  const app: App = { store, clock, log: log.child({ component: 'app' }) };
  if (settings.firstOwner !== null && !(await hasOwner(store))) await addOwnerFromTerminal(app, settings.firstOwner);
  await options.beforeListening?.(app);

  const analysis = new AnalysisStage(app);
  const ingest = await startIngest(app, settings, log.child({ component: 'ingest' }));
  const planner = new Planner(app, settings.planner);
  stops.push(() => planner.close());
  const forecasts = forecastSource(settings.weather);
  const stages = new StageLoop(
    stagesOf(app, analysis, ingest, planner),
    log.child({ component: 'stages' }),
    systemClock.nowMs,
  );
  stops.push(() => stages.stop());
  stops.push(follow(store, stages));
  const backups = dailyBackups(settings, log.child({ component: 'backup' }));
  if (backups !== null) stops.push(() => backups.close());
  stops.push(
    startTicker(
      () => runDueJobs({ app, analysis, planner, forecasts, retention: settings.retention, backups }),
      settings.clock?.speed ?? 1,
      app.log,
    ),
  );
  stops.push(() => ingest.close());
  const notify = await startNotify(app, settings, ingest.publish, log.child({ component: 'notify' }));
  stops.push(() => notify.close());
  const setUpDoor = new SetUpDoor();
  const http = await startHttp(settings, log, options, app, planner, stages, ingest, notify, setUpDoor, backups);
  stops.push(() => http.close());
  const { mqttUrl, wsUrl, mqttsUrl, wssUrl } = ingest;
  return {
    app,
    store,
    url: http.url,
    mqttUrl,
    wsUrl,
    mqttsUrl,
    wssUrl,
    stages,
    analysis,
    notify,
    planner,
    setUpCode: setUpDoor.code,
    stop,
  };
}

function dailyBackups({ backups, dataDir, keyFile }: Settings, log: Logger): DailyBackups | null {
  if (backups === null) return null;
  const [, program] = process.argv;
  if (program === undefined) throw new Error('there is no program to start for a backup');
  return new DailyBackups({
    ...backups,
    dataDir,
    keyFile: keyFile ?? join(dataDir, KEY_FILE_NAME),
    program: [...process.execArgv, program],
    log,
  });
}

/** Freshness and back-off are real time, whatever the business clock does. */
function forecastSource(weather: Settings['weather']): ForecastSource | null {
  if (weather === null) return null;
  const userAgent = `Brimline (${weather.contact})`;
  return new NwsForecast({ baseUrl: weather.baseUrl, userAgent, timeoutMs: WEATHER_TIMEOUT_MS }, systemClock.nowMs);
}

function stagesOf(app: App, analysis: AnalysisStage, ingest: Ingest, planner: Planner): readonly Stage[] {
  const plannerStage = new PlannerStage(app, planner);
  const nodeSettings = new NodeSettingsStage(app, (...message) => ingest.publish(...message));
  return [
    { name: ANALYSIS_STAGE, step: async () => (await analysis.step()).changes > 0 },
    { name: ALARM_STAGE, step: async () => (await runAlarmStage(app)).changes > 0 },
    { name: NOTIFY_STAGE, step: async () => (await runNotifyStage(app, () => firmZone(app))) > 0 },
    ...(planner.settings.automatic ? [{ name: PLANNER_STAGE, step: () => plannerStage.step() }] : []),
    { name: 'node-settings', step: () => nodeSettings.step() },
  ];
}

async function startHttp(
  settings: Settings,
  log: Logger,
  options: ServerOptions,
  app: App,
  planner: Planner,
  stages: StageLoop,
  ingest: Ingest,
  notify: Notify,
  setUpDoor: SetUpDoor,
  backups: DailyBackups | null,
): Promise<HttpServer> {
  const metrics = makeMetrics();
  addStoreMetrics(metrics, app.store);
  addServerMetrics(metrics, ingest, app.store, settings.dataDir);
  if (backups !== null) addBackupMetrics(metrics, backups);
  const tlsFiles = settings.http.tls ? settings.tls : null;
  const api = await buildHttpServer({
    tls: tlsFiles === null ? null : readTls(tlsFiles),
    app,
    planner,
    settings: settings.http,
    sessions: {
      processClock: systemClock,
      throttle: new LogInThrottle(),
      sessionHours: settings.http.sessionHours,
      secondFactor: settings.http.secondFactor,
    },
    processClock: systemClock,
    speed: settings.clock?.speed ?? 1,
    demo: options.demo,
    setUpDoor,
    feed: await ChangeFeed.open(app.store),
    explain: (containerId) => explainContainer(app, containerId),
    rerun: async (who, ids) => (await rerunQuarantined(app, who, ids)).items,
    notReady: async () => [...stages.troubles(), ...ingest.notReady()],
    reach: notify.reach,
    calendar: async (token) => {
      const content = await calendarOf(app, token);
      return content === null ? null : calendarFeed(content.name, content.stops);
    },
    metrics,
    dashboardDir: options.dashboardDir ?? dashboardDir(),
    log: log.child({ component: 'http' }),
  });
  const server = await listen(api, settings.http.host, settings.http.port);
  if (tlsFiles === null) return server;
  const { server: listener } = api;
  const unfollow = followTls(
    tlsFiles,
    ({ key, cert }) => listener instanceof TlsServer && listener.setSecureContext({ key, cert }),
    log,
  );
  return {
    ...server,
    close: async () => {
      unfollow();
      await server.close();
    },
  };
}

/** Wakes the stages after each commit, and now and then for those of other processes. */
function follow(store: Store, stages: StageLoop): () => Promise<void> {
  const unfollow = store.onCommit(() => stages.wake());
  const look = setInterval(() => stages.wake(), LOOK_MS);
  stages.wake();
  return async () => {
    unfollow();
    clearInterval(look);
  };
}
