import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeViolations, DESK, PHONE, type Stage, smallTargets, startStage } from './browser.js';

describe('the settings', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  it('keep when a technician is told, days away and the calendar address, on the phone', async () => {
    const page = await stage.openAs('technician', 'settings', { size: PHONE });
    await page.getByLabel('From which priority on').selectOption('high');
    const away = page.getByRole('group', { name: 'Days away' });
    await away.getByLabel('First day').fill('2026-09-14');
    await away.getByLabel('Last day').fill('2026-09-18');
    await away.getByRole('button', { name: 'Add days away' }).click();
    await page.getByLabel('outside my hours hold what can wait').check();
    const hours = page.getByRole('group', { name: 'My hours, in that time zone' });
    await hours.getByRole('button', { name: 'Remove: Friday, 07:00' }).click();
    await page.getByRole('group', { name: 'Of which alarms' }).getByLabel('Node silent').uncheck();
    await page.getByLabel('Who is told instead on days away').selectOption({ label: 'Jordi Puig' });
    await page.getByRole('button', { name: 'Keep these rules' }).click();
    await page.getByRole('status').getByText('From now on you are told by these rules.').waitFor();
    const rules = await stage.server.store.notify.rules('technician');
    expect(rules).toMatchObject({
      minimumPriority: 'high',
      away: [{ fromDay: '2026-09-14', toDay: '2026-09-18' }],
      quiet: { fromMinute: 1200, toMinute: 360 },
      working: [1, 2, 3, 4].map((weekday) => ({ weekday, fromMinute: 420, toMinute: 960 })),
      standInId: 'technician2',
    });
    expect(rules?.kinds).not.toContain('node_silent');
    expect(rules?.kinds).toContain('dry');
    await page.getByRole('button', { name: 'Make an address' }).click();
    const url = await page.locator('.shown-once-text').textContent();
    expect((await fetch(url!)).status).toBe(200);
    await page.getByRole('button', { name: 'End it' }).click();
    await page.getByText('No address is in use.').waitFor();
    expect((await fetch(url!)).status).toBe(404);
    expect(await axeViolations(page)).toEqual([]);
    expect(await smallTargets(page, '.settings')).toEqual([]);
    expect(await page.getByRole('heading', { name: 'Crew' }).count()).toBe(0);
  });

  it('let the dispatcher set a shift, enter who is ill, add a truck and agree hours with a site', async () => {
    const page = await stage.openAs('dispatcher', 'settings', { size: DESK });
    await page.getByRole('button', { name: 'Add a truck' }).click();
    await page.getByLabel('Name').fill('Blue one');
    await page.getByLabel('Tank, litres').fill('800');
    await page.getByRole('button', { name: 'Keep', exact: true }).first().click();
    await page.getByText('tank of 800').waitFor();

    await page.getByRole('button', { name: 'Change how Ana Ferrer works' }).click();
    const form = page.getByRole('form', { name: 'Change how Ana Ferrer works' });
    await form.getByRole('button', { name: 'Remove: Friday, 07:00' }).click();
    await form.getByLabel('Truck').selectOption({ label: 'Blue one' });
    await form.getByLabel(/^Skills/).fill('roof ladder, key 14');
    await form.getByRole('button', { name: 'Keep' }).click();
    await page.getByText('Mon–Thu, 07:00–16:00 · Blue one · roof ladder · key 14').waitFor();

    await page.getByLabel('Who or what').selectOption({ label: 'Jordi Puig' });
    const crew = page.locator('#crew');
    await crew.getByLabel('First day').fill('2026-08-31');
    await crew.getByLabel(/^Why/).fill('Ill');
    await crew.getByRole('button', { name: 'Enter it' }).click();
    await page.getByText(/Jordi Puig 2026-08-31 to 2026-08-31 · Ill/).waitFor();

    const terms = page.locator('#terms');
    await terms.getByLabel('Site').selectOption({ label: 'Quay pool deck' });
    await terms.getByRole('button', { name: 'Add hours' }).click();
    await terms.getByLabel('To', { exact: true }).fill('10:00');
    await terms.getByLabel('Jordi Puig').check();
    await terms.getByLabel(/^Agreed/).fill('14');
    await terms.getByLabel('Month', { exact: true }).selectOption({ label: 'October' });
    await terms.getByLabel('Day of the month').selectOption('20');
    await terms.getByRole('button', { name: 'Add the day' }).click();
    await terms.getByText('20 October').waitFor();
    await terms.getByRole('button', { name: 'Keep' }).click();
    await page.getByRole('status').getByText('Kept: Quay pool deck. The plan follows.').waitFor();
    expect(await stage.server.store.crew.siteTerms()).toMatchObject([
      {
        siteId: 'S4',
        hours: [{ weekday: 1, fromMinute: 420, toMinute: 600 }],
        forbiddenPeople: ['technician2'],
        visitEveryDays: 14,
        replantOn: ['10-20'],
      },
    ]);

    await page.getByLabel('Node', { exact: true }).fill('N4');
    await page.getByLabel('Every, minutes').fill('5');
    await page.getByRole('button', { name: 'Ask for it' }).click();
    await page.getByText('1 node every 5').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect(await smallTargets(page, '.settings')).toEqual([]);
    await page.setViewportSize(PHONE);
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(PHONE.width);
  });
});
