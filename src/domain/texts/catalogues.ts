import { EN } from './en/index.js';
import { ES } from './es/index.js';
import type { Catalogue } from './render.js';

/** One catalogue a language; every code is in each. */
export const CATALOGUES: Readonly<Record<'en' | 'es', Catalogue>> = { en: EN, es: ES };
