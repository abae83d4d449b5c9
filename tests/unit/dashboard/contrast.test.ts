import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

// WCAG 2.2, success criteria 1.4.3 (text: 4.5 to 1) and 1.4.11 (parts of controls and drawings: 3 to 1); the formula is
// that of its definitions of relative luminance and contrast ratio, https://www.w3.org/TR/WCAG22/.
const TEXT_RATIO = 4.5;
const PART_RATIO = 3;
// Read in the sun, what has to be read wants more than the least that the standard asks (common practice, no source).
const SUN_RATIO = 7;

const CSS = readFileSync(new URL('../../../dashboard/src/render/styles/tokens.css', import.meta.url), 'utf8');

function tokensOf(look: string): ReadonlyMap<string, string> {
  const selector = look === 'light' ? ':root {' : `:root[data-theme="${look}"] {`;
  const start = CSS.indexOf(selector);
  if (start < 0) throw new Error(`no tokens for ${look}`);
  const block = CSS.slice(start, CSS.indexOf('}', start));
  return new Map([...block.matchAll(/--([\w-]+): (#[0-9a-f]{6})/g)].map((match) => [match[1]!, match[2]!]));
}

function luminance(hex: string): number {
  const [red, green, blue] = [1, 3, 5].map((at) => {
    const channel = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
    return channel <= 0.04045 ? channel / 12.92 : ((channel + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}

function ratio(a: string, b: string): number {
  const [light, dark] = [luminance(a), luminance(b)].sort((x, y) => y - x) as [number, number];
  return (light + 0.05) / (dark + 0.05);
}

describe('the colours', () => {
  it('follow the standard’s formula at its ends', () => {
    expect(ratio('#ffffff', '#000000')).toBeCloseTo(21, 6);
    expect(ratio('#777777', '#777777')).toBe(1);
  });

  for (const look of ['light', 'dark', 'sun']) {
    const tokens = tokensOf(look);
    const of = (name: string): string => {
      const value = tokens.get(name);
      if (value === undefined) throw new Error(`no ${name} in ${look}`);
      return value;
    };
    const least = look === 'sun' ? SUN_RATIO : TEXT_RATIO;

    it(`of words can be read on every ground, ${look}`, () => {
      for (const word of ['ink', 'ink-soft', 'water', 'clay', 'ochre', 'leaf', 'fog']) {
        for (const ground of ['paper', 'raised', 'sunk']) {
          expect([word, ground, ratio(of(word), of(ground)) >= least]).toEqual([word, ground, true]);
        }
      }
    });

    it(`of edges and drawings can be told from their ground, ${look}`, () => {
      for (const [part, ground] of [
        ['edge', 'paper'],
        ['edge', 'raised'],
        ['water', 'water-soft'],
        ['clay', 'clay-soft'],
        ['ochre', 'ochre-soft'],
        ['fog', 'fog-soft'],
        ['ink', 'pot'],
        ['ink', 'soil'],
      ] as const) {
        expect([part, ground, ratio(of(part), of(ground)) >= PART_RATIO]).toEqual([part, ground, true]);
      }
    });
  }
});
