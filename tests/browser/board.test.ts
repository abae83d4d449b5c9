import type { Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { PlanJson } from '../../src/http/schemas/index.js';
import type { TestClient } from '../support/server.js';
import { axeViolations, DESK, PHONE, type Stage, smallTargets, startStage } from './browser.js';
import { gardenWrites } from './garden.js';

const TODAY = '2026-08-31';
const TOMORROW = '2026-09-01';

describe('the dispatcher at the board of rounds', () => {
  let stage: Stage;
  let page: Page;
  let dispatcher: TestClient;

  beforeAll(async () => {
    stage = await startStage([
      ...gardenWrites(),
      { kind: 'depot', row: { id: 'D1', name: 'Yard', latitude: 41.21, longitude: 1.97 } },
      { kind: 'truck', row: { id: 'T1', name: 'Blue', tankLitres: 500, depotId: 'D1' } },
      { kind: 'truck', row: { id: 'T2', name: 'Green', tankLitres: 500, depotId: 'D1' } },
    ]);
    dispatcher = await stage.server.loginAs('dispatcher');
    await dispatcher.post('/api/v1/plan/run');
    await stage.server.running.planner.idle();
    page = await stage.openAs('dispatcher', 'round', { size: DESK });
    await page.getByRole('heading', { name: 'Rounds', exact: true }).waitFor();
  });
  afterAll(async () => {
    await stage.close();
  });

  const plan = async (): Promise<PlanJson> => (await dispatcher.get('/api/v1/plan')).body as PlanJson;
  const aside = (): Locator => page.locator('.board-aside');
  const cell = (person: string, day: string): Locator => page.locator(`[data-person="${person}"][data-day="${day}"]`);

  /** Some stop of the draft that may still move: not of today's first ones. */
  async function someStop() {
    const { draft, sites } = await plan();
    const round = draft!.rounds.find((one) => one.stops.some((stop) => stop.reason !== 'frozen'))!;
    const stop = round.stops.findLast((one) => one.reason !== 'frozen')!;
    return { round, stop, name: sites.find((site) => site.id === stop.siteId)!.name };
  }

  it('reads the plan in a sentence, publishes it, and finds nothing that differs', async () => {
    await page.getByText(/^The next 14 days: \d+ rounds?/).waitFor();
    await page.getByRole('button', { name: /^Publish \d+ changes?/ }).click();
    await page
      .getByRole('status')
      .getByText(/^Published: /)
      .waitFor();
    await page.getByText('This is what everybody has been told.').waitFor();
    expect((await plan()).changes).toEqual([]);
  });

  it('sees why a site is visited then, and what holding it would cost', async () => {
    const { name, round } = await someStop();
    await cell(round.personId, round.day)
      .getByRole('button', { name: new RegExp(name) })
      .click();
    await aside().getByRole('heading', { name }).waitFor();
    await aside()
      .getByText(/^(must|top-up|alarm|care|agreed|carried over|locked):$/)
      .waitFor();
    await aside()
      .getByText(/^Safe (until|beyond)/)
      .waitFor();
    await page.keyboard.press('Escape');
    await aside().waitFor({ state: 'detached' });
  });

  it('moves a stop with the mouse, sees what it brings first, does it, and takes it back', async () => {
    const { name, round } = await someStop();
    const other = round.personId === 'technician' ? 'technician2' : 'technician';
    const card = cell(round.personId, round.day).getByRole('button', { name: new RegExp(name) });
    await card.scrollIntoViewIfNeeded();
    const from = (await card.boundingBox())!;
    const to = (await cell(other, round.day).boundingBox())!;
    await page.mouse.move(from.x + 20, from.y + 10);
    await page.mouse.down();
    await page.mouse.move(to.x + 30, to.y + 20, { steps: 6 });
    await page.mouse.up();
    await aside().getByRole('heading', { name: 'What it would bring' }).waitFor();
    expect((await plan()).changes).toEqual([]);
    await aside()
      .getByRole('button', { name: /^Do it/ })
      .click();
    await page.getByRole('status').getByText('Done, in the draft.').waitFor();
    await cell(other, round.day).getByText(name).waitFor();
    await cell(other, round.day).getByText('locked').waitFor();
    await page.getByRole('button', { name: 'Undo', exact: true }).click();
    await cell(round.personId, round.day).getByText(name).waitFor();
    expect((await plan()).changes).toEqual([]);
  });

  it('moves a stop by its menu alone, with the keyboard', async () => {
    const { name, round } = await someStop();
    const other = round.personId === 'technician' ? 'Jordi Puig' : 'Ana Ferrer';
    await cell(round.personId, round.day)
      .getByRole('button', { name: new RegExp(name) })
      .focus();
    await page.keyboard.press('Enter');
    const form = aside().getByRole('form', { name: 'Move to' });
    await form.getByLabel('Technician').selectOption({ label: other });
    await form.getByRole('button', { name: 'See what it brings' }).focus();
    await page.keyboard.press('Enter');
    await aside().getByRole('heading', { name: 'What it would bring' }).waitFor();
    await aside().getByRole('button', { name: 'Leave it as it is' }).focus();
    await page.keyboard.press('Enter');
    await aside().waitFor({ state: 'detached' });
    expect((await plan()).changes).toEqual([]);
  });

  it('merges two rounds, and undoes that', async () => {
    const { round } = await someStop();
    await cell(round.personId, round.day)
      .getByRole('button', { name: /^Round of/ })
      .click();
    const give = aside().getByRole('form', { name: 'Split or merge' });
    await give.getByRole('button', { name: 'See what it brings' }).click();
    await aside()
      .getByRole('button', { name: /^Do it/ })
      .click();
    await page.getByRole('status').getByText('Done, in the draft.').waitFor();
    await page.getByRole('button', { name: 'Undo the last change' }).click();
    await page.getByRole('status').getByText('The draft is as it was before.').waitFor();
    expect((await plan()).changes).toEqual([]);
  });

  it('compares the plan with a hotter fortnight and fewer hands, and the draft stays', async () => {
    const before = (await plan()).draft!.seq;
    await page.getByRole('button', { name: 'What if …' }).click();
    await aside().getByLabel('Hotter by, °C').fill('6');
    await aside().getByLabel('Without').selectOption({ label: 'Jordi Puig' });
    await aside().getByRole('button', { name: 'Compare' }).click();
    await aside()
      .getByRole('row', { name: /^truck days/ })
      .waitFor();
    expect((await plan()).draft!.seq).toBe(before);
    await page.keyboard.press('Escape');
  });

  it('asks who could go to an urgent site today, and sends one of them', async () => {
    await page.getByRole('button', { name: 'Urgent stop …' }).click();
    await aside().getByLabel('Site').selectOption({ label: 'Quay entrance' });
    await aside().getByRole('button', { name: 'Who could go today?' }).click();
    await aside()
      .getByText(/there at \d\d:\d\d/)
      .first()
      .waitFor();
    await aside()
      .getByRole('button', { name: /^Send / })
      .first()
      .click();
    await page
      .getByRole('status')
      .getByText(/has Quay entrance on the round of today/)
      .waitFor();
    const { published } = await plan();
    const today = published.filter((round) => round.day === TODAY).flatMap((round) => round.stops);
    expect(today.map((stop) => stop.siteId)).toContain('S3');
  });

  it('enters who is ill, and the plan goes on without', async () => {
    await page.getByRole('button', { name: 'Somebody is off …' }).click();
    await aside().getByLabel('Who or what is off').selectOption({ label: 'Jordi Puig' });
    await aside().getByLabel('From').fill(TOMORROW);
    await aside().getByLabel('To', { exact: true }).fill(TOMORROW);
    await aside().getByRole('button', { name: 'Enter it and plan anew' }).click();
    await page.getByRole('status').getByText('Jordi Puig is off.').waitFor();
    await stage.server.running.planner.idle();
    await cell('technician2', TOMORROW).getByText('away').waitFor();
    const { draft } = await plan();
    expect(draft!.rounds.filter((one) => one.personId === 'technician2' && one.day === TOMORROW)).toEqual([]);
  });

  it('passes axe with a stop open at both sizes, fits the width, and has no target too small for a thumb', async () => {
    const { name, round } = await someStop();
    await cell(round.personId, round.day)
      .getByRole('button', { name: new RegExp(name) })
      .click();
    await aside()
      .getByText(/^Safe (until|beyond)/)
      .waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.setViewportSize(PHONE);
    expect(await axeViolations(page)).toEqual([]);
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(PHONE.width);
    expect(await smallTargets(page, '.board')).toEqual([]);
  });
});
