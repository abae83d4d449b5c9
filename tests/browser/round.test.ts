import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { RoundStop } from '../../src/domain/work.js';
import { PHONE, type Stage, smallTargets, startStage } from './browser.js';
import { NOW_MS } from './garden.js';

describe('the technician’s round on a phone', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
    const dispatcher = await stage.server.loginAs('dispatcher');
    for (const siteId of ['S1', 'S4', 'S2']) {
      const answer = await dispatcher.post('/api/v1/rounds/stops', {
        siteId,
        technicianId: 'technician',
        day: '2026-08-31',
        position: null,
      });
      expect((answer.body as RoundStop).siteId).toBe(siteId);
    }
  });
  afterAll(async () => {
    await stage.close();
  });

  const openRound = (): Promise<Page> => stage.openAs('technician', 'round', { size: PHONE, touch: true });

  it('shows the next stop with the way in, the place of each pot, the litres and the cautions', async () => {
    const page = await openRound();
    const next = page.getByRole('region', { name: 'Larkspur terrace' });
    await next.getByText('Ring at the side gate').waitFor();
    await next.getByText('left of the lower step').waitFor();
    await next.getByText('Fill 23 L').waitFor();
    await next.getByText(/backflow preventer/).waitFor();
    await page.getByText('0 of 3 stops done').waitFor();
  });

  it('has no target under 44 px, on the round and in the sheet', async () => {
    const page = await openRound();
    await page.getByRole('button', { name: 'Done here' }).waitFor();
    expect(await smallTargets(page, 'main')).toEqual([]);
    await page.getByRole('button', { name: 'Done here' }).tap();
    await page.getByRole('dialog').waitFor();
    expect(await smallTargets(page, 'dialog')).toEqual([]);
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(PHONE.width);
  });

  it('records a stop in two taps, as planned', async () => {
    const page = await openRound();
    await page.getByRole('button', { name: 'Done here' }).tap();
    await page.getByRole('button', { name: /^Record it/ }).tap();
    await page.getByText('1 of 3 stops done').waitFor();
    await page.getByRole('heading', { name: 'Quay pool deck' }).waitFor();

    const visits = await stage.server.store.work.visits(
      { kind: 'all' },
      { containerId: 'C1', siteId: null, fromMs: NOW_MS - 1, toMs: NOW_MS + 3_600_000 },
    );
    expect(visits).toHaveLength(1);
    const refill = visits[0]!.actions.find((action) => action.containerId === 'C1');
    expect(refill).toMatchObject({ work: 'refill', litres: 23, exception: null });
    expect(refill!.taskId).not.toBeNull();
  });

  it('works on when the signal goes, and sends once it is back', async () => {
    const page = await openRound();
    await page.getByRole('heading', { name: 'Quay pool deck' }).waitFor();
    await page.context().setOffline(true);
    await page.getByRole('button', { name: 'Done here' }).tap();
    await page.getByLabel('Poured into Herb trough').fill('19,5');
    await page.getByRole('button', { name: /^Record it/ }).tap();
    await page.getByText('1 visit waits for a signal').waitFor();
    await page.getByText('2 of 3 stops done').waitFor();
    expect(await visitsAt('S4')).toEqual([]);

    await page.context().setOffline(false);
    await page.reload();
    await page.getByText('2 of 3 stops done').waitFor();
    await page.getByText('1 visit waits for a signal').waitFor({ state: 'detached' });
    const sent = await visitsAt('S4');
    expect(sent).toHaveLength(1);
    expect(sent[0]!.actions).toMatchObject([{ containerId: 'C8', work: 'refill', litres: 19.5 }]);
  });

  it('speaks Spanish to whoever prefers it, numbers and dates as the language writes them', async () => {
    const page = await stage.openAs('technician', 'settings', { size: PHONE, touch: true });
    await page.getByLabel('Español').check();
    await page.getByRole('heading', { name: 'Ajustes' }).waitFor();
    await page.goto(`${stage.server.url}/#/round`);
    await page.getByRole('heading', { name: /^Su ronda lunes, 31 de agosto/ }).waitFor();
    await page.getByText('Próxima parada').waitFor();
    await page.getByText('Por qué hoy').first().click();
    await page.getByText(/Consume 3,2\sL\/d; quedan/).waitFor();
    await page.getByText(/no es potable/).waitFor();
    expect(await page.evaluate('document.documentElement.lang')).toBe('es');
    await page.goto(`${stage.server.url}/#/settings`);
    await page.getByLabel('English').check();
    await page.getByRole('heading', { name: 'Settings' }).waitFor();
  });

  it('takes an exception with a reason and a note', async () => {
    const page = await openRound();
    await page.getByRole('heading', { name: 'Heron roof' }).waitFor();
    await page.getByRole('button', { name: 'Done here' }).tap();
    await page.getByRole('button', { name: 'Could not: Refill, Lemon tree' }).tap();
    await page.getByRole('button', { name: 'no way in' }).tap();
    await page.getByRole('textbox', { name: /^Note/ }).fill('Lift out of order');
    await page.getByRole('button', { name: /^Record it/ }).tap();
    await page.getByText('All 3 stops done.').waitFor();
    const sent = await visitsAt('S2');
    expect(sent[0]!.actions).toMatchObject([
      { containerId: 'C4', litres: null, exception: 'no_access', note: 'Lift out of order' },
    ]);
  });

  function visitsAt(siteId: string) {
    return stage.server.store.work.visits(
      { kind: 'all' },
      { containerId: null, siteId, fromMs: NOW_MS - 1, toMs: NOW_MS + 3_600_000 },
    );
  }
});
