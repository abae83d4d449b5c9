import { collectDefaultMetrics, Gauge, Histogram, type OpenMetricsContentType, Registry } from 'prom-client';
import type { Store } from '../domain/ports/store.js';
import type { Api } from './api.js';

/** Stages that follow the change log, as far as the metrics show how far behind each is. */
const STAGES = ['analysis', 'alarms'] as const;

/** The numbers that whoever runs the server needs, in the OpenMetrics text format. */
export function makeMetrics(): Registry<OpenMetricsContentType> {
  const registry = new Registry<OpenMetricsContentType>();
  registry.setContentType(Registry.OPENMETRICS_CONTENT_TYPE);
  collectDefaultMetrics({ register: registry });
  return registry;
}

/** Adds what the store knows: the length of the change log, and how far each stage is behind it. */
export function addStoreMetrics(registry: Registry<OpenMetricsContentType>, store: Store): void {
  new Gauge({
    name: 'brimline_change_log_seq',
    help: 'Last line of the change log',
    registers: [registry],
    async collect() {
      this.set(await store.changes.lastSeq());
    },
  });
  new Gauge({
    name: 'brimline_stage_lag_changes',
    help: 'Lines of the change log that a stage has not looked at yet',
    labelNames: ['stage'],
    registers: [registry],
    async collect() {
      const lastSeq = await store.changes.lastSeq();
      for (const stage of STAGES) this.set({ stage }, lastSeq - (await store.changes.cursor(stage)));
    },
  });
}

/** Counts and times requests by route, so that ids in addresses do not make a series each. */
export function addHttpMetrics(registry: Registry<OpenMetricsContentType>, api: Api): void {
  const duration = new Histogram({
    name: 'brimline_http_request_duration_seconds',
    help: 'Time from a request to the end of its answer',
    labelNames: ['method', 'route', 'status'],
    buckets: [0.005, 0.02, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10],
    registers: [registry],
  });
  api.addHook('onResponse', async (request, reply) => {
    const route = request.routeOptions.url ?? 'none';
    duration.observe({ method: request.method, route, status: String(reply.statusCode) }, reply.elapsedTime / 1000);
  });
}

/** Adds how many pages follow the change log. */
export function countStreams(registry: Registry<OpenMetricsContentType>, streams: () => number): void {
  new Gauge({
    name: 'brimline_change_streams',
    help: 'Open change streams',
    registers: [registry],
    collect() {
      this.set(streams());
    },
  });
}
