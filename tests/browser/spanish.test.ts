import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import { EN, type TextCode } from '../../src/domain/texts/en/index.js';
import { ES } from '../../src/domain/texts/es/index.js';
import { DESK, PHONE, type Stage, startStage } from './browser.js';
import { PEOPLE } from './garden.js';

/** Each screen with the role that lives on it, and Spanish words that say it has loaded. */
const SCREENS: readonly (readonly [screen: string, login: string, loaded: TextCode])[] = [
  ['today', 'dispatcher', 'today.stops_title'],
  ['round', 'technician', 'round.next'],
  ['round', 'dispatcher', 'board.title'],
  ['containers', 'installer', 'containers.sort'],
  ['containers/C4', 'dispatcher', 'pot.chart_title'],
  ['alarms', 'dispatcher', 'numbers.title'],
  ['water', 'owner', 'water.by.account'],
  ['commission', 'installer', 'commission.title'],
  ['commission/C9', 'installer', 'commission.step.wick'],
  ['settings', 'owner', 'settings.title'],
  ['water', 'client', 'water.to'],
  ['containers', 'client', 'containers.sort'],
];

/** What opens over a screen: the button that opens it, and words that say it has opened. */
const OPENED: readonly (readonly [screen: string, login: string, opener: TextCode, opened: TextCode])[] = [
  ['round', 'technician', 'round.done_here', 'record.save'],
  ['alarms', 'dispatcher', 'alarms.shelve', 'alarms.shelve_reason'],
  ['alarms', 'dispatcher', 'numbers.set', 'numbers.on_delay_in'],
  ['round', 'dispatcher', 'board.urgent', 'board.urgent_ask'],
  ['round', 'dispatcher', 'board.what_if', 'board.if_see'],
];

/** Sentences of the English catalogue that are said otherwise in Spanish, whatever stands in their gaps. */
const ENGLISH = Object.entries(EN)
  .filter(([code, text]) => ES[code as TextCode] !== text && text.replace(/\{[^}]*\}/g, '').length >= 8)
  .map(([, text]) => {
    const parts = text.split(/\{[^}]*\}/).map((part) => part.replace(/[.*+?^${}()|[\]\\]/g, '\\$&'));
    return new RegExp(`^${parts.join('[^·]*?[^\\s·][^·]*?')}$`, 's');
  });

describe('every screen for somebody who reads Spanish', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
    const dispatcher = await stage.server.loginAs('dispatcher');
    await dispatcher.post('/api/v1/rounds/stops', {
      siteId: 'S1',
      technicianId: 'technician',
      day: '2026-08-31',
      position: null,
    });
    for (const login of new Set(SCREENS.map(([, login]) => login))) {
      const somebody = await stage.server.loginAs(login);
      await somebody.put('/api/v1/preferences', { language: 'es', units: somebody.person.units });
    }
  });
  afterAll(async () => {
    await stage.close();
  });

  it('knows English when it sees it', () => {
    expect(english(['8 pots can wait.', 'Stops, by when they are due', 'Terrace bowl'])).toHaveLength(2);
  });

  for (const [screen, login, loaded] of SCREENS) {
    it(`says nothing in English on ${screen} of the ${login}, fits the width and cuts no word of a drawing`, async () => {
      const page = await stage.openAs(login, screen, { locale: 'es-ES' });
      for (const size of [DESK, PHONE]) {
        await page.setViewportSize(size);
        await page.getByText(ES[loaded]).first().waitFor();
        await page.locator('.load').first().waitFor({ state: 'detached' });
        await expectSpanish(page, size.width);
        const cut = await page.evaluate(`[...document.querySelectorAll('svg text')]
          .filter((text) => text.getBoundingClientRect().right > text.ownerSVGElement.getBoundingClientRect().right + 0.5)
          .map((text) => text.textContent)`);
        expect(cut).toEqual([]);
      }
    });
  }

  for (const [screen, login, opener, opened] of OPENED) {
    it(`says nothing in English in what “${EN[opener]}” opens on ${screen} of the ${login}`, async () => {
      const page = await stage.openAs(login, screen, { locale: 'es-ES', size: PHONE });
      await page.getByRole('button', { name: ES[opener] }).first().click();
      await page.getByText(ES[opened]).first().waitFor();
      await expectSpanish(page, PHONE.width);
    });
  }

  it('greets in Spanish at the door whoever comes with a Spanish device', async () => {
    const page = await stage.open({ locale: 'es-ES', size: PHONE });
    await page.getByRole('button', { name: ES['signin.submit'] }).waitFor();
    await expectSpanish(page, PHONE.width);
  });
});

describe('the first start for somebody who reads Spanish', () => {
  it('says nothing in English at the door and in the first steps', async () => {
    const stage = await startStage([], {}, []);
    onTestFinished(() => stage.close());
    const page = await stage.open({ locale: 'es-ES', size: PHONE });
    await page.goto(`${stage.server.url}/#/set-up/${stage.server.running.setUpCode}`);
    await page.getByLabel(ES['setup.firm_name']).fill('Larch & Loam');
    await expectSpanish(page, PHONE.width);
    await page.getByLabel(ES['setup.your_name']).fill('Ada Marsh');
    await page.getByLabel(ES['setup.login']).fill('ada');
    await page.getByLabel(ES['setup.password']).fill('eleven wet pots');
    await page.getByRole('button', { name: ES['setup.begin'] }).click();
    await page.getByRole('heading', { name: ES['setup.title'] }).waitFor();
    for (const fold of await page.locator('summary').all()) await fold.click();
    await expectSpanish(page, PHONE.width);
  });
});

async function expectSpanish(page: Page, width: number): Promise<void> {
  const said = (await page.evaluate(`[...document.querySelectorAll('body *')].flatMap((element) => [
    element.childElementCount === 0 ? element.textContent : '',
    ...['aria-label', 'title', 'placeholder'].map((name) => element.getAttribute(name) ?? ''),
  ])`)) as readonly string[];
  expect(english(said)).toEqual([]);
  expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(width);
}

/** Log-in names are no texts, and those of the garden are English words. */
const LOGINS: ReadonlySet<string> = new Set(PEOPLE.map((person) => person.login));

function english(said: readonly string[]): readonly string[] {
  const pieces = said.flatMap((text) => [text, ...text.split(/(?<=[.:]) /)]).map((text) => text.trim());
  return [...new Set(pieces)].filter(
    (text) => text !== '' && !LOGINS.has(text) && ENGLISH.some((sentence) => sentence.test(text)),
  );
}
