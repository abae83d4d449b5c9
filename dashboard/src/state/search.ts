/** Search over what a person types: every word must occur somewhere, accents and case do not matter. */
export interface SearchEntry<Row> {
  readonly row: Row;
  readonly text: string;
}

export function foldText(text: string): string {
  return text
    .normalize('NFD')
    .replace(/\p{Diacritic}/gu, '')
    .toLowerCase();
}

export function searchIndex<Row>(
  rows: readonly Row[],
  textOf: (row: Row) => readonly (string | null)[],
): readonly SearchEntry<Row>[] {
  return rows.map((row) => ({
    row,
    text: foldText(
      textOf(row)
        .filter((part) => part !== null)
        .join(' '),
    ),
  }));
}

export function searchRows<Row>(index: readonly SearchEntry<Row>[], typed: string): readonly Row[] {
  const words = foldText(typed)
    .split(/\s+/)
    .filter((word) => word !== '');
  return index.filter((entry) => words.every((word) => entry.text.includes(word))).map((entry) => entry.row);
}
