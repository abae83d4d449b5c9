/** First bytes of the packets with which a client and a server begin (MQTT 3.1.1, section 2.2). */
export const CONNECT = 0x10;
export const CONNACK = 0x20;
/** The kind of a PUBLISH, in the upper half of its first byte. */
const PUBLISH_KIND = 3;
const MAX_LENGTH_BYTES = 4;
/** The longest topic with its length, and the packet id, stand before the payload. */
const ROOM_FOR_TOPIC_BYTES = 2 + 0xffff + 2;

export interface FrameLimits {
  /** Payloads of PUBLISH packets beyond this are cut. */
  readonly maxPayloadBytes: number;
  /** Any other packet beyond this, and a CONNECT above all, ends the connection. */
  readonly maxControlBytes: number;
  /** What the other side must begin with. */
  readonly firstByte: number;
  /** 5 puts properties before the payload. */
  readonly protocolVersion: 4 | 5;
  /** How much of a payload is left that was cut. */
  readonly keptBytes: number;
  /** Stands at the end of a payload that was cut, before its true length; unguessable, so that no sender can write it. */
  readonly marker: Buffer;
}

/** Bytes after the marker: the true length of the payload, big endian. */
export const CUT_LENGTH_BYTES = 4;

/**
 * Stands between a connection and the MQTT parser, which would gather a packet of up to 256 MB in memory before anybody
 * could refuse it, even before the log-in. An oversized PUBLISH passes on shortened, with its true length, so that it can
 * be refused in words and acknowledged; the connection lives on, and memory stays flat.
 */
export class FrameFilter {
  readonly #limits: FrameLimits;
  #first = true;
  /** The beginning of a fixed header whose end has not arrived; held back, since the packet may have to be rewritten. */
  #held: Buffer | null = null;
  /** Bytes of the current packet that pass as they are. */
  #passing = 0;
  #cut: Cut | null = null;

  constructor(limits: FrameLimits) {
    this.#limits = limits;
  }

  /**
   * @returns what the parser shall see of the chunk: the chunk itself where nothing has to change, perhaps nothing
   * @throws Error where the connection must end, in words for the log
   */
  filter(arrived: Buffer): Buffer {
    const chunk = this.#held === null ? arrived : Buffer.concat([this.#held, arrived]);
    this.#held = null;
    const out: Buffer[] = [];
    let at = 0;
    /** From here on nothing of the chunk is in `out` yet. */
    let pendingFrom = 0;
    while (at < chunk.length) {
      if (this.#cut !== null) {
        const { length, shortened } = this.#cut.take(chunk.subarray(at));
        at += length;
        pendingFrom = at;
        if (shortened === null) continue;
        out.push(shortened);
        this.#cut = null;
      } else if (this.#passing > 0) {
        const length = Math.min(this.#passing, chunk.length - at);
        this.#passing -= length;
        at += length;
      } else {
        const header = readHeader(chunk, at, this.#first ? this.#limits.firstByte : null);
        if (header === null) break;
        this.#first = false;
        this.#begin(header);
        if (this.#cut !== null) {
          out.push(chunk.subarray(pendingFrom, at));
          pendingFrom = at + header.bytes;
        }
        at += header.bytes;
      }
    }
    if (at < chunk.length) this.#held = Buffer.from(chunk.subarray(at));
    if (pendingFrom === 0 && at === chunk.length) return chunk;
    out.push(chunk.subarray(pendingFrom, at));
    return Buffer.concat(out);
  }

  #begin({ firstByte, length }: Header): void {
    if (firstByte >> 4 !== PUBLISH_KIND) {
      if (length > this.#limits.maxControlBytes) {
        throw new Error(`a control packet of ${length} bytes; at most ${this.#limits.maxControlBytes} are taken`);
      }
      this.#passing = length;
    } else if (length <= this.#limits.maxPayloadBytes + ROOM_FOR_TOPIC_BYTES) {
      this.#passing = length;
    } else {
      this.#cut = new Cut(firstByte, length, this.#limits);
    }
  }
}

interface Header {
  readonly firstByte: number;
  /** Length of the packet after its fixed header. */
  readonly length: number;
  /** Length of the fixed header itself. */
  readonly bytes: number;
}

/** The fixed header that begins at `at`, or null where its end has not arrived (MQTT 3.1.1, section 2.2.3). */
function readHeader(chunk: Buffer, at: number, expected: number | null): Header | null {
  const firstByte = chunk[at] ?? 0;
  if (expected !== null && firstByte !== expected) {
    throw new Error(`the first packet is no MQTT ${expected === CONNECT ? 'CONNECT' : 'CONNACK'}`);
  }
  let length = 0;
  for (let i = 0; i < MAX_LENGTH_BYTES; i++) {
    const byte = chunk[at + 1 + i];
    if (byte === undefined) return null;
    length += (byte & 0x7f) * 128 ** i;
    if ((byte & 0x80) === 0) return { firstByte, length, bytes: 2 + i };
  }
  throw new Error('the length of a packet is malformed');
}

/** One PUBLISH that is being shortened. */
class Cut {
  readonly #firstByte: number;
  readonly #limits: FrameLimits;
  readonly #length: number;
  #left: number;
  /** The beginning: topic, packet id and the part of the payload that is kept. */
  readonly #kept: Buffer[] = [];
  #keptBytes = 0;

