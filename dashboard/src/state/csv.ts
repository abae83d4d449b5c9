/** RFC 4180: CRLF rows, quotes doubled. A leading =, +, - or @ in text gets an apostrophe, since spreadsheets run it. */
export function toCsv(header: readonly string[], rows: readonly (readonly (string | number | null)[])[]): string {
  return [header, ...rows].map((row) => `${row.map(field).join(',')}\r\n`).join('');
}

function field(value: string | number | null): string {
  if (value === null) return '';
  if (typeof value === 'number') return String(value);
  const inert = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(inert) ? `"${inert.replaceAll('"', '""')}"` : inert;
}
