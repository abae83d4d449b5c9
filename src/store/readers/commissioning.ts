import { z } from 'zod';
import type { DryHours, Firm, MeasuredPour, PourRecord, TableBandPoint } from '../../domain/commissioning.js';
import type { CommissioningReader } from '../../domain/ports/store.js';
import { parseJson, strappingJson } from '../json.js';
import { accountOf, IN_SCOPE, type ReadContext } from './context.js';

interface FirmRow extends Omit<Firm, 'units'> {
  readonly volume: Firm['units']['volume'];
  readonly length: Firm['units']['length'];
  readonly temperature: Firm['units']['temperature'];
}

interface PourRow extends Omit<PourRecord, 'pours' | 'strapping' | 'band'> {
  readonly poursJson: string;
  readonly strappingJson: string;
  readonly bandJson: string;
}

const poursJson: z.ZodType<readonly MeasuredPour[]> = z.array(z.object({ litres: z.number(), levelMm: z.number() }));
const bandJson: z.ZodType<readonly TableBandPoint[]> = z.array(
  z.object({ levelMm: z.number(), litres: z.number(), lowLitres: z.number(), highLitres: z.number() }),
);

/** A level at rest flickers about the wick foot by the sensor's noise; a guess of ours, no source. */
const AT_FOOT_MM = 1;

export function commissioningReader({ read }: ReadContext): CommissioningReader {
  return {
    firm: () =>
      read((sql) => {
        const row = sql.get<FirmRow>(
          `SELECT name, currency, water_price_per_m3 AS "waterPricePerM3", language, unit_volume AS volume,
             unit_length AS length, unit_temperature AS temperature FROM firm WHERE id = 1`,
        );
        if (row === undefined) return null;
        const { volume, length, temperature, ...rest } = row;
        return { ...rest, units: { volume, length, temperature } };
      }),
    pourRecords: (scope, containerId) =>
      read((sql) =>
        sql
          .all<PourRow>(
            `SELECT p.id, p.container_id AS "containerId", p.at_ms AS "atMs", p.actor_id AS "actorId",
               p.pours_json AS "poursJson", p.strapping_json AS "strappingJson", p.band_json AS "bandJson",
               p.overflow_mm AS "overflowMm"
             FROM pour_record p JOIN container c ON c.id = p.container_id JOIN site s ON s.id = c.site_id
             WHERE p.container_id = @container AND ${IN_SCOPE} ORDER BY p.at_ms, p.id`,
            { container: containerId, account: accountOf(scope) },
          )
          .map(({ poursJson: pours, strappingJson: strapping, bandJson: band, ...row }): PourRecord => {
            const place = { table: 'pour_record', key: row.id };
            return {
              ...row,
              pours: parseJson(poursJson, pours, { ...place, column: 'pours_json' }),
              strapping: parseJson(strappingJson, strapping, { ...place, column: 'strapping_json' }),
              band: parseJson(bandJson, band, { ...place, column: 'band_json' }),
            };
          }),
      ),
    pouredContainers: () =>
      read(
        (sql) =>
          new Set(
            sql
              .all<{ id: string }>(
                `SELECT DISTINCT c.id FROM pour_record p JOIN container c ON c.id = p.container_id
                 WHERE c.strapping_json = p.strapping_json`,
              )
              .map(({ id }) => id),
          ),
      ),
    fastUntilMs: (nodeId) =>
      read(
        (sql) =>
          sql.get<{ untilMs: number }>('SELECT until_ms AS "untilMs" FROM fast_report WHERE node_id = ?', nodeId)
            ?.untilMs ?? null,
      ),
    dryHours: (scope, { fromDay, toDay, fromMs, toMs }) =>
      read((sql) =>
        sql.all<DryHours>(
          `WITH low AS (
             SELECT c.id, c.wick_foot_mm + ${AT_FOOT_MM} AS foot_mm
             FROM site s JOIN container c ON c.site_id = s.id
             WHERE ${IN_SCOPE} AND EXISTS (
               SELECT 1 FROM day_rollup d
               WHERE d.container_id = c.id AND d.day BETWEEN @fromDay AND @toDay
                 AND d.level_min_mm <= c.wick_foot_mm + ${AT_FOOT_MM}))
           SELECT low.id AS "containerId", count(*) AS hours
           FROM low CROSS JOIN hour_rollup h ON h.container_id = low.id
           WHERE h.hour_ms >= @fromMs AND h.hour_ms < @toMs AND h.level_mean_mm <= low.foot_mm
           GROUP BY low.id ORDER BY low.id`,
          { account: accountOf(scope), fromDay, toDay, fromMs, toMs },
        ),
      ),
  };
}
