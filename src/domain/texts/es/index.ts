import type { TextCode } from '../en/index.js';
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

/** The Spanish catalogue; every code of the English one is in it. No native speaker has reviewed it. */
export const ES: Readonly<Record<TextCode, string>> = {
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
};
