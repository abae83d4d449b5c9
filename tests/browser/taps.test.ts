import type { Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { PHONE, type Stage, smallTargets, startStage } from './browser.js';
import { NOW_MS } from './garden.js';

const REASONS = [
  ['no way in', 'no_access'],
  ['no water left', 'no_water'],
  ['something is damaged', 'damaged'],
  ['something else', 'other'],
  // Last: the task ends with it.
  ['not needed', 'not_needed'],
] as const;

describe('the taps that a record takes', () => {
  let stage: Stage;
  let taps = 0;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  const tap = async (what: Locator): Promise<void> => {
    taps++;
    await what.tap();
  };

  /** Plans a stop, and opens the technician's round with it next. */
  async function roundAt(siteId: string, day = '2026-08-31'): Promise<Page> {
    const dispatcher = await stage.server.loginAs('dispatcher');
    await dispatcher.post('/api/v1/rounds/stops', { siteId, technicianId: 'technician', day, position: null });
    taps = 0;
    const page = await stage.openAs('technician', 'round', { size: PHONE, touch: true });
    await page.getByRole('button', { name: 'Done here' }).waitFor();
    return page;
  }

  const lastVisitAt = async (siteId: string) => {
    const filter = { containerId: null, siteId, fromMs: NOW_MS - 1, toMs: NOW_MS + 24 * 3_600_000 };
    const visits = await stage.server.store.work.visits({ kind: 'all' }, filter);
    return visits.toSorted((a, b) => a.happenedMs - b.happenedMs).at(-1);
  };

  it('are two where all went as planned', async () => {
    const page = await roundAt('S4');
    await tap(page.getByRole('button', { name: 'Done here' }));
    await tap(page.getByRole('button', { name: /^Record it/ }));
    await page
      .getByText('All 1 stops done.')
      .or(page.getByText(/All .* done/))
      .first()
      .waitFor();
    await expect.poll(async () => (await lastVisitAt('S4'))?.actions.every((one) => one.exception === null)).toBe(true);
    expect(taps).toBe(2);
    await page.close();
  });

  it('are four with a note where nothing could be done at a stop of several pots', async () => {
    const page = await roundAt('S1');
    await tap(page.getByRole('button', { name: 'Done here' }));
    await tap(page.getByRole('button', { name: 'Nothing could be done here' }));
    expect(await smallTargets(page, 'dialog')).toEqual([]);
    await tap(page.getByRole('button', { name: 'no way in' }));
    await page.keyboard.type('Gate chained');
    await tap(page.getByRole('button', { name: /^Record it/ }));
    const visit = async () => {
      const found = await lastVisitAt('S1');
      return { note: found?.note, reasons: [...new Set(found?.actions.map((action) => action.exception))] };
    };
    await expect.poll(visit).toEqual({ note: 'Gate chained', reasons: ['no_access'] });
    expect((await lastVisitAt('S1'))?.actions.length).toBeGreaterThan(1);
    expect(taps).toBe(4);
  });

  for (const [words, exception] of REASONS) {
    it(`are four with a note for “${words}”`, async () => {
      stage.clock.advance(60_000);
      const page = await roundAt('S2');
      await tap(page.getByRole('button', { name: 'Done here' }));
      await tap(page.getByRole('button', { name: 'Could not: Refill, Lemon tree' }));
      await tap(page.getByRole('button', { name: words }));
      await page.keyboard.type('As agreed on the phone');
      await tap(page.getByRole('button', { name: /^Record it/ }));
      await page.getByRole('dialog').waitFor({ state: 'detached' });
      const expected = { exception, note: 'As agreed on the phone', litres: null };
      const lemon = async () => (await lastVisitAt('S2'))?.actions.find((action) => action.containerId === 'C4');
      await expect.poll(lemon).toMatchObject(expected);
      expect(taps).toBe(4);
      await page.close();
    });
  }
});
