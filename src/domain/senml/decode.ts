import { Decoder, setSizeLimits } from 'cbor-x/decode-no-eval';
import { shown } from './shown.js';

export const SENML_JSON = 'application/senml+json';
export const SENML_CBOR = 'application/senml+cbor';

export type PackFormat = 'json' | 'cbor';

export type DecodedPack =
  | { readonly kind: 'decoded'; readonly format: PackFormat; readonly records: readonly unknown[] }
  | { readonly kind: 'undecodable'; readonly detail: string };

/** CBOR labels of RFC 8428 section 6, table 4. */
const CBOR_LABELS: Readonly<Record<number, string>> = {
  [-6]: 'bs',
  [-5]: 'bv',
  [-4]: 'bu',
  [-3]: 'bt',
  [-2]: 'bn',
  [-1]: 'bver',
  0: 'n',
  1: 'u',
  2: 'v',
  3: 'vs',
  4: 'vb',
  5: 's',
  6: 't',
  7: 'ut',
  8: 'vd',
};

/** A header of a few bytes may claim any length; more records than this do not fit into the largest payload taken. */
const MAX_RECORDS = 262_144;
const MAX_FIELDS = 1_000;
setSizeLimits({ maxArraySize: MAX_RECORDS, maxMapSize: MAX_FIELDS, maxObjectSize: MAX_FIELDS });

const cborDecoder = new Decoder({ mapsAsObjects: false, useRecords: false });
const utf8 = new TextDecoder('utf-8', { fatal: true });

/**
 * Decodes the bytes of a SenML pack to the elements of its array; labels of CBOR become those of JSON.
 * Never throws: what cannot be decoded comes back with a reason that a person understands.
 *
 * @param contentType media type where the sender gave one; without it the first byte decides (an array opens with
 *   `[` in JSON and with 0x80-0x9f in CBOR)
 */
export function decodePack(payload: Uint8Array, contentType: string | null): DecodedPack {
  if (payload.length === 0) return undecodable('The payload is empty; a SenML pack was expected.');
  const format = packFormat(payload, contentType);
  switch (format) {
    case 'json':
      return decodeJson(payload);
    case 'cbor':
      return decodeCbor(payload);
    case null:
      return undecodable(
        contentType === null || contentType.trim() === ''
          ? `The payload begins with byte 0x${hex(payload[0] ?? 0)}; a SenML pack begins with "[" (JSON) or 0x80-0x9f (CBOR).`
          : `The content type ${shown(contentType)} is not one of ${SENML_JSON} and ${SENML_CBOR}.`,
      );
  }
}

function packFormat(payload: Uint8Array, contentType: string | null): PackFormat | null {
  const mediaType = contentType?.split(';')[0]?.trim().toLowerCase();
  if (mediaType === SENML_JSON) return 'json';
  if (mediaType === SENML_CBOR) return 'cbor';
  if (mediaType !== undefined && mediaType !== '') return null;
  const first = payload[0] ?? 0;
  if (first >= 0x80 && first <= 0x9f) return 'cbor';
  // White space and a byte order mark may stand before a JSON text; anything else is left to its parser's message.
  return first === 0xef || (first < 0x80 && first !== 0) ? 'json' : null;
}

function decodeJson(payload: Uint8Array): DecodedPack {
  let text: string;
  try {
    text = utf8.decode(payload);
  } catch {
    return undecodable('The payload is not valid UTF-8.');
  }
  let decoded: unknown;
  try {
    decoded = JSON.parse(text);
  } catch (error) {
    return undecodable(`The payload is not JSON: ${shortened(error)}`);
  }
  return asArray(decoded, 'json');
}

function decodeCbor(payload: Uint8Array): DecodedPack {
  let decoded: unknown;
  try {
    decoded = cborDecoder.decode(payload);
  } catch (error) {
    return undecodable(`The payload is not CBOR: ${shortened(error)}`);
  }
  if (!Array.isArray(decoded)) return asArray(decoded, 'cbor');
  return asArray(
    decoded.map((record) => (record instanceof Map ? withTextLabels(record) : record)),
    'cbor',
  );
}

function withTextLabels(record: ReadonlyMap<unknown, unknown>): Record<string, unknown> {
  const fields: Record<string, unknown> = Object.create(null);
  for (const [key, value] of record) {
    const number = typeof key === 'bigint' ? Number(key) : key;
    const label = typeof number === 'number' ? (CBOR_LABELS[number] ?? `${number}`) : number;
    if (typeof label === 'string') fields[label] = typeof value === 'bigint' ? Number(value) : value;
  }
  return fields;
}

function asArray(decoded: unknown, format: PackFormat): DecodedPack {
  if (!Array.isArray(decoded)) {
    return undecodable(`A SenML pack is an array of records, found ${shown(decoded)}.`);
  }
  return { kind: 'decoded', format, records: decoded };
}

function undecodable(detail: string): DecodedPack {
  return { kind: 'undecodable', detail };
}

function shortened(error: unknown): string {
  return (error instanceof Error ? error.message : String(error)).slice(0, 160);
}

function hex(byte: number): string {
  return byte.toString(16).padStart(2, '0');
}
