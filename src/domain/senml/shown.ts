const SHOWN_CHARACTERS = 60;

/** A value found in somebody's input, short enough for a sentence and with its control characters escaped. */
export function shown(value: unknown): string {
  const text = typeof value === 'string' ? JSON.stringify(value) : describe(value);
  return text.length <= SHOWN_CHARACTERS ? text : `${text.slice(0, SHOWN_CHARACTERS)}…`;
}

function describe(value: unknown): string {
  if (value === undefined) return 'nothing';
  if (value === null || typeof value === 'number' || typeof value === 'boolean' || typeof value === 'bigint') {
    return String(value);
  }
  if (value instanceof Uint8Array) return `${value.length} bytes`;
  if (Array.isArray(value)) return `an array of ${value.length}`;
  return typeof value === 'object' ? 'an object' : `a ${typeof value}`;
}
