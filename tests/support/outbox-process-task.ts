import type { Alert } from '../../src/domain/work.js';

/** What the process of `outbox-process.ts` is to do. */
export interface OutboxTask {
  readonly dir: string;
  readonly nowMs: number;
  readonly authorityPem: string;
  readonly mail: { readonly port: number; readonly from: string; readonly domain: string };
  readonly push: { readonly contact: string; readonly publicKey: string; readonly privateKey: string };
  /** To be written and told; null: only what an earlier process left. */
  readonly alert: Alert | null;
  /** The step of that alert's way at which the process dies; commits and deliveries count from one. */
  readonly dieAt: {
    readonly step: 'before commit' | 'after commit' | 'before sending' | 'after sending';
    readonly number: number;
  } | null;
}
