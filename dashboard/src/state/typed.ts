/** A number as people type it, with a comma or a point; null where it is none. */
export function typedNumber(text: string): number | null {
  const plain = text.trim().replace(',', '.');
  return /^-?\d+(\.\d*)?$/.test(plain) ? Number(plain) : null;
}

/** An id from a name, as far as letters and digits go: “Quay Hotel” becomes `quay-hotel`. */
export function idFromName(name: string): string {
  return name
    .normalize('NFD')
    .replace(/\p{M}/gu, '')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-|-$/g, '')
    .slice(0, 40);
}

/** The same, with a number where it is taken. */
export function freeId(name: string, taken: readonly string[], fallback: string): string {
  const plain = idFromName(name) || fallback;
  const known = new Set(taken.map((id) => id.toLowerCase()));
  for (let i = 1; ; i++) {
    const id = i === 1 ? plain : `${plain}-${i}`;
    if (!known.has(id)) return id;
  }
}
