import type { RefusalCode } from '../reading.js';
import type { ResolvedRecord } from './resolve.js';
import { shown } from './shown.js';
import type { QuantityRule } from './units.js';

export type TakenQuantity<Field extends string> =
  | { readonly kind: 'taken'; readonly field: Field; readonly value: number }
  | { readonly kind: 'refused'; readonly refusal: RefusalCode; readonly detail: string };

/**
 * Takes one quantity out of a resolved record: finds it by the last segment of the name (after the last `/` or `:`),
 * converts its unit to the canonical one and checks that the value is possible.
 *
 * @param quantities what this kind of sender may measure
 */
export function takeQuantity<Field extends string>(
  record: ResolvedRecord,
  quantities: ReadonlyMap<string, readonly QuantityRule<Field>[]>,
): TakenQuantity<Field> {
  const where = `Record ${record.index}`;
  const quantity = lastSegment(record.name);
  const rules = quantities.get(quantity);
  if (rules === undefined) {
    return refused(
      'no_quantity',
      `${where}: ${shown(quantity)}, the end of the name ${shown(record.name)}, is none of ${[...quantities.keys()].join(', ')}.`,
    );
  }
  if (record.value === null) {
    const found = record.text ?? record.truth ?? record.data;
    return refused(
      'impossible_value',
      `${where}: ${quantity} must be a number in "v", found ${found === null ? 'only a sum' : shown(found)}.`,
    );
  }
  const rule = rules.find((candidate) => candidate.units.has(record.unit ?? ''));
  const unit = rule?.units.get(record.unit ?? '');
  if (rule === undefined || unit === undefined) {
    const taken = rules.flatMap((candidate) => [...candidate.units.keys()]).map((name) => `"${name}"`);
    const found = record.unit === null ? 'came without a unit' : `came with the unit ${shown(record.unit)}`;
    return refused('unknown_unit', `${where}: ${quantity} ${found}; send one of ${taken.join(', ')}.`);
  }
  const value = roundTo(record.value * unit.scale + unit.offset, rule.step);
  if (value >= rule.least && value <= rule.most) return { kind: 'taken', field: rule.field, value };
  const sent = `${where}: ${quantity} is ${record.value} with the unit "${record.unit}"`;
  if (rule.ratio) {
    return refused(
      'ratio_out_of_range',
      `${sent}, outside the ratio 0-1. In SenML "%" means the same ratio 0-1 as "/"; a percentage is sent with the unit "/100", from 0 to 100.`,
    );
  }
  const limits =
    rule.unitShown === ''
      ? `${rule.least * 100} to ${rule.most * 100} %`
      : `${rule.least} to ${rule.most} ${rule.unitShown}`;
  return refused('impossible_value', `${sent}, outside ${limits}.`);
}

function refused(refusal: RefusalCode, detail: string): { kind: 'refused'; refusal: RefusalCode; detail: string } {
  return { kind: 'refused', refusal, detail };
}

function lastSegment(name: string): string {
  return name.slice(Math.max(name.lastIndexOf('/'), name.lastIndexOf(':')) + 1);
}

/**
 * Rounds to a multiple of a power of ten. 0.057 m and 57 mm are the same level, but not the same double after
 * conversion, and a difference would be taken for a correction; a 32-bit float in CBOR adds noise of its own.
 */
export function roundTo(value: number, step: number): number {
  const perUnit = Math.round(1 / step);
  const rounded = Math.round(value * perUnit) / perUnit;
  return Number.isFinite(rounded) ? rounded + 0 : value;
}
