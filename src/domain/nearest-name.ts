/**
 * The name that somebody may have meant, or null where none is near: at most a third of its letters differ.
 * Distance: Damerau-Levenshtein (restricted), so that swapped letters count once.
 */
export function nearestName(typed: string, names: readonly string[]): string | null {
  let best: string | null = null;
  let bestDistance = Number.POSITIVE_INFINITY;
  for (const name of names) {
    const distance = editDistance(typed.toLowerCase(), name.toLowerCase());
    if (distance < bestDistance && distance <= Math.max(1, Math.ceil(name.length / 3))) {
      best = name;
      bestDistance = distance;
    }
  }
  return best;
}

function editDistance(a: string, b: string): number {
  let beforeLast: number[] = [];
  let last = Array.from({ length: b.length + 1 }, (_unused, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const substitution = last[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1);
      let distance = Math.min(last[j]! + 1, row[j - 1]! + 1, substitution);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        distance = Math.min(distance, beforeLast[j - 2]! + 1);
      }
      row.push(distance);
    }
    beforeLast = last;
    last = row;
  }
  return last[b.length]!;
}
