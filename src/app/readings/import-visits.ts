import { ID_PATTERN } from '../../domain/ids.js';
import { shown } from '../../domain/senml/shown.js';
import type { Visit, WorkDone } from '../../domain/work.js';
import type { App } from '../context.js';
import { visitFaults } from '../fieldwork/visit-faults.js';
import type { VisitInput } from '../fieldwork/visits.js';
import {
  type CsvFormat,
  type CsvRow,
  parseInstant,
  parseNumber,
  type RowResult,
  readCsv,
  refuseRow,
} from './import-csv-table.js';
import type { CsvSource } from './import-files.js';

export interface VisitsSummary {
  readonly rows: number;
  readonly visitsTaken: number;
  readonly visitsRepeated: number;
  /** Rows, and whole visits by the line of their first row, that were not taken, with the reason. */
  readonly refused: readonly { readonly line: number; readonly detail: string }[];
}

const WORKS: readonly WorkDone[] = [
  'refill',
  'drain',
  'wet_from_above',
  'repack_wick',
  'replant',
  'clear_overflow',
  'other',
];

interface VisitRow {
  readonly visitId: string;
  readonly siteId: string;
  readonly technicianId: string;
  readonly atMs: number;
  readonly containerId: string;
  readonly work: WorkDone;
  readonly litres: number | null;
}

const VISITS_FORMAT: CsvFormat<VisitRow> = {
  contentType: 'text/csv; table=visits',
  required: ['visit', 'site', 'technician', 'time', 'container', 'work'],
  anyOf: ['litres'],
  optional: [],
  parse: parseVisitRow,
};

/**
 * Imports visits of the past, as an earlier record of the crew's work holds them: one row a piece of work, the rows of one
 * visit bear the same id. They explain refills in the history; no task or alarm of today follows from them. Importing
 * the same file again changes nothing.
 */
export async function importVisits(app: App, source: CsvSource): Promise<VisitsSummary> {
  const visits = new Map<string, { line: number; rows: VisitRow[] }>();
  const refused: { line: number; detail: string }[] = [];
  let rowCount = 0;
  for await (const batch of readCsv(source.input, source.name, VISITS_FORMAT)) {
    rowCount += batch.rows.length + batch.refused.length;
    for (const { line, row } of batch.rows) {
      const visit = visits.get(row.visitId) ?? { line, rows: [] };
      visit.rows.push(row);
      visits.set(row.visitId, visit);
    }
    refused.push(...batch.refused.map(({ line, detail }) => ({ line, detail })));
  }
  const taken: Visit[] = [];
  let repeated = 0;
  for (const { line, rows } of visits.values()) {
    const input = visitOf(rows);
    const [fault] = await visitFaults(app, input);
    if (fault !== undefined) refused.push({ line, detail: `visit ${input.id}${fault.pointer}: ${fault.detail}` });
    else if ((await app.store.work.visit(input.id)) !== null) repeated += 1;
    else taken.push({ ...input, recordedMs: app.clock.nowMs() });
  }
  if (taken.length > 0) {
    await app.store.commit({
      atMs: app.clock.nowMs(),
      actor: { kind: 'command', id: 'import' },
      writes: taken.map((row) => ({ kind: 'visit', row }) as const),
      cursor: null,
    });
  }
  return { rows: rowCount, visitsTaken: taken.length, visitsRepeated: repeated, refused };
}

function visitOf(rows: readonly VisitRow[]): VisitInput {
  const first = rows[0]!;
  return {
    id: first.visitId,
    siteId: first.siteId,
    technicianId: first.technicianId,
    startedMs: Math.min(...rows.map(({ atMs }) => atMs)),
    happenedMs: Math.max(...rows.map(({ atMs }) => atMs)),
    note: null,
    actions: rows.map(({ containerId, work, litres }) => ({
      containerId,
      taskId: null,
      work,
      litres,
      exception: null,
      note: null,
    })),
  };
}

function parseVisitRow(row: CsvRow): RowResult<VisitRow> {
  for (const column of ['visit', 'site', 'technician', 'container']) {
    if (!ID_PATTERN.test(row.cell(column))) {
      return refuseRow(
        'bad_row',
        `${column} is ${shown(row.cell(column))}; 1 to 64 of A-Z a-z 0-9 . _ - was expected.`,
      );
    }
  }
  const atMs = parseInstant('time', row.cell('time'));
  if (typeof atMs !== 'number') return { kind: 'refused', ...atMs };
  const work = WORKS.find((known) => known === row.cell('work'));
  if (work === undefined)
    return refuseRow('bad_row', `work is ${shown(row.cell('work'))}; one of ${WORKS.join(', ')}.`);
  const litres = parseNumber('litres', row.cell('litres'));
  if (litres !== null && typeof litres !== 'number') return { kind: 'refused', ...litres };
  const [visitId, siteId, technicianId, containerId] = [
    row.cell('visit'),
    row.cell('site'),
    row.cell('technician'),
    row.cell('container'),
  ];
  return { kind: 'row', row: { visitId, siteId, technicianId, atMs, containerId, work, litres } };
}
