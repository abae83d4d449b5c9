import type { EpochMs } from '../ids.js';
import { shown } from './shown.js';

/**
 * SenML times below 2^28 seconds are relative to "now", the others count from 1970 (RFC 8428 section 4.5.3).
 */
export const RELATIVE_TIME_LIMIT_S = 2 ** 28;

/** Version that a pack has if it does not say one (RFC 8428 section 4.1). */
export const DEFAULT_VERSION = 10;

/** RFC 9100: the versions are a bitmap; 26 = 10 plus bit 4, "secondary units" (RFC 8798). */
export const SECONDARY_UNITS_VERSION = 26;

/** A record as it came: field values by SenML label (`bn`, `n`, `v`, ...). */
export type RawRecord = Readonly<Record<string, unknown>>;

/** A record by RFC 8428 section 4.6: no base fields, and an absolute time. Exactly one value, or none with a sum. */
export interface ResolvedRecord {
  /** Place in the pack, from 0. */
  readonly index: number;
  readonly name: string;
  readonly unit: string | null;
  readonly value: number | null;
  readonly text: string | null;
  readonly truth: boolean | null;
  /** Base64url without padding in JSON; the bytes in CBOR. */
  readonly data: string | Uint8Array | null;
  readonly sum: number | null;
  /** Seconds since 1970, UTC. */
  readonly timeS: number;
  /** The time was given relative to the receipt. */
  readonly relative: boolean;
  /** Longest time until the next reading, as promised. */
  readonly updateTimeS: number | null;
  readonly version: number;
}

export type RecordOutcome =
  | { readonly kind: 'resolved'; readonly record: ResolvedRecord }
  | { readonly kind: 'malformed'; readonly index: number; readonly detail: string };

export type PackOutcome =
  | { readonly kind: 'records'; readonly outcomes: readonly RecordOutcome[] }
  /** Nothing of the pack can be used. */
  | { readonly kind: 'refused'; readonly detail: string };

type FieldType = 'text' | 'number' | 'truth' | 'data';

const FIELD_TYPES: ReadonlyMap<string, FieldType> = new Map(
  Object.entries({
    bn: 'text',
    bt: 'number',
    bu: 'text',
    bv: 'number',
    bs: 'number',
    bver: 'number',
    n: 'text',
    u: 'text',
    v: 'number',
    vs: 'text',
    vb: 'truth',
    vd: 'data',
    s: 'number',
    t: 'number',
    ut: 'number',
  } as const satisfies Record<string, FieldType>),
);

const WORD: Readonly<Record<FieldType, string>> = {
  text: 'a text',
  number: 'a finite number',
  truth: 'true or false',
  data: 'data',
};

const NAME_PATTERN = /^[A-Za-z0-9][-A-Za-z0-9:./_]*$/;

interface Base {
  bn: string;
  bt: number;
  bu: string | null;
  bv: number | null;
  bs: number | null;
}

/** Why a base field cannot be used from some record on; later records that lean on it are refused with this reason. */
type Spoiled = Map<string, string>;

/**
 * Resolves a pack by RFC 8428 section 4.6, record by record: a record that cannot be resolved does not spoil the
 * others, except where it sets a base field that the later ones need (until that field is set anew).
 *
 * A label that ends in `_` must be understood; such a regular field refuses its record, and such a base field (its
 * label begins with `b`) also all records after it, since base fields apply to them. A record of base fields only
 * sets them and measures nothing.
 *
 * Versions up to 10 are taken (example 3 of the RFC carries 5) and 26; others promise features that this reader does
 * not know, and the pack is refused.
 *
 * @param records the elements of the pack's array, as decoded
 * @param receivedMs what relative times count from
 */
export function resolvePack(records: readonly unknown[], receivedMs: EpochMs): PackOutcome {
  if (records.length === 0)
    return { kind: 'refused', detail: 'The pack is empty: an array of at least one record was expected.' };
  const version = packVersion(records);
  if (typeof version === 'string') return { kind: 'refused', detail: version };

  const base: Base = { bn: '', bt: 0, bu: null, bv: null, bs: null };
  const spoiled: Spoiled = new Map();
  const outcomes: RecordOutcome[] = [];
  for (const [index, raw] of records.entries()) {
    const outcome = resolveRecord(raw, index, base, spoiled, receivedMs, version);
    if (outcome !== null) outcomes.push(outcome);
  }
  return { kind: 'records', outcomes };
}

/** The pack's one version, or why it cannot be used. */
function packVersion(records: readonly unknown[]): number | string {
  let version: number | null = null;
  for (const [index, raw] of records.entries()) {
    if (!isRecord(raw) || raw.bver === undefined) continue;
    const found = raw.bver;
    if (typeof found !== 'number' || !Number.isInteger(found) || found < 1) {
      return `Record ${index}: the version "bver" must be a whole number from 1 on, found ${shown(found)}.`;
    }
    if (version !== null && found !== version) {
      return `The records name different versions ("bver" ${version} and ${found}); a pack has one.`;
    }
    version = found;
  }
  if (version === null || version <= DEFAULT_VERSION || version === SECONDARY_UNITS_VERSION) {
    return version ?? DEFAULT_VERSION;
  }
  return `The pack has version ("bver") ${version}; versions up to ${DEFAULT_VERSION} and ${SECONDARY_UNITS_VERSION} are understood.`;
}

