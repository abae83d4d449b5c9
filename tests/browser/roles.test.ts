import { readFile } from 'node:fs/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Stage, startStage } from './browser.js';

describe('each role’s own way', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  it('shows the owner where the water went, by account down to the pot, and saves it as CSV', async () => {
    const page = await stage.openAs('owner', 'water');
    await page.getByText(/In August 2026, 9 pots took/).waitFor();
    await page.getByRole('heading', { name: 'Where it went' }).waitFor();
    const saving = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save as CSV' }).click();
    const file = await (await saving).path();
    expect((await readFile(file, 'utf8')).split('\r\n')[0]).toMatch(
      /^account,name,containers,container_days,opening_l/,
    );

    await page.getByRole('link', { name: 'Quay Hotel' }).first().click();
    await page.getByRole('heading', { name: 'By site' }).waitFor();
    await page.getByRole('link', { name: 'Quay pool deck' }).first().click();
    await page.getByRole('heading', { name: 'By pot' }).waitFor();
    expect(await page.getByRole('link', { name: 'Bay tree, left' }).count()).toBe(0);
    await page.getByRole('link', { name: 'Herb trough' }).first().click();
    await page.getByRole('heading', { name: 'Herb trough', level: 1 }).waitFor();
  });

  it('shows a client the own pots and water, and nothing else', async () => {
    const page = await stage.openAs('client', 'containers');
    await page.getByText('3 of 3 pots').waitFor();
    const screens = page.getByRole('navigation', { name: 'Screens' }).getByRole('link');
    expect(await screens.allInnerTexts()).toEqual(['Containers', 'Water']);
    await page.goto(`${stage.server.url}/#/today`);
    await page.getByRole('heading', { name: 'Not for this role' }).waitFor();
    await page.goto(`${stage.server.url}/#/containers/C8`);
    await page.getByText(/The server refused/).waitFor();
    await page.goto(`${stage.server.url}/#/containers/C1`);
    await page.getByRole('heading', { name: 'Where its water went' }).waitFor();
  });

  it('finds a pot as one types, in whatever order and without accents', async () => {
    const page = await stage.openAs('installer', 'containers');
    await page.getByText('9 of 9 pots').waitFor();
    await page.getByLabel('Search by pot, place, site or account').fill('quay bay');
    await page.getByText('2 of 9 pots').waitFor();
    await page.getByLabel('Search by pot, place, site or account').fill('nobody');
    await page.getByText('No pot has all these words').waitFor();
  });

  it('shows a pot’s chart to the keyboard: arrows step along it and say the figures', async () => {
    const page = await stage.openAs('dispatcher', 'containers/C5');
    const chart = page.getByRole('slider', { name: /^Litres from/ });
    await chart.locator('canvas').waitFor();
    await chart.focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    expect(await chart.getAttribute('aria-valuetext')).toMatch(/Aug.*: [\d.]+\sL, \d+\smm/);
    await page.getByText('The figures as a table').click();
    await page.getByRole('columnheader', { name: 'Battery' }).waitFor();
    await page.getByRole('button', { name: '2 months' }).click();
    await page.getByRole('button', { name: '2 months', pressed: true }).waitFor();
  });

  it('speaks gallons, inches and Fahrenheit to whoever prefers them, and keeps that', async () => {
    const page = await stage.openAs('technician2', 'settings');
    await page.getByLabel('US gallons').check();
    await page.getByRole('status').getByText('Kept.').waitFor();
    await page.getByLabel('inches').check();
    await page.getByLabel('degrees Fahrenheit').check();
    await page.reload();
    await page.goto(`${stage.server.url}/#/containers/C3`);
    await page.getByText(/gal in it/).waitFor();
    await page.getByText(/°F, battery/).waitFor();
    await page.getByText('overflow 4.7 in').waitFor();
  });

  it('tells a person once, on whatever screen, and takes it away when it is seen', async () => {
    const page = await stage.openAs('dispatcher', 'containers');
    const told = page.getByRole('region', { name: /^\d+ alerts?$/ });
    await told.locator('summary').click();
    const seen = told.getByRole('button', { name: /^Seen: Herb trough may be dry/ });
    await seen.click();
    await seen.waitFor({ state: 'detached' });
    await page.goto(`${stage.server.url}/#/alarms`);
    const listed = page.waitForResponse(/\/api\/v1\/alerts$/);
    await page.reload();
    await listed;
    await page.getByText('If nobody comes').first().waitFor();
    expect(await page.locator('.told li').filter({ hasText: 'Herb trough may be dry' }).count()).toBe(0);
  });

  it('says where an address leads that does not exist, and the way back', async () => {
    const page = await stage.openAs('technician2', 'round');
    await page.goto(`${stage.server.url}/#/nowhere`);
    await page.getByText('The address “nowhere” leads nowhere.').waitFor();
  });

  it('signs out, and the page shows nothing more', async () => {
    const page = await stage.openAs('installer', 'settings');
    await page.getByRole('button', { name: 'Sign out' }).click();
    await page.getByRole('heading', { name: 'Sign in' }).waitFor();
    await page.goto(`${stage.server.url}/#/containers`);
    await page.getByRole('heading', { name: 'Sign in' }).waitFor();
  });
});
