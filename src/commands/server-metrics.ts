import { statfs } from 'node:fs/promises';
import { Gauge, type OpenMetricsContentType, type Registry } from 'prom-client';
import { WHOLE_FLEET } from '../domain/access.js';
import type { Store } from '../domain/ports/store.js';
import type { DailyBackups } from './daily-backups.js';
import type { Ingest } from './start-ingest.js';

/** Adds the numbers of the way in, of the fleet and of the disk. */
export function addServerMetrics(
  registry: Registry<OpenMetricsContentType>,
  ingest: Ingest,
  store: Store,
  dataDir: string,
): void {
  const gauge = gaugesOf(registry);
  gauge('ingest_connections', 'Open MQTT connections', () => ingest.stats().connections);
  gauge('ingest_messages', 'Messages with readings or weather taken in since the start', () => ingest.stats().packs);
  gauge('ingest_slowed', 'Messages that waited since the start because their sender sent too much', () => {
    return ingest.stats().slowed;
  });
  gauge('ingest_refused', 'Log-ins and publishes refused since the start', () => ingest.stats().refused);
  gauge('ingest_waiting', 'Messages taken in and not yet stored', () => ingest.stats().commit.waiting);
  gauge('ingest_commits', 'Commits of readings since the start', () => ingest.stats().commit.commits);
  gauge(
    'ingest_failed_commits',
    'Commits of readings that failed since the start',
    () => ingest.stats().commit.failedCommits,
  );
  gauge('ingest_commit_seconds', 'Time spent in commits of readings since the start', () => {
    return ingest.stats().commit.commitMs / 1000;
  });
  gauge('containers_silent', 'Containers whose node is silent', async () => {
    const statuses = await store.pots.statuses(WHOLE_FLEET);
    return statuses.filter((status) => status.forecast.knowledge === 'silent').length;
  });
  gauge('disk_free_bytes', 'Space left where the data folder is', async () => {
    const { bavail, bsize } = await statfs(dataDir);
    return bavail * bsize;
  });
}

/** Adds when the newest good backup was made. */
export function addBackupMetrics(registry: Registry<OpenMetricsContentType>, backups: DailyBackups): void {
  const gauge = gaugesOf(registry);
  gauge(
    'backup_good_timestamp_seconds',
    'When the newest backup was made that would do; 0: there is none',
    async () => {
      return ((await backups.newestMs()) ?? 0) / 1000;
    },
  );
  gauge('backup_failures', 'Backups that failed since the start', () => backups.failed);
}

type AddGauge = (name: string, help: string, read: () => number | Promise<number>) => void;

function gaugesOf(registry: Registry<OpenMetricsContentType>): AddGauge {
  return (name, help, read) => {
    new Gauge({
      name: `brimline_${name}`,
      help,
      registers: [registry],
      async collect() {
        this.set(await read());
      },
    });
  };
}
