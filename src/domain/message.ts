import type { TextCode } from './texts/en/index.js';

/**
 * What the program says to a person, as a code with SI parameters. The text catalogue renders it in the person's
 * language and units; nothing but the catalogue knows words. A parameter's name ends in its unit (`levelMm`,
 * `rateLitresPerDay`, `dryP50Ms`), and that ending decides how it is formatted.
 */
export interface Message {
  readonly code: TextCode;
  readonly params: Readonly<Record<string, string | number | null>>;
}
