import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeViolations, type Stage, startStage } from './browser.js';

/** Each screen of an empty server with the words that say what to do next. */
const SCREENS: readonly (readonly [login: string, screen: string, says: RegExp])[] = [
  ['dispatcher', 'today', /Load a fleet with the import command/],
  ['dispatcher', 'round', /No plan has been made yet/],
  ['dispatcher', 'containers', /Load a fleet with the import command/],
  ['dispatcher', 'alarms', /No alarm stands. One is raised when/],
  ['owner', 'containers', /The first steps take some minutes/],
  ['installer', 'commission', /Every new pot is finished/],
  ['installer', 'commission/new', /A dispatcher or owner adds the site first/],
  ['owner', 'set-up', /nothing here has to be done twice/],
  ['owner', 'water', /The account begins on the first full day of readings/],
  ['technician', 'round', /When one comes, it shows up here by itself/],
];

describe('a server on its first day', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage([]);
  });
  afterAll(async () => {
    await stage.close();
  });

  for (const [login, screen, says] of SCREENS) {
    it(`says to the ${login} on ${screen} what to do next`, async () => {
      const page = await stage.openAs(login, screen);
      await page.getByText(says).waitFor();
      expect(await axeViolations(page)).toEqual([]);
    });
  }
});
