import { accessPart } from './screens-access.js';
import { alarmsScreen } from './screens-alarms.js';
import { containerScreen } from './screens-container.js';
import { planScreen } from './screens-plan.js';
import { roundScreen } from './screens-round.js';
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
  ...accessPart,
  ...trustScreen,
} as const;
