import { EN, type TextCode } from '../en/index.js';
import { alarms } from './alarms.js';
import { cautions } from './cautions.js';
import { commissioning } from './commissioning.js';
import { accessPart } from './screens-access.js';
import { alarmsScreen } from './screens-alarms.js';
import { commissionScreen } from './screens-commission.js';
import { levelPart } from './screens-level.js';
import { planScreen } from './screens-plan.js';
import { reviewScreen } from './screens-review.js';
import { roundScreen } from './screens-round.js';
import { setUpScreen } from './screens-set-up.js';
import { settingsScreen } from './screens-settings.js';
import { shell } from './screens-shell.js';
import { trustScreen } from './screens-trust.js';
import { words } from './screens-words.js';
import { work } from './work.js';

/** What is said in Spanish so far: what a technician meets on the round. */
export const SPANISH: Partial<Record<TextCode, string>> = {
  ...alarms,
  ...words,
  ...shell,
  ...roundScreen,
  ...accessPart,
  ...trustScreen,
  ...alarmsScreen,
  ...settingsScreen,
  ...setUpScreen,
  ...reviewScreen,
  ...commissionScreen,
  ...levelPart,
  ...planScreen,
  ...cautions,
  ...commissioning,
  ...work,
};

/** The Spanish catalogue; what is not translated yet is said in English. No native speaker has reviewed it. */
export const ES: Readonly<Record<TextCode, string>> = { ...EN, ...SPANISH };
