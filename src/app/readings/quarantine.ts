import type { Principal } from '../../domain/access.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Actor, Write } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { Page, PageRequest } from '../../domain/ports/store.js';
import type { QuarantinedRecord } from '../../domain/reading.js';
import { type App, allowed } from '../context.js';
import { type CsvFormat, readCsv } from './import-csv-table.js';
import { READINGS_CSV, readingsFormat } from './import-readings.js';
import { WEATHER_CSV, weatherFormat } from './import-weather.js';
import { DEFAULT_MAX_PAYLOAD_BYTES, type IncomingPack, packSource, Recorder } from './record-readings.js';

/** What became of one record that was run again. */
export interface RerunItem {
  readonly id: string;
  readonly taken: boolean;
  /** Why it was refused again; null where it was taken. */
  readonly detail: string | null;
}

export interface RerunOutcome {
  readonly taken: number;
  readonly refusedAgain: number;
  readonly items: readonly RerunItem[];
}

const PAGE_ROWS = 200;

/** Refused records, resolved ones included, as the store orders them. */
export async function quarantine(app: App, who: Principal, page: PageRequest): Promise<Page<QuarantinedRecord>> {
  allowed(who, 'quarantine.read');
  return app.store.readings.quarantine(page);
}

/**
 * Runs records again after their cause was mended, with their original time of receipt. A record that was taken
 * already is passed over as taken, so running twice changes nothing.
 * @throws DomainError `not_found` where an id is unknown; nothing is run then
 */
export async function rerunQuarantined(app: App, who: Principal, ids: readonly string[]): Promise<RerunOutcome> {
  allowed(who, 'quarantine.rerun');
  const rows: QuarantinedRecord[] = [];
  for (const id of ids) {
    const row = await app.store.readings.quarantined(id);
    if (row === null)
      throw new DomainError('not_found', `There is no quarantined record “${id}”. Read the list again.`);
    rows.push(row);
  }
  return rerunRows(app, { kind: 'person', id: who.personId }, rows);
}

/** Runs everything that is still in quarantine again, page by page. */
export async function rerunAllQuarantined(app: App, who: Principal): Promise<RerunOutcome> {
  allowed(who, 'quarantine.rerun');
  const total = { taken: 0, refusedAgain: 0, items: [] as RerunItem[] };
  let cursor: string | null = null;
  do {
    const page: Page<QuarantinedRecord> = await app.store.readings.quarantine({ limit: PAGE_ROWS, cursor });
    const open = page.rows.filter((row) => row.resolvedMs === null);
    const outcome = await rerunRows(app, { kind: 'person', id: who.personId }, open);
    total.taken += outcome.taken;
    total.refusedAgain += outcome.refusedAgain;
    total.items.push(...outcome.items);
    cursor = page.nextCursor;
  } while (cursor !== null);
  return total;
}

async function rerunRows(app: App, actor: Actor, rows: readonly QuarantinedRecord[]): Promise<RerunOutcome> {
  const recorder = new Recorder({
    store: app.store,
    clock: app.clock,
    maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES,
  });
  await recorder.directory.refresh();
  const zones = new Map((await app.store.registry.sites(WHOLE_FLEET)).map((site) => [site.id, site.timeZone]));
  const items: RerunItem[] = [];
  for (const row of rows) {
    if (row.resolvedMs !== null) {
      items.push({ id: row.id, taken: true, detail: null });
      continue;
    }
    const result = row.source.startsWith('file:')
      ? await examineFileRow(row, recorder, app.clock.nowMs(), zones)
      : examineMessage(row, recorder);
    if (result.kind === 'refused') {
      items.push({ id: row.id, taken: false, detail: result.detail });
      continue;
    }
    const atMs = app.clock.nowMs();
    const resolved: Write = { kind: 'quarantine_resolved', id: row.id, atMs };
    await app.store.commit({ atMs, actor, writes: [...result.writes, resolved], cursor: null });
    items.push({ id: row.id, taken: true, detail: null });
  }
  const taken = items.filter((item) => item.taken).length;
  return { taken, refusedAgain: items.length - taken, items };
}

type Examined =
  | { readonly kind: 'taken'; readonly writes: readonly Write[] }
  | { readonly kind: 'refused'; readonly detail: string };

/**
 * A row for one record looks for that record only; what else of the pack can be taken now is stored with it, which
 * repeats or anticipates the pack's other rows and so changes nothing in the end. A row for a whole pack is resolved as
 * soon as anything of it is taken, and what is still refused gets rows of its own.
 */
function examineMessage(row: QuarantinedRecord, recorder: Recorder): Examined {
  const pack = packOf(row);
  if (pack === null || row.refusal === 'payload_too_large') return { kind: 'refused', detail: row.detail };
  const result = recorder.examine(pack, row.recordIndex);
  const [first] = result.quarantined;
  const refusedAgain = row.recordIndex === null ? result.recordsTaken === 0 : first !== undefined;
  if (refusedAgain) return { kind: 'refused', detail: first?.detail ?? row.detail };
  const writes: Write[] = [];
  if (result.readings.length > 0) writes.push({ kind: 'readings', rows: result.readings });
  if (result.samples.length > 0) writes.push({ kind: 'weather_samples', rows: result.samples });
  if (result.quarantined.length > 0) writes.push({ kind: 'quarantined', rows: result.quarantined });
  return { kind: 'taken', writes };
}

function packOf(row: QuarantinedRecord): IncomingPack | null {
  const source = packSource(row.source);
  if (source === null) return null;
  return {
    ...source,
    source: row.source,
    payload: row.raw,
    contentType: row.contentType,
    receivedMs: row.receivedMs,
    cutFromBytes: null,
  };
}

async function examineFileRow(
  row: QuarantinedRecord,
  recorder: Recorder,
  nowMs: number,
  zones: ReadonlyMap<string, string>,
): Promise<Examined> {
  switch (row.contentType) {
    case READINGS_CSV: {
      const format = readingsFormat({
        nowMs,
        knowsNode: (id) => recorder.directory.node(id) !== null,
        firstAssignmentMs: (id) => recorder.directory.firstAssignmentMs(id),
      });
      return examineRow(row, format, (rows) => ({ kind: 'readings', rows }));
    }
    case WEATHER_CSV: {
      const format = weatherFormat({ nowMs, timeZone: (id) => zones.get(id) ?? null });
      return examineRow(row, format, (rows) => ({ kind: 'weather_days', rows }));
    }
    default:
      return { kind: 'refused', detail: row.detail };
  }
}

async function examineRow<Row>(
  row: QuarantinedRecord,
  format: CsvFormat<Row>,
  write: (rows: readonly Row[]) => Write,
): Promise<Examined> {
  const rows: Row[] = [];
  for await (const batch of readCsv(once(row.raw), row.source, format)) {
    const [refused] = batch.refused;
    if (refused !== undefined) return { kind: 'refused', detail: refused.detail };
    rows.push(...batch.rows.map((one) => one.row));
  }
  return rows.length === 0 ? { kind: 'refused', detail: row.detail } : { kind: 'taken', writes: [write(rows)] };
}

async function* once(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  yield bytes;
}
