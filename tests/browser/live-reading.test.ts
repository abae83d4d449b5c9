import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeCredential } from '../../src/app/people/credentials.js';
import { HOUR_MS } from '../../src/domain/local-day.js';
import { PHONE, type Stage, startStage } from './browser.js';
import { levelMmOf, nodeOf } from './garden.js';

const INSTALLER = { personId: 'installer', role: 'installer', accountId: null } as const;

describe('a reading on its way from the node to the open page', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  /** Publishes one pack as the node itself would, and resolves when the broker has acknowledged it. */
  async function publish(containerId: string, temperatureC: number): Promise<void> {
    stage.clock.advance(HOUR_MS / 2);
    await say(containerId, temperatureC, levelMmOf(containerId, stage.clock.nowMs()));
  }

  async function say(containerId: string, temperatureC: number, levelMm: number): Promise<void> {
    const nodeId = nodeOf(containerId);
    const node = { principalId: nodeId, kind: 'node', siteId: null, overlapHours: 0 } as const;
    const { secret } = await makeCredential(stage.server.app, INSTALLER, node, Date.now());
    const client = await connectAsync(stage.server.mqttUrl, { clientId: nodeId, username: nodeId, password: secret });
    const pack = [
      { bn: `${nodeId}/`, bt: stage.clock.nowMs() / 1000, n: 'level', u: 'm', v: levelMm / 1000 },
      { n: 'temperature', u: 'Cel', v: temperatureC },
    ];
    await client.publishAsync(`nodes/${nodeId}/readings`, JSON.stringify(pack), { qos: 1 });
    await client.endAsync();
  }

  it('changes the container’s page with no reload', async () => {
    const page = await stage.openAs('dispatcher', 'containers/C5');
    await page.getByRole('heading', { name: 'Grasses, north' }).waitFor();
    await page.evaluate('window.sinceBefore = true');
    expect(await page.getByText('31.7 °C').count()).toBe(0);

    await publish('C5', 31.7);

    await page.getByText('Soil moisture 30 %, 31.7 °C').waitFor();
    await page.getByText('Read Mon 31 Aug, 07:11').waitFor();
    expect(await page.evaluate('window.sinceBefore')).toBe(true);
  });

  it('takes a silent pot off the dispatcher’s list of unknown ones, with no reload', async () => {
    const page = await stage.openAs('dispatcher', 'today');
    const unknown = page.getByRole('region', { name: 'Nobody knows' });
    await unknown.getByRole('link', { name: 'Bay tree, left' }).waitFor();
    await page.evaluate('window.sinceBefore = true');

    await publish('C6', 24);

    await unknown.getByText('Every pot is known.').waitFor();
    await page
      .getByRole('region', { name: 'Can wait' })
      .getByRole('link', { name: /^Bay tree, left/ })
      .waitFor();
    expect(await page.evaluate('window.sinceBefore')).toBe(true);
  });

  it('follows a dispatcher who says what an event really was, and who takes that back', async () => {
    const page = await stage.openAs('dispatcher', 'containers/C7');
    await page.getByText('What happened to the water').click();
    const newest = page.locator('.event-lines > li').first();
    await newest.locator('strong', { hasText: 'Refill' }).waitFor();
    await newest.locator('summary').click();
    await newest.getByLabel('What it was').selectOption('rain');
    await newest.getByLabel(/How much/).fill('3.5');
    await newest.getByRole('button', { name: 'Save' }).click();
    await newest.locator('strong', { hasText: 'Rain' }).waitFor();
    await newest.getByText('3.5 L').waitFor();
    await newest.getByText(/Corrected by .* before: Refill/).waitFor();
    await newest.getByRole('button', { name: 'Undo the correction' }).click();
    await newest.locator('strong', { hasText: 'Refill' }).waitFor();
    expect(await newest.getByText(/Corrected by/).count()).toBe(0);
  });

  it('shows a technician the litres as they rise, and warns where they do not', async () => {
    const dispatcher = await stage.server.loginAs('dispatcher');
    const day = '2026-08-31';
    await dispatcher.post('/api/v1/rounds/stops', { siteId: 'S1', technicianId: 'technician', day, position: null });
    const page = await stage.openAs('technician', 'round', { size: PHONE, touch: true });
    const pot = (name: string) => page.locator('.next-stop .work-pot').filter({ hasText: name });
    const olive = pot('Olive by the stairs');
    const trough = pot('Long trough');
    for (const one of [olive, trough]) {
      await one.getByText(/While filling/).click();
      await one.getByRole('button', { name: 'Ask it to report now' }).click();
      await one.getByText('asked to report fast until').waitFor();
    }
    const levelMm = levelMmOf('C1', stage.clock.nowMs());
    const troughMm = levelMmOf('C2', stage.clock.nowMs());

    for (const [poured, litres] of [
      [20, '4'],
      [50, '10'],
    ] as const) {
      stage.clock.advance(50_000);
      await say('C1', 24, levelMm + poured);
      await olive.getByText(new RegExp(`^Risen by .*\\smm: ${litres}[.\\d]*\\sL of`)).waitFor();
      await say('C2', 24, troughMm);
    }

    await trough.getByRole('alert').getByText('The level does not rise.', { exact: false }).waitFor();
    expect(await olive.getByRole('alert').count()).toBe(0);
  });
});
