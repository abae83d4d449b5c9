export type Language = 'en' | 'es';

const FALLBACK: Readonly<Record<Language, string>> = { en: 'en-GB', es: 'es-ES' };

/**
 * How numbers and dates are written: as the device is set where that is the person's own language (an American phone
 * writes Aug 31), otherwise as is usual for the language.
 */
export function localeOf(language: Language, deviceLocales: readonly string[]): string {
  return deviceLocales.find((locale) => locale === language || locale.startsWith(`${language}-`)) ?? FALLBACK[language];
}

export const isLanguage = (value: unknown): value is Language => value === 'en' || value === 'es';
