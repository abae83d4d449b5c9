import { alarms } from './alarms.js';
import { analysis } from './analysis.js';
import { cautions } from './cautions.js';
import { commissioning } from './commissioning.js';
import { errors } from './errors.js';
import { findings } from './findings.js';
import { refusals } from './refusals.js';
import { rounds } from './rounds.js';
import { screens } from './screens.js';
import { work } from './work.js';

/** The English catalogue. Placeholders are `{name}`; how each is formatted follows from the name's unit. */
export const EN = {
  ...analysis,
  ...alarms,
  ...cautions,
  ...commissioning,
  ...errors,
  ...findings,
  ...refusals,
  ...rounds,
  ...screens,
  ...work,
} as const;

export type TextCode = keyof typeof EN;
