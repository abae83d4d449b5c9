import { upsertText } from '../sql.js';
import { type Applier, siteOfContainer } from './context.js';

const FIRM = upsertText(
  'firm',
  ['id'],
  ['name', 'currency', 'water_price_per_m3', 'language', 'unit_volume', 'unit_length', 'unit_temperature'],
);
const FAST_REPORT = upsertText('fast_report', ['node_id'], ['until_ms']);

export const firm: Applier<'firm'> = ({ sql, lines }, { kind, row }) => {
  const { volume, length, temperature } = row.units;
  const changed = sql.run(
    FIRM,
    1,
    row.name,
    row.currency,
    row.waterPricePerM3,
    row.language,
    volume,
    length,
    temperature,
  );
  if (changed > 0) lines.add(kind, 'firm');
};

export const pourRecord: Applier<'pour_record'> = ({ sql, lines }, { kind, row }) => {
  sql.run(
    `INSERT INTO pour_record (id, container_id, at_ms, actor_id, pours_json, strapping_json, band_json, overflow_mm)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
    row.id,
    row.containerId,
    row.atMs,
    row.actorId,
    JSON.stringify(row.pours),
    JSON.stringify(row.strapping),
    JSON.stringify(row.band),
    row.overflowMm,
  );
  lines.add(kind, row.id, { siteId: siteOfContainer(sql, row.containerId), containerId: row.containerId });
};

export const fastReport: Applier<'fast_report'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(FAST_REPORT, row.nodeId, row.untilMs) > 0) lines.add(kind, row.nodeId);
};
