/**
 * How two statements about one instant become one, for readings and weather samples alike. For each quantity the value
 * with the latest receipt stands (at one receipt, the greater value), whatever the order in which they are merged; every
 * other value that was ever sent is superseded, with the latest receipt that it had.
 */

/** What stands for one instant. `receipts[i]` belongs to `values[i]` and means nothing where that is null. */
export interface Standing {
  /** The first receipt of anything for this instant. */
  readonly receivedMs: number;
  readonly values: readonly (number | null)[];
  readonly receipts: readonly number[];
}

export interface Superseded {
  readonly index: number;
  readonly value: number;
  readonly receivedMs: number;
}

export interface Merged {
  readonly standing: Standing;
  /** A quantity that was missing is there now. */
  readonly completed: boolean;
  /** Another value stands now. */
  readonly corrected: boolean;
  /** The standing record differs in anything from before, if only in a receipt. */
  readonly touched: boolean;
  readonly superseded: readonly Superseded[];
  /** Values that stand again after having been superseded, perhaps. */
  readonly reinstated: readonly { readonly index: number; readonly value: number }[];
}

export function merge(standing: Standing, offered: readonly (number | null)[], receivedMs: number): Merged {
  const values = [...standing.values];
  const receipts = [...standing.receipts];
  const superseded: Superseded[] = [];
  const reinstated: { index: number; value: number }[] = [];
  let completed = false;
  let corrected = false;
  let touched = receivedMs < standing.receivedMs;

  offered.forEach((value, index) => {
    if (value === null) return;
    const standingValue = values[index] ?? null;
    const standingReceipt = receipts[index] ?? standing.receivedMs;
    if (standingValue === null) {
      values[index] = value;
      receipts[index] = receivedMs;
      completed = true;
      touched = true;
    } else if (standingValue === value) {
      // Remembered although nothing changes: otherwise a value sent again after a correction would count or not,
      // depending on the order in which the three were merged.
      if (receivedMs > standingReceipt) {
        receipts[index] = receivedMs;
        touched = true;
      }
    } else if (receivedMs > standingReceipt || (receivedMs === standingReceipt && value > standingValue)) {
      superseded.push({ index, value: standingValue, receivedMs: standingReceipt });
      reinstated.push({ index, value });
      values[index] = value;
      receipts[index] = receivedMs;
      corrected = true;
      touched = true;
    } else {
      superseded.push({ index, value, receivedMs });
    }
  });

  const first = Math.min(standing.receivedMs, receivedMs);
  return {
    standing: { receivedMs: first, values, receipts },
    completed,
    corrected,
    touched,
    superseded,
    reinstated,
  };
}

/** The receipts as the store keeps them: null where all equal the first, one number where all are equal, else a list. */
export function encodeReceipts({ receivedMs, values, receipts }: Standing): string | null {
  const known = receipts.filter((_receipt, index) => values[index] !== null);
  const one = known[0];
  if (one === undefined || known.every((receipt) => receipt === receivedMs)) return null;
  if (known.every((receipt) => receipt === one)) return String(one);
  return receipts.map((receipt, index) => (values[index] === null ? '' : String(receipt))).join(',');
}

/** Inverse of {@link encodeReceipts} for `count` quantities. */
export function decodeReceipts(text: string | null, receivedMs: number, count: number): number[] {
  if (text === null) return new Array<number>(count).fill(receivedMs);
  const parts = text.split(',');
  if (parts.length === 1) return new Array<number>(count).fill(Number(text));
  return parts.map((part) => (part === '' ? receivedMs : Number(part)));
}
