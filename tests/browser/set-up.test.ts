import { chromium } from 'playwright-core';
import { expect, inject, it, onTestFinished } from 'vitest';
import { startTestServer } from '../support/server.js';
import { axeViolations, PHONE } from './browser.js';

it('leads from the console’s address to a firm with depot, crew, tariff and first site', async () => {
  const server = await startTestServer();
  onTestFinished(() => server.close());
  const browser = await chromium.launch({
    executablePath: inject('chromiumPath'),
    args: ['--no-sandbox', '--headless=shell'],
  });
  onTestFinished(() => browser.close());
  const page = await browser.newPage({ locale: 'en-GB', timezoneId: 'Europe/Madrid', viewport: PHONE });
  await page.goto(`${server.url}/#/set-up/WRONG-CODE`);
  await page.getByRole('heading', { name: 'Set up' }).waitFor();
  expect(await axeViolations(page)).toEqual([]);
  await page.getByLabel('Name of the firm').fill('Larch & Loam');
  await page.getByLabel('Your name').fill('Ada Marsh');
  await page.getByLabel('Log-in name').fill('ada');
  await page.getByLabel(/^Password/).fill('eleven wet pots');
  await page.getByRole('button', { name: 'Begin' }).click();
  await page.getByText('This is not the code that the console shows').waitFor();
  await page.getByLabel('Code from the console').fill(server.running.setUpCode);
  await page.getByRole('button', { name: 'Begin' }).click();
  await page.getByRole('heading', { name: 'First steps' }).waitFor();
  expect(await axeViolations(page)).toEqual([]);

  const step = (title: string) =>
    page.getByRole('listitem').filter({ has: page.locator('summary', { hasText: title }) });
  await step('Firm and tariff').getByLabel('Price of a cubic metre of water').fill('2,40');
  await step('Firm and tariff').getByRole('button', { name: 'Keep' }).click();
  await page.getByText('Kept.').waitFor();

  const depot = step('Depot and truck');
  await depot.getByLabel('Name of the depot').fill('Yard');
  await depot.getByLabel('Latitude, degrees north').fill('41.2');
  await depot.getByLabel('Longitude, degrees east').fill('1.98');
  await depot.getByLabel('Name of the truck').fill('White van');
  await depot.getByLabel('Its tank, litres').fill('600');
  await depot.getByRole('button', { name: 'Add' }).click();
  await page.getByText('Yard was added.').waitFor();

  const people = step('People');
  await people.getByLabel('Name', { exact: true }).fill('Jordi Puig');
  await people.getByLabel('Log-in name').fill('jordi');
  await people.getByRole('button', { name: 'Add' }).click();
  await people.getByText(/#\/welcome\//).waitFor();

  const site = step('First client and site');
  await site.getByLabel('Name of the account').fill('Quay Hotel');
  await site.getByLabel('Name of the site').fill('Pool deck');
  await site.getByLabel('Latitude, degrees north').fill('41.22');
  await site.getByLabel('Longitude, degrees east').fill('1.99');
  await site.getByRole('button', { name: 'Add' }).click();
  await page.getByText('Pool deck was added.').waitFor();

  const { registry, commissioning, people: crew } = server.store;
  expect(await commissioning.firm()).toMatchObject({ name: 'Larch & Loam', waterPricePerM3: 2.4 });
  expect(await registry.depots()).toMatchObject([{ name: 'Yard', latitude: 41.2 }]);
  expect(await registry.trucks()).toMatchObject([{ name: 'White van', tankLitres: 600, depotId: 'yard' }]);
  expect(await registry.sites({ kind: 'all' })).toMatchObject([
    { name: 'Pool deck', accountId: 'quay-hotel', timeZone: 'Europe/Madrid' },
  ]);
  expect((await crew.people()).map((person) => person.role).sort()).toEqual(['owner', 'technician']);
});
