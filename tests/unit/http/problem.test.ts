import { describe, expect, it } from 'vitest';
import { EN } from '../../../src/domain/texts/en/index.js';
import { STATUS } from '../../../src/http/problem.js';

describe('refusals', () => {
  it.each([...Object.keys(STATUS), 'internal'])('%s has a title and says what to do next', (code) => {
    const texts = EN as Readonly<Record<string, string>>;
    expect(texts[`error.${code}`]).toMatch(/^[A-Z].{5,}[^.]$/);
    expect(texts[`error.${code}.next`]).toMatch(/^[A-Z].{10,}\.$/);
  });

  it('get a status that says whose fault it is', () => {
    for (const [code, status] of Object.entries(STATUS)) {
      expect(status, code).toBeGreaterThanOrEqual(400);
      expect(status >= 500, code).toBe(code.startsWith('store_') || code === 'port_in_use' || code === 'key_missing');
    }
  });
});