  constructor(firstByte: number, length: number, limits: FrameLimits) {
    this.#firstByte = firstByte;
    this.#limits = limits;
    this.#length = length;
    this.#left = length;
  }

  take(chunk: Buffer): { readonly length: number; readonly shortened: Buffer | null } {
    const length = Math.min(this.#left, chunk.length);
    const room = this.#wanted() - this.#keptBytes;
    if (room > 0) {
      // A copy: the socket's own buffer would be kept alive as a whole.
      const part = Buffer.from(chunk.subarray(0, Math.min(room, length)));
      this.#kept.push(part);
      this.#keptBytes += part.length;
    }
    this.#left -= length;
    return { length, shortened: this.#left === 0 ? this.#shorten() : null };
  }

  /** Enough for the longest topic, the packet id and what is kept of the payload. */
  #wanted(): number {
    return ROOM_FOR_TOPIC_BYTES + this.#limits.keptBytes;
  }

  /** Properties of MQTT 5 go: they may be as long as the payload, and what is refused needs none. */
  #shorten(): Buffer {
    const body = Buffer.concat(this.#kept);
    const topicBytes = body.length < 2 ? 0 : body.readUInt16BE(0);
    const qos = (this.#firstByte >> 1) & 3;
    const headerBytes = Math.min(body.length, 2 + topicBytes + (qos > 0 ? 2 : 0));
    const hasProperties = this.#limits.protocolVersion === 5;
    const payloadFrom = headerBytes + (hasProperties ? propertiesBytes(body, headerBytes) : 0);
    const trueLength = Buffer.alloc(CUT_LENGTH_BYTES);
    trueLength.writeUInt32BE(Math.max(0, this.#length - payloadFrom));
    const rest = Buffer.concat([
      body.subarray(0, headerBytes),
      Buffer.alloc(hasProperties ? 1 : 0),
      body.subarray(payloadFrom, payloadFrom + this.#limits.keptBytes),
      this.#limits.marker,
      trueLength,
    ]);
    return Buffer.concat([Buffer.from([this.#firstByte, ...encodeLength(rest.length)]), rest]);
  }
}

/** Length of the properties of MQTT 5 that begin at `at`, with their own length before them (MQTT 5.0, section 2.2.2). */
function propertiesBytes(body: Buffer, at: number): number {
  let length = 0;
  for (let i = 0; i < MAX_LENGTH_BYTES; i++) {
    const byte = body[at + i] ?? 0;
    length += (byte & 0x7f) * 128 ** i;
    if ((byte & 0x80) === 0) return length + i + 1;
  }
  return MAX_LENGTH_BYTES;
}

function encodeLength(length: number): number[] {
  const bytes: number[] = [];
  let left = length;
  do {
    const digit = left % 128;
    left = Math.floor(left / 128);
    bytes.push(left > 0 ? digit | 0x80 : digit);
  } while (left > 0);
  return bytes;
}

/** A payload that was cut: what was kept of it and its true length; null where the payload is whole. */
export function cutPayload(
  payload: Buffer,
  limits: Pick<FrameLimits, 'marker'>,
): { readonly kept: Buffer; readonly bytes: number } | null {
  const markerAt = payload.length - CUT_LENGTH_BYTES - limits.marker.length;
  if (markerAt < 0 || !payload.subarray(markerAt, markerAt + limits.marker.length).equals(limits.marker)) return null;
  return { kept: payload.subarray(0, markerAt), bytes: payload.readUInt32BE(payload.length - CUT_LENGTH_BYTES) };
}
