import { createHmac } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { codeAt, stepOfCode } from '../../src/app/people/totp.js';

// M'Raihi, Machani, Pei, Rydell: TOTP, RFC 6238 (2011), Appendix B, the SHA-1 rows. The secret is the ASCII text
// "12345678901234567890", here in base32. The table shows eight digits; six digits are their last six, since both are the
// same number modulo a power of ten (RFC 4226 section 5.3). https://www.rfc-editor.org/rfc/rfc6238#appendix-B
const SECRET = 'GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ';
const TABLE: readonly (readonly [timeS: number, code: string])[] = [
  [59, '94287082'],
  [1_111_111_109, '07081804'],
  [1_111_111_111, '14050471'],
  [1_234_567_890, '89005924'],
  [2_000_000_000, '69279037'],
  [20_000_000_000, '65353130'],
];

/** RFC 4226 section 5.3 once more, in the platform's own HMAC: the table above was written down from memory. */
function eightDigits(secretAscii: string, timeS: number): string {
  const counter = Buffer.alloc(8);
  counter.writeBigUInt64BE(BigInt(Math.floor(timeS / 30)));
  const digest = createHmac('sha1', secretAscii).update(counter).digest();
  const offset = digest.readUInt8(digest.length - 1) & 0xf;
  return String((digest.readUInt32BE(offset) & 0x7fff_ffff) % 10 ** 8).padStart(8, '0');
}

describe('codes of the second factor', () => {
  it.each(TABLE)('at %d s: the table agrees with a second way to compute it', (timeS, code) => {
    expect(eightDigits('12345678901234567890', timeS)).toBe(code);
  });

  it.each(TABLE)('at %d s are those of the RFC', (timeS, code) => {
    expect(codeAt(SECRET, timeS * 1000)).toBe(code.slice(2));
  });

  it.each(TABLE)('of %d s are taken a step earlier and later, and no further', (timeS, code) => {
    const sixDigits = code.slice(2);
    const step = Math.floor(timeS / 30);
    for (const away of [-30, 0, 30]) expect(stepOfCode(SECRET, sixDigits, (timeS + away) * 1000)).toBe(step);
    for (const away of [-60, 60]) expect(stepOfCode(SECRET, sixDigits, (timeS + away) * 1000)).toBeNull();
  });
});
