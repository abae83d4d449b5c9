import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { PHONE, type Stage, startStage } from './browser.js';
import { NOW_MS } from './garden.js';
import { type Line, startLine } from './line.js';

describe('a technician without a signal', () => {
  let stage: Stage;
  let line: Line;
  beforeAll(async () => {
    stage = await startStage();
    line = await startLine(stage.server.url);
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
    await line.close();
    await stage.close();
  });

  const visitsOfToday = () =>
    stage.server.store.work.visits(
      { kind: 'all' },
      { containerId: null, siteId: null, fromMs: NOW_MS - 1, toMs: NOW_MS + 3_600_000 },
    );

  it('closes the page, opens it again, finds the round, records a stop, and sends it once the line is back', async () => {
    const first = await stage.openAs('technician', 'round', { size: PHONE, touch: true, address: line.url });
    const phone = first.context();
    await first.getByRole('heading', { name: 'Larkspur terrace' }).waitFor();
    // The page's files are kept once the worker has taken the page over.
    await first.evaluate('navigator.serviceWorker.ready');
    await first.reload();
    await first.getByRole('heading', { name: 'Larkspur terrace' }).waitFor();
    await line.cut();
    await first.close();

    const second = await phone.newPage();
    await second.goto(`${line.url}/#/round`);
    await second.getByRole('heading', { name: 'Larkspur terrace' }).waitFor();
    await second.getByText('no connection').waitFor();
    await second.getByText('Ring at the side gate').first().waitFor();
    await second.getByRole('button', { name: 'Done here' }).tap();
    await second.getByRole('button', { name: /^Record it/ }).tap();
    await second.getByText('1 visit waits for a signal').waitFor();
    await second.getByRole('heading', { name: 'Quay pool deck' }).waitFor();
    await second.close();
    expect(await visitsOfToday()).toEqual([]);

    const third = await phone.newPage();
    await third.goto(`${line.url}/#/round`);
    await third.getByText('1 of 2 stops done').waitFor();
    await third.getByText('1 visit waits for a signal').waitFor();
    await line.mend();
    await third.getByText('1 visit waits for a signal').waitFor({ state: 'detached' });
    const visits = await visitsOfToday();
    expect(visits.map((visit) => visit.siteId)).toEqual(['S1']);
    expect(visits[0]!.technicianId).toBe('technician');
    await third.getByText('1 of 2 stops done').waitFor();
  });
});
