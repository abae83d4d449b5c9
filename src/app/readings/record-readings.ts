import { createHash } from 'node:crypto';
import type { CommitResult, Write } from '../../domain/change-set.js';
import { windAt2mMPerS } from '../../domain/formulas/fao56.js';
import type { EpochMs, NodeId, SiteId } from '../../domain/ids.js';
import type { Clock } from '../../domain/ports/clock.js';
import type { Store } from '../../domain/ports/store.js';
import type { QuarantinedRecord, Reading } from '../../domain/reading.js';
import type { SensorNode } from '../../domain/registry.js';
import { type PackInput, type RefusedRecord, readNodePack, readWeatherPack } from '../../domain/senml/read-pack.js';
import type { WeatherSample } from '../../domain/weather.js';
import { IngestDirectory } from './ingest-directory.js';

/** A message with a SenML pack, as it reached us. */
export interface IncomingPack extends PackInput {
  readonly kind: 'readings' | 'weather';
  /** The node or the site that the topic names. */
  readonly subjectId: NodeId | SiteId;
  /** As {@link sourceOf} writes it. */
  readonly source: string;
  /** True length of a payload of which only the beginning is here; null where it is whole. */
  readonly cutFromBytes: number | null;
}

export interface RecorderOptions {
  readonly store: Store;
  /** The business clock; it dates the commits. */
  readonly clock: Clock;
  /** Larger payloads are refused without being decoded; of these the first bytes and the length are kept. */
  readonly maxPayloadBytes: number;
}

export interface RecordOutcome {
  readonly readings: CommitResult['readings'];
  readonly recordsTaken: number;
  readonly recordsRefused: number;
}

export const DEFAULT_MAX_PAYLOAD_BYTES = 256 * 1024;

const RETAINED_MARK = ' (retained)';
const TOPIC_PATTERN = /^(nodes|sites)\/([A-Za-z0-9._-]{1,64})\/(readings|weather)$/;

/** What a topic says about its messages; null where it is not one of readings or weather. */
export function packTopic(topic: string): Pick<IncomingPack, 'kind' | 'subjectId'> | null {
  const match = TOPIC_PATTERN.exec(topic);
  const subjectId = match?.[2];
  if (match === null || subjectId === undefined) return null;
  if (match[1] === 'nodes' && match[3] === 'readings') return { kind: 'readings', subjectId };
  if (match[1] === 'sites' && match[3] === 'weather') return { kind: 'weather', subjectId };
  return null;
}

/** The same for the source of a quarantined record, which remembers whether the broker had retained the message. */
export function packSource(source: string): Pick<IncomingPack, 'kind' | 'subjectId' | 'retained'> | null {
  const retained = source.endsWith(RETAINED_MARK);
  const topic = packTopic(retained ? source.slice(0, -RETAINED_MARK.length) : source);
  return topic === null ? null : { ...topic, retained };
}

/** Source of a pack, for its quarantined records. */
export function sourceOf(topic: string, retained: boolean): string {
  return retained ? `${topic}${RETAINED_MARK}` : topic;
}

/** Enough to recognise what was sent, and too little to fill a disk with. */
const KEPT_BYTES_OF_TOO_LARGE = 4 * 1024;

/**
 * Each refused record keeps the bytes of its whole pack, since base values stand in earlier records. Where that would
 * multiply a large pack beyond this, one row stands for all that was refused of it.
 */
const MAX_QUARANTINE_BYTES_PER_PACK = 1024 * 1024;

const STAGE = { kind: 'stage', id: 'ingest' } as const;
const WIND10_HEIGHT_M = 10;

/** What became of one message, before anything is written. */
export interface ExaminedPack {
  readonly readings: readonly Reading[];
  readonly samples: readonly WeatherSample[];
  readonly quarantined: readonly QuarantinedRecord[];
  readonly promisedIntervalS: number | null;
  readonly recordsTaken: number;
  readonly recordsRefused: number;
}

/**
 * Decodes, checks and stores messages, many in one commit. What is refused is kept in quarantine in the same commit,
 * so that each record is either stored or quarantined when the promise resolves.
 */
export class Recorder {
  readonly directory: IngestDirectory;
  readonly #store: Store;
  readonly #clock: Clock;
  readonly #maxPayloadBytes: number;

  constructor(options: RecorderOptions) {
    this.directory = new IngestDirectory(options.store);
    this.#store = options.store;
    this.#clock = options.clock;
    this.#maxPayloadBytes = options.maxPayloadBytes;
  }

  /**
   * Stores a batch durably, in the order given.
   * @throws DomainError where the store refuses the commit; nothing of the batch is stored then
   */
  async record(packs: readonly IncomingPack[]): Promise<RecordOutcome> {
    await this.directory.refresh();
    const examined = packs.map((pack) => ({ pack, result: this.examine(pack, null) }));
    const readings: Reading[] = [];
    const samples: WeatherSample[] = [];
    const quarantined: QuarantinedRecord[] = [];
    const nodes = new Map<NodeId, SensorNode>();
    let recordsTaken = 0;
    let recordsRefused = 0;
    for (const { pack, result } of examined) {
      for (const row of result.readings) readings.push(row);
      for (const row of result.samples) samples.push(row);
      for (const row of result.quarantined) quarantined.push(row);
      this.#notePromise(nodes, pack, result.promisedIntervalS);
      recordsTaken += result.recordsTaken;
      recordsRefused += result.recordsRefused;
    }
    const writes: Write[] = [...nodes.values()].map((row) => ({ kind: 'node', row }) as const);
    if (readings.length > 0) writes.push({ kind: 'readings', rows: readings });
    if (samples.length > 0) writes.push({ kind: 'weather_samples', rows: samples });
    if (quarantined.length > 0) writes.push({ kind: 'quarantined', rows: quarantined });
    const result = await this.#store.commit({ atMs: this.#clock.nowMs(), actor: STAGE, writes, cursor: null });
    return { readings: result.readings, recordsTaken, recordsRefused };
  }

