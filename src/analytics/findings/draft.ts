import type { EpochMs } from '../../domain/ids.js';
import type { Message } from '../../domain/message.js';
import type { FindingDraft, FindingKind, Severity } from '../../domain/pot.js';
import type { TextCode } from '../../domain/texts/en/index.js';
import { shorten } from '../block.js';
import type { PotView } from '../pot-view.js';

/** A message whose code the catalogue knows; numbers are cut to five digits so that equal states read equal. */
export function say(code: TextCode, params: Readonly<Record<string, string | number | null>> = {}): Message {
  const short: Record<string, string | number | null> = {};
  for (const [name, value] of Object.entries(params)) {
    short[name] = typeof value === 'number' && !name.endsWith('Ms') ? shorten(value) : value;
  }
  return { code, params: short };
}

export interface DraftParts {
  readonly onsetMs?: EpochMs | null;
  readonly size?: number | null;
  readonly unit?: string | null;
  readonly heightMm?: number | null;
  readonly confidence: number;
  readonly severity: Severity;
  readonly evidence: readonly Message[];
  readonly toConfirm?: Message | null;
}

export function makeDraft(view: PotView, kind: FindingKind, parts: DraftParts): FindingDraft {
  return {
    containerId: view.ctx.container.id,
    nodeId: view.nodeId,
    kind,
    onsetMs: parts.onsetMs ?? null,
    size: parts.size === undefined || parts.size === null ? null : shorten(parts.size),
    unit: parts.unit ?? null,
    heightMm: parts.heightMm === undefined || parts.heightMm === null ? null : shorten(parts.heightMm),
    confidence: Math.round(Math.min(0.99, Math.max(0.01, parts.confidence)) * 100) / 100,
    severity: parts.severity,
    evidence: parts.evidence,
    toConfirm: parts.toConfirm ?? null,
  };
}
