import { cautions } from './cautions.js';
import { accessPart } from './screens-access.js';
import { levelPart } from './screens-level.js';
import { roundScreen } from './screens-round.js';
import { shell } from './screens-shell.js';
import { words } from './screens-words.js';
import { work } from './work.js';

/** What the frame of the page and a technician's round say: the part that the page has before the rest has come. */
export const FIRST_EN = {
  ...words,
  ...shell,
  ...roundScreen,
  ...levelPart,
  ...accessPart,
  ...cautions,
  ...work,
} as const;
