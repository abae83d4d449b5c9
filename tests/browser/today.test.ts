import type { Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { PHONE, type Stage, signIn, startStage } from './browser.js';

describe('the dispatcher’s day', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  const stopAt = (page: Page, site: string): Locator => page.getByRole('article', { name: site });

  it('opens on today after signing in and says in words what the day is like', async () => {
    const page = await stage.open();
    await signIn(page, 'dispatcher');
    await page.getByRole('heading', { name: 'Monday 31 August' }).waitFor();
    await page.getByText(/3 pots need a visit today. With what rides along that is 3 stops/).waitFor();
    await page.getByText(/nobody can say how they stand/).waitFor();
    await stopAt(page, 'Larkspur terrace').getByText('overdue').waitFor();
    await page.getByText('Not heard since Sat 29 Aug, 14:41.').waitFor();
  });

  it('refuses a wrong password in words and lets one try again', async () => {
    const page = await stage.open();
    await page.getByLabel('Log-in name').fill('dispatcher');
    await page.getByLabel('Password').fill('not the password');
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('alert').getByText('do not belong together').waitFor();
    await signIn(page, 'dispatcher');
  });

  it('puts a stop on a round by keyboard alone, takes it back with undo, and acknowledges an alarm', async () => {
    const page = await stage.openAs('dispatcher', 'today');
    const stop = stopAt(page, 'Quay pool deck');
    await stop.getByText('not planned').waitFor();

    await pressTabUntil(page, 'Put on a round: Quay pool deck');
    await page.keyboard.press('Enter');
    await pressTabUntil(page, /^Ana Ferrer/);
    await page.keyboard.press('Enter');
    await stop.getByText('Ana Ferrer, stop 1').waitFor();
    await page.getByRole('status').getByText('Quay pool deck is on the round of Ana Ferrer.').waitFor();

    await pressTabUntil(page, 'Undo');
    await page.keyboard.press('Enter');
    await stop.getByText('not planned').waitFor();

    await page.evaluate('document.activeElement.blur()');
    await pressTabUntil(page, 'Acknowledge: Runs dry, Olive by the stairs');
    await page.keyboard.press('Enter');
    await page.getByRole('status').getByText('Acknowledged: Runs dry, Olive by the stairs.').waitFor();
    await page
      .getByRole('button', { name: 'Acknowledge: Runs dry, Olive by the stairs' })
      .waitFor({ state: 'detached' });
  });

  it('moves a planned stop to another technician by mouse', async () => {
    const page = await stage.openAs('dispatcher', 'today');
    const stop = stopAt(page, 'Heron roof');
    await stop.getByText('Put on a round').click();
    await stop.getByRole('button', { name: /^Ana Ferrer/ }).click();
    await stop.getByText('Ana Ferrer, stop 1').waitFor();
    await stop.getByText('Change').click();
    await stop.getByRole('button', { name: /^Jordi Puig/ }).click();
    await stop.getByText('Jordi Puig, stop 1').waitFor();
    await page.getByRole('navigation', { name: 'Rounds' }).getByText('1 stop, 21 L').waitFor();
  });

  it('shelves an alarm with a reason, and the alarm stands among the held ones', async () => {
    const page = await stage.openAs('dispatcher', 'today');
    await page.getByRole('button', { name: 'Shelve: Runs dry, Herb trough' }).click();
    await page.getByLabel('Why it can rest').fill('The kitchen waters it this week');
    await page.getByRole('button', { name: 'Shelve it' }).click();
    await page.getByRole('status').getByText('Shelved: Runs dry, Herb trough.').waitFor();
    await page.goto(`${stage.server.url}/#/alarms`);
    await page.getByRole('heading', { name: /Shelved, suppressed or out of service/ }).waitFor();
    await page.getByText(/The kitchen waters it this week/).waitFor();
  });

  it('fits a phone without scrolling sideways', async () => {
    const page = await stage.openAs('dispatcher', 'today', { size: PHONE });
    await page.getByRole('heading', { name: 'Monday 31 August' }).waitFor();
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(PHONE.width);
  });
});

/** Presses Tab until the element in focus bears the name; it fails after going round the page. */
async function pressTabUntil(page: Page, name: string | RegExp): Promise<void> {
  for (let presses = 0; presses < 150; presses++) {
    await page.keyboard.press('Tab');
    const focused = (await page.evaluate(
      "document.activeElement.getAttribute('aria-label') ?? document.activeElement.innerText ?? ''",
    )) as string;
    if (typeof name === 'string' ? focused === name : name.test(focused)) return;
  }
  throw new Error(`the keyboard never reached ${name}`);
}