function resolveRecord(
  raw: unknown,
  index: number,
  base: Base,
  spoiled: Spoiled,
  receivedMs: EpochMs,
  version: number,
): RecordOutcome | null {
  const malformed = (detail: string): RecordOutcome => ({
    kind: 'malformed',
    index,
    detail: `Record ${index}: ${detail}`,
  });
  if (!isRecord(raw)) return malformed(`an object with SenML labels was expected, found ${shown(raw)}.`);

  let fault: string | null = null;
  let measures = false;
  for (const [label, value] of Object.entries(raw)) {
    const type = FIELD_TYPES.get(label);
    const isBase = label.startsWith('b');
    if (!isBase) measures = true;
    let fieldFault: string | null = null;
    if (type === undefined) {
      if (label.endsWith('_'))
        fieldFault = `the label ${shown(label)} must be understood (it ends in "_") and is not known here.`;
    } else if (!hasType(value, type)) {
      fieldFault = `"${label}" must be ${WORD[type]}, found ${shown(value)}.`;
    }
    if (isBase && label !== 'bver') setBase(base, spoiled, label, value, fieldFault, index);
    fault ??= fieldFault;
  }
  if (fault !== null) return malformed(fault);
  const inherited = spoiled.values().next();
  if (!measures) return Object.keys(raw).length > 0 ? null : malformed('it is empty.');
  if (inherited.done !== true) return malformed(inherited.value);
  return resolveFields(raw, index, base, receivedMs, version, malformed);
}

function setBase(
  base: Base,
  spoiled: Spoiled,
  label: string,
  value: unknown,
  fault: string | null,
  index: number,
): void {
  if (fault !== null) {
    spoiled.set(label, `it needs the base field "${label}" of record ${index}, which cannot be used: ${fault}`);
    return;
  }
  spoiled.delete(label);
  if (label === 'bn') base.bn = value as string;
  else if (label === 'bt') base.bt = value as number;
  else if (label === 'bu') base.bu = value as string;
  else if (label === 'bv') base.bv = value as number;
  else if (label === 'bs') base.bs = value as number;
}

/** Field types have been checked by the caller. */
function resolveFields(
  raw: RawRecord,
  index: number,
  base: Base,
  receivedMs: EpochMs,
  version: number,
  malformed: (detail: string) => RecordOutcome,
): RecordOutcome {
  const name = base.bn + ((raw.n as string | undefined) ?? '');
  if (name === '') return malformed('it has neither a name "n" nor a base name "bn".');
  if (!NAME_PATTERN.test(name)) {
    return malformed(
      `the name ${shown(name)} may hold letters, digits and - : . / _ only, and begins with a letter or digit.`,
    );
  }
  const given = ['v', 'vs', 'vb', 'vd'].filter((label) => raw[label] !== undefined);
  if (given.length > 1) return malformed(`it has more than one value (${given.join(', ')}).`);
  const sum = sumOf(raw.s as number | undefined, base.bs);
  const numeric = given[0] === 'v' || given.length === 0;
  const value = numeric ? sumOf(raw.v as number | undefined, base.bv) : null;
  if (given.length === 0 && value === null && sum === null) return malformed('it has no value.');
  if ((value !== null && !Number.isFinite(value)) || (sum !== null && !Number.isFinite(sum))) {
    return malformed('its value and the base value add up to more than a number can hold.');
  }
  const sentTimeS = base.bt + ((raw.t as number | undefined) ?? 0);
  const relative = sentTimeS < RELATIVE_TIME_LIMIT_S;
  return {
    kind: 'resolved',
    record: {
      index,
      name,
      unit: (raw.u as string | undefined) ?? base.bu,
      value,
      text: (raw.vs as string | undefined) ?? null,
      truth: (raw.vb as boolean | undefined) ?? null,
      data: (raw.vd as string | Uint8Array | undefined) ?? null,
      sum,
      timeS: relative ? receivedMs / 1000 + sentTimeS : sentTimeS,
      relative,
      updateTimeS: (raw.ut as number | undefined) ?? null,
      version,
    },
  };
}

/** Base and own value added, a missing one counting as zero; null where both are missing (section 4.5.4). */
function sumOf(own: number | undefined, base: number | null): number | null {
  return own === undefined && base === null ? null : (own ?? 0) + (base ?? 0);
}

function isRecord(raw: unknown): raw is RawRecord {
  return typeof raw === 'object' && raw !== null && !Array.isArray(raw) && !(raw instanceof Uint8Array);
}

function hasType(value: unknown, type: FieldType): boolean {
  switch (type) {
    case 'text':
      return typeof value === 'string';
    case 'number':
      return typeof value === 'number' && Number.isFinite(value);
    case 'truth':
      return typeof value === 'boolean';
    case 'data':
      return typeof value === 'string' || value instanceof Uint8Array;
  }
}

/**
 * The pack in resolved form as SenML JSON would write it: chronological, the version only where it is not the default
 * (section 4.6).
 */
export function toResolvedJson(records: readonly ResolvedRecord[]): Record<string, unknown>[] {
  const inOrder = [...records].sort((a, b) => a.timeS - b.timeS);
  return inOrder.map((record) => ({
    ...(record.version === DEFAULT_VERSION ? {} : { bver: record.version }),
    n: record.name,
    t: record.timeS,
    ...(record.unit === null ? {} : { u: record.unit }),
    ...(record.value === null ? {} : { v: record.value }),
    ...(record.text === null ? {} : { vs: record.text }),
    ...(record.truth === null ? {} : { vb: record.truth }),
    ...(record.data === null ? {} : { vd: record.data }),
    ...(record.sum === null ? {} : { s: record.sum }),
    ...(record.updateTimeS === null ? {} : { ut: record.updateTimeS }),
  }));
}
