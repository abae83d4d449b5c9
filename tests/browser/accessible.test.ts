import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeViolations, DESK, type Look, PHONE, type Stage, smallTargets, startStage } from './browser.js';

const LOOKS: readonly Look[] = ['light', 'dark', 'sun'];

/** A layout breaks by its size, a colour by its look: paper is tried at both sizes, night at the desk, sun on the phone. */
const SIZES_OF_LOOK = { light: [DESK, PHONE], dark: [DESK], sun: [PHONE] } as const;

/** Each screen with the role that lives on it, and the words that say it has loaded. */
const SCREENS: readonly (readonly [screen: string, login: string, loaded: string])[] = [
  ['today', 'dispatcher', 'Stops, by when they are due'],
  ['round', 'technician', 'Next stop'],
  ['containers', 'installer', '9 of 9 pots'],
  ['containers/C4', 'dispatcher', 'Water over time'],
  ['alarms', 'dispatcher', 'If nobody comes'],
  ['water', 'owner', 'By account'],
  ['commission', 'installer', 'Every new pot is finished'],
  ['commission/C9', 'installer', 'Proof of the wick'],
  ['commission/new', 'installer', 'Shape and size of the reservoir'],
  ['settings', 'client', 'degrees Celsius'],
];

describe('every screen in every look', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
    const dispatcher = await stage.server.loginAs('dispatcher');
    for (const siteId of ['S1', 'S4']) {
      await dispatcher.post('/api/v1/rounds/stops', {
        siteId,
        technicianId: 'technician',
        day: '2026-08-31',
        position: null,
      });
    }
  });
  afterAll(async () => {
    await stage.close();
  });

  for (const look of LOOKS) {
    it(`passes axe at the door, ${look}`, async () => {
      const page = await stage.open({ look });
      await page.getByRole('heading', { name: 'Sign in' }).waitFor();
      expect(await axeViolations(page)).toEqual([]);
    });

    for (const [screen, login, loaded] of SCREENS) {
      it(`passes axe, fits the width and the thumb on ${screen}, ${look}`, async () => {
        const page = await stage.openAs(login, screen, { look });
        for (const size of SIZES_OF_LOOK[look]) {
          await page.setViewportSize(size);
          await page.getByText(loaded).first().waitFor();
          await page.locator('.load').first().waitFor({ state: 'detached' });
          expect(await axeViolations(page)).toEqual([]);
          expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(size.width);
          if (size === PHONE) expect(await smallTargets(page, 'main')).toEqual([]);
        }
      });
    }
  }

  it('passes axe with the sheet for recording open', async () => {
    const page = await stage.openAs('technician', 'round', { size: PHONE });
    await page.getByRole('button', { name: 'Done here' }).click();
    await page.getByRole('dialog').waitFor();
    expect(await axeViolations(page)).toEqual([]);
  });
});
