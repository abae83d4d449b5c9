import type { Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DESK, type Stage, startStage } from './browser.js';

describe('the dispatcher changes planned rounds', () => {
  let stage: Stage;
  let page: Page;
  beforeAll(async () => {
    stage = await startStage();
    const dispatcher = await stage.server.loginAs('dispatcher');
    for (const siteId of ['S1', 'S4', 'S2']) {
      await dispatcher.post('/api/v1/rounds/stops', {
        siteId,
        technicianId: 'technician',
        day: '2026-08-31',
        position: null,
      });
    }
    page = await stage.openAs('dispatcher', 'round/technician', { size: DESK });
    await page.getByRole('heading', { name: /^Round of Ana Ferrer/ }).waitFor();
  });
  afterAll(async () => {
    await stage.close();
  });

  const nextStop = (): Locator => page.locator('#next-title');

  it('puts a stop one later and takes it back', async () => {
    expect(await nextStop().textContent()).toBe('Larkspur terrace');
    await page.getByText('Change this stop').first().click();
    await page.getByRole('button', { name: 'One later: Larkspur terrace' }).click();
    await page.getByRole('status').getByText('Larkspur terrace is now stop 2.').waitFor();
    await page.locator('#next-title', { hasText: 'Quay pool deck' }).waitFor();
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.locator('#next-title', { hasText: 'Larkspur terrace' }).waitFor();
  });

  it('shows what the other round then holds, gives a stop away, and takes it back', async () => {
    const give = page.locator('.next-stop').getByRole('button', { name: /^Jordi Puig/ });
    await give.getByText(/then 1 stop, 4\d\sL/).waitFor();
    await give.click();
    await page.getByRole('status').getByText('Larkspur terrace is on the round of Jordi Puig.').waitFor();
    await page.locator('#next-title', { hasText: 'Quay pool deck' }).waitFor();
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.locator('#next-title', { hasText: 'Larkspur terrace' }).waitFor();
  });

  it('gives the whole round of a technician who is off to another', async () => {
    await page.getByText('Give the whole round away').click();
    await page
      .locator('.round-tools')
      .getByRole('button', { name: /^Jordi Puig/ })
      .click();
    await page.getByRole('status').getByText('3 stops are now on the round of Jordi Puig.').waitFor();
    await page.getByRole('heading', { name: 'Nothing on the round' }).waitFor();
    await page.getByRole('link', { name: 'Jordi Puig' }).click();
    await page.getByText('0 of 3 stops done').waitFor();
    expect(await nextStop().textContent()).toBe('Larkspur terrace');
  });
});
