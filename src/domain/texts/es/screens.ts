import { accessPart } from './screens-access.js';
import { alarmsScreen } from './screens-alarms.js';
import { commissionScreen } from './screens-commission.js';
import { containerScreen } from './screens-container.js';
import { levelPart } from './screens-level.js';
import { ownerPart } from './screens-owner.js';
import { planScreen } from './screens-plan.js';
import { reviewScreen } from './screens-review.js';
import { roundScreen } from './screens-round.js';
import { setUpScreen } from './screens-set-up.js';
import { settingsScreen } from './screens-settings.js';
import { shell } from './screens-shell.js';
import { todayScreen } from './screens-today.js';
import { trustScreen } from './screens-trust.js';
import { waterScreen } from './screens-water.js';
import { words } from './screens-words.js';

/** What stands on the screens of the page, one file per screen. */
export const screens = {
  ...words,
  ...shell,
  ...todayScreen,
  ...alarmsScreen,
  ...settingsScreen,
  ...planScreen,
  ...roundScreen,
  ...containerScreen,
  ...waterScreen,
  ...setUpScreen,
  ...reviewScreen,
  ...commissionScreen,
  ...levelPart,
  ...accessPart,
  ...trustScreen,
  ...ownerPart,
} as const;
