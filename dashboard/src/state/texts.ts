import { FIRST_EN } from '../../../src/domain/texts/en/first.js';
import type { Catalogue } from '../../../src/domain/texts/render.js';
import type { Language } from './locale.js';

/** The texts of one language, as far as they have come. */
export interface Texts {
  readonly language: Language;
  readonly catalogue: Catalogue;
  /** Every code is there; before that only those of the frame and of a technician's round. */
  readonly complete: boolean;
}

/** English comes with the page itself, so that there is something to say in any case. */
export const ENGLISH_AT_START: Texts = { language: 'en', catalogue: FIRST_EN, complete: false };

/** Enough for the frame and a round. */
export async function firstTexts(language: Language): Promise<Texts> {
  if (language === 'en') return ENGLISH_AT_START;
  const { FIRST_ES } = await import('../../../src/domain/texts/es/first.js');
  return { language, catalogue: { ...FIRST_EN, ...FIRST_ES }, complete: false };
}

export async function allTexts(language: Language): Promise<Texts> {
  const catalogue =
    language === 'en'
      ? (await import('../../../src/domain/texts/en/index.js')).EN
      : (await import('../../../src/domain/texts/es/index.js')).ES;
  return { language, catalogue, complete: true };
}
