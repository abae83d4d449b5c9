import { describe, expect, it } from 'vitest';
import { localeOf } from '../../../dashboard/src/state/locale.js';
import { EN, type TextCode } from '../../../src/domain/texts/en/index.js';
import { ES } from '../../../src/domain/texts/es/index.js';

const placeholders = (text: string): readonly string[] =>
  [...text.matchAll(/\{(\w+)/g)].map((match) => match[1]!).sort();

describe('the Spanish texts', () => {
  it('hold every placeholder of their English ones, and no other', () => {
    const wrong = Object.entries(ES).filter(
      ([code, text]) => placeholders(text).join() !== placeholders(EN[code as TextCode]).join(),
    );
    expect(wrong).toEqual([]);
  });

  it('say something else than the English ones, names and signs aside', () => {
    const same = Object.entries(ES).filter(
      ([code, text]) => text === EN[code as TextCode] && /[a-z]{5}/.test(text.replace(/\{[^}]*\}/g, '')),
    );
    expect(same.map(([code]) => code).sort()).toEqual(['alarm.state.normal', 'app.name', 'settings.language.en']);
  });
});

describe('numbers and dates', () => {
  it('follow the device where it speaks the person’s language, and the usual form where it does not', () => {
    expect(localeOf('en', ['de-DE', 'en-US'])).toBe('en-US');
    expect(localeOf('es', ['en-US', 'en'])).toBe('es-ES');
    expect(localeOf('es', ['es-MX'])).toBe('es-MX');
    expect(localeOf('en', ['eng-XX'])).toBe('en-GB');
  });
});