  /**
   * Decodes and checks one message against the registry as last refreshed; writes nothing.
   * @param onlyRecord looks at one record of the pack only; null at all of them
   */
  examine(pack: IncomingPack, onlyRecord: number | null): ExaminedPack {
    if (pack.cutFromBytes !== null || pack.payload.length > this.#maxPayloadBytes) {
      return refusedWhole(tooLarge(pack, this.#maxPayloadBytes));
    }
    const unknown = this.#unknownSubject(pack);
    if (unknown !== null) return refusedWhole(quarantineRow(pack, unknown, pack.payload));
    const examined = this.#read(pack);
    const refused = examined.refused.filter((one) => onlyRecord === null || one.recordIndex === onlyRecord);
    return {
      readings: examined.readings,
      samples: examined.samples,
      quarantined: quarantineRows(pack, refused),
      promisedIntervalS: examined.promisedIntervalS,
      recordsTaken: examined.taken,
      recordsRefused: refused.length,
    };
  }

  #read(pack: IncomingPack): {
    readonly readings: readonly Reading[];
    readonly samples: readonly WeatherSample[];
    readonly refused: readonly RefusedRecord[];
    readonly promisedIntervalS: number | null;
    readonly taken: number;
  } {
    switch (pack.kind) {
      case 'readings': {
        const firstMs = this.directory.firstAssignmentMs(pack.subjectId);
        return { ...readNodePack(pack, pack.subjectId, firstMs), samples: [] };
      }
      case 'weather': {
        const windAt2m = (wind: number): number => windAt2mMPerS(wind, WIND10_HEIGHT_M);
        return { ...readWeatherPack(pack, pack.subjectId, windAt2m), readings: [], promisedIntervalS: null };
      }
    }
  }

  #unknownSubject(pack: IncomingPack): RefusedRecord | null {
    switch (pack.kind) {
      case 'readings':
        if (this.directory.node(pack.subjectId) !== null) return null;
        return {
          recordIndex: null,
          refusal: 'unknown_node',
          detail: `The topic ${pack.source} names node ${pack.subjectId}, which is not in the registry.`,
        };
      case 'weather':
        if (this.directory.hasSite(pack.subjectId)) return null;
        return {
          recordIndex: null,
          refusal: 'unknown_site',
          detail: `The topic ${pack.source} names site ${pack.subjectId}, which is not in the registry.`,
        };
    }
  }

  #notePromise(nodes: Map<NodeId, SensorNode>, pack: IncomingPack, promisedIntervalS: number | null): void {
    if (promisedIntervalS === null) return;
    const known = nodes.get(pack.subjectId) ?? this.directory.node(pack.subjectId);
    if (known !== null && known.promisedIntervalS !== promisedIntervalS) {
      nodes.set(known.id, { ...known, promisedIntervalS });
    }
  }
}

function refusedWhole(row: QuarantinedRecord): ExaminedPack {
  return {
    readings: [],
    samples: [],
    quarantined: [row],
    promisedIntervalS: null,
    recordsTaken: 0,
    recordsRefused: 1,
  };
}

function tooLarge(pack: IncomingPack, maxPayloadBytes: number): QuarantinedRecord {
  const bytes = pack.cutFromBytes ?? pack.payload.length;
  const raw = pack.payload.slice(0, KEPT_BYTES_OF_TOO_LARGE);
  const detail = `The payload has ${bytes} bytes; at most ${maxPayloadBytes} are taken. Send the backlog in several packs. The first ${raw.length} bytes were kept.`;
  return quarantineRow(pack, { recordIndex: null, refusal: 'payload_too_large', detail }, raw);
}

function quarantineRows(pack: IncomingPack, refused: readonly RefusedRecord[]): readonly QuarantinedRecord[] {
  const first = refused[0];
  if (first === undefined) return [];
  if (refused.length === 1 || refused.length * pack.payload.length <= MAX_QUARANTINE_BYTES_PER_PACK) {
    return refused.map((one) => quarantineRow(pack, one, pack.payload));
  }
  const detail = `${refused.length} records of this pack were refused; the first: ${first.detail}`;
  return [quarantineRow(pack, { recordIndex: null, refusal: first.refusal, detail }, pack.payload)];
}

function quarantineRow(pack: IncomingPack, refused: RefusedRecord, raw: Uint8Array): QuarantinedRecord {
  return {
    id: quarantineId(pack.source, raw, refused.recordIndex, pack.receivedMs),
    receivedMs: pack.receivedMs,
    source: pack.source,
    nodeId: pack.kind === 'readings' ? pack.subjectId : null,
    refusal: refused.refusal,
    detail: refused.detail,
    raw,
    contentType: pack.contentType,
    recordIndex: refused.recordIndex,
    resolvedMs: null,
  };
}

/**
 * The same record from the same place has the same id, so that a repeat adds nothing.
 * @param receivedMs part of the record's identity where its time may be relative to it; null for rows of files
 */
export function quarantineId(
  source: string,
  raw: Uint8Array,
  recordIndex: number | null,
  receivedMs: EpochMs | null,
): string {
  const hash = createHash('sha256');
  hash.update(`${source}\n${recordIndex ?? ''}\n${receivedMs ?? ''}\n`).update(raw);
  return `q-${hash.digest('hex').slice(0, 32)}`;
}
