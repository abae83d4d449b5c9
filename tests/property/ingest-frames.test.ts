import fc from 'fast-check';
import mqttPacket, { type Packet } from 'mqtt-packet';
import { describe, expect, it } from 'vitest';
import { CONNECT as CONNECT_BYTE, cutPayload, FrameFilter, type FrameLimits } from '../../src/ingest/frame-filter.js';

const LIMITS: FrameLimits = {
  maxPayloadBytes: 1_000,
  maxControlBytes: 2_000,
  keptBytes: 100,
  firstByte: CONNECT_BYTE,
  protocolVersion: 4,
  marker: Buffer.from('0123456789abcdef'),
};
/** A topic may be 64 KiB long, so a payload is surely cut only beyond that. */
const SURELY_CUT_BYTES = 70_000;

const CONNECT = mqttPacket.generate({ cmd: 'connect', clientId: 'c', clean: true, keepalive: 0 });

const publish = (topic: string, payload: Buffer, qos: 0 | 1) =>
  mqttPacket.generate({ cmd: 'publish', topic, payload, qos, retain: false, dup: false, messageId: 7 });

function pass(bytes: Buffer, chunkSizes: readonly number[]): Packet[] {
  const filter = new FrameFilter(LIMITS);
  const parser = mqttPacket.parser();
  const packets: Packet[] = [];
  parser.on('packet', (packet) => packets.push(structuredClone({ ...packet })));
  let at = 0;
  for (let i = 0; at < bytes.length; i++) {
    const size = chunkSizes[i % chunkSizes.length] ?? 1;
    const passed = filter.filter(bytes.subarray(at, at + size));
    if (passed.length > 0) parser.parse(Buffer.from(passed));
    at += size;
  }
  return packets;
}

const sizes = fc.array(fc.integer({ min: 1, max: 200_000 }), { minLength: 1, maxLength: 5 });
const message = fc.record({
  topic: fc.constantFrom('a', 'nodes/N1/readings', 'x'.repeat(300)),
  bytes: fc.oneof(fc.integer({ min: 0, max: 900 }), fc.integer({ min: SURELY_CUT_BYTES, max: 300_000 })),
  qos: fc.constantFrom<0 | 1>(0, 1),
});

describe('the filter before the MQTT parser', () => {
  it('passes packets on whatever the chunks, and shortens those that are too large, with their true length', () => {
    fc.assert(
      fc.property(fc.array(message, { maxLength: 6 }), sizes, (messages, chunkSizes) => {
        const bytes = messages.map(({ topic, bytes: length, qos }) => publish(topic, Buffer.alloc(length, 0x2e), qos));
        const packets = pass(Buffer.concat([CONNECT, ...bytes]), chunkSizes).slice(1);
        expect(packets).toHaveLength(messages.length);
        for (const [index, { topic, bytes: length, qos }] of messages.entries()) {
          const packet = packets[index];
          if (packet?.cmd !== 'publish') throw new Error('a publish was expected');
          expect([packet.topic, packet.qos, packet.messageId]).toEqual([topic, qos, qos === 0 ? undefined : 7]);
          const payload = Buffer.from(packet.payload);
          const cut = cutPayload(payload, LIMITS);
          if (length < SURELY_CUT_BYTES) {
            expect([cut, payload.length]).toEqual([null, length]);
          } else {
            expect(cut?.bytes).toBe(length);
            expect(cut?.kept).toEqual(Buffer.alloc(LIMITS.keptBytes, 0x2e));
          }
        }
      }),
      { numRuns: 60 },
    );
  });

  it('never does anything to arbitrary bytes but pass them or end the connection', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), fc.integer({ min: 1, max: 50 }), (bytes, size) => {
        const filter = new FrameFilter(LIMITS);
        try {
          for (let at = 0; at < bytes.length; at += size) filter.filter(Buffer.from(bytes.subarray(at, at + size)));
        } catch (error) {
          expect(String(error)).toMatch(/CONNECT|control packet|length of a packet/);
        }
      }),
    );
  });

  it.each([
    ['a first packet that is no CONNECT', Buffer.from([0x30, 0x02, 0, 0])],
    ['a CONNECT of many megabytes, before anybody is logged in', Buffer.from([0x10, 0xff, 0xff, 0xff, 0x7f])],
    ['a length that never ends', Buffer.concat([CONNECT, Buffer.from([0x30, 0xff, 0xff, 0xff, 0xff, 0x01])])],
    ['a SUBSCRIBE of a megabyte', Buffer.concat([CONNECT, Buffer.from([0x82, 0x80, 0x80, 0x40])])],
  ])('ends the connection at %s', (_what, bytes) => {
    expect(() => new FrameFilter(LIMITS).filter(bytes)).toThrow();
  });
});
