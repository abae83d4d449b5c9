/** Pieces that have broken decoders before: the edges of numbers, lengths, encodings and grammars. */
const TOKENS: readonly Buffer[] = [
  ...[
    'null',
    '-1',
    '1e999',
    '9007199254740993',
    '""',
    '[[',
    '}}',
    '\\u0000',
    '\ufeff',
    '💧',
    '__proto__',
    ',,',
    '\r',
    '"\n',
  ],
  ...['1970-01-01T00:00:00Z', '2026-02-30', 'NaN', '-0', '1e-400', '"bt":', '"n":', '"v":', '"t":1e18'],
]
  .map((text) => Buffer.from(text))
  .concat([
    Buffer.from([0xff]),
    Buffer.from([0x00]),
    Buffer.from([0x80, 0x80, 0x80, 0x80]),
    Buffer.from([0xc0, 0x80]),
    Buffer.from([0x9f]),
    Buffer.from([0x9b, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff]),
    Buffer.from([0xfb, 0x7f, 0xf8, 0, 0, 0, 0, 0, 0]),
  ]);

const MOST_CHANGES = 6;

/** A valid input with some of it flipped, cut, repeated, moved, or replaced; now and then nothing but noise. */
export function mutated(samples: readonly Buffer[], random: () => number): Buffer {
  const below = (end: number): number => Math.floor(random() * end);
  if (random() < 0.05) return Buffer.from(Array.from({ length: below(200) }, () => below(256)));
  let bytes = Buffer.from(samples[below(samples.length)] ?? []);
  for (let changes = 1 + below(MOST_CHANGES); changes > 0; changes--) {
    const [at, length] = [below(bytes.length + 1), below(20)];
    const [before, after] = [bytes.subarray(0, at), bytes.subarray(at)];
    switch (below(6)) {
      case 0:
        if (at < bytes.length) bytes[at] = (bytes[at] ?? 0) ^ (1 << below(8));
        break;
      case 1:
        bytes = Buffer.from(before);
        break;
      case 2:
        bytes = Buffer.concat([before, after.subarray(length)]);
        break;
      case 3:
        bytes = Buffer.concat([before, after.subarray(0, length), after]);
        break;
      case 4:
        bytes = Buffer.concat([before, TOKENS[below(TOKENS.length)] ?? Buffer.alloc(0), after]);
        break;
      default:
        bytes = Buffer.concat([before, samples[below(samples.length)]?.subarray(below(40)) ?? Buffer.alloc(0)]);
    }
  }
  return bytes.subarray(0, 20_000);
}
