import { describe, expect, it } from 'vitest';
import { type Reader, render } from '../../../src/domain/texts/render.js';

const READER: Reader = {
  locale: 'en-GB',
  units: { volume: 'L', length: 'mm', temperature: 'Cel' },
  timeZone: 'America/Los_Angeles',
};

describe('a site-local day in a text', () => {
  const say = (day: string, locale: string): string =>
    render(
      { 'pot.about_installed': 'Installed {day}.' },
      { code: 'pot.about_installed', params: { day } },
      { ...READER, locale },
    );

  it('is written as the language writes it, and is the same day in every zone', () => {
    expect(say('2026-03-01', 'en-GB')).toBe('Installed 1 Mar 2026.');
    expect(say('2026-03-01', 'es-ES')).toBe('Installed 1 mar 2026.');
    expect(say('2026-03-01', 'en-US')).toBe('Installed Mar 1, 2026.');
  });

  it('that was put into words before stays as it is', () => {
    expect(say('yesterday', 'en-GB')).toBe('Installed yesterday.');
  });
});

describe('an amount in a text', () => {
  const say = (litres: number): string =>
    render({ 'water.total': '{litres}' }, { code: 'water.total', params: { litres } }, READER);

  it('bears a minus only where something is left of it after rounding', () => {
    expect(say(-0.04)).toBe('0 L');
    expect(say(-0)).toBe('0 L');
    expect(say(-0.4)).toBe('-0.4 L');
  });
});
