import type { Catalogue } from '../render.js';
import { cautions } from './cautions.js';
import { accessPart } from './screens-access.js';
import { levelPart } from './screens-level.js';
import { roundScreen } from './screens-round.js';
import { shell } from './screens-shell.js';
import { words } from './screens-words.js';
import { work } from './work.js';

/** The Spanish of what the page has before the rest has come. */
export const FIRST_ES: Catalogue = {
  ...words,
  ...shell,
  ...roundScreen,
  ...levelPart,
  ...accessPart,
  ...cautions,
  ...work,
};
