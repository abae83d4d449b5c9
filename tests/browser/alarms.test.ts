import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { OutboxEntry } from '../../src/domain/notify.js';
import { axeViolations, DESK, PHONE, type Stage, smallTargets, startStage } from './browser.js';
import { NOW_MS } from './garden.js';

const GIVEN_UP: OutboxEntry = {
  id: 'out-1',
  addressId: 'hook',
  channel: 'webhook',
  topic: 'stop-S1',
  subject: { code: 'alarm.node_silent.found', params: { pot: 'Bay tree, left', sinceMs: NOW_MS } },
  body: [],
  withdrawal: false,
  urgent: false,
  createdMs: NOW_MS - 3_600_000,
  notBeforeMs: NOW_MS - 3_600_000,
  expiresMs: NOW_MS + 86_400_000,
  attempts: 8,
  state: 'dead',
  lastError: 'the far side answered 410',
};

describe('the dispatcher looks after the alarms', () => {
  let stage: Stage;
  let page: Page;
  beforeAll(async () => {
    stage = await startStage();
    await stage.server.store.commit({
      atMs: NOW_MS,
      actor: { kind: 'command', id: 'test' },
      writes: [
        {
          kind: 'address',
          row: {
            id: 'hook',
            personId: null,
            channel: 'webhook',
            target: 'https://hooks.example/alerts',
            secret: 'x',
            createdMs: NOW_MS,
            endedMs: null,
          },
        },
        { kind: 'outbox', row: GIVEN_UP },
      ],
      cursor: null,
    });
    page = await stage.openAs('dispatcher', 'alarms', { size: DESK });
    await page.getByText('If nobody comes').first().waitFor();
  });
  afterAll(async () => {
    await stage.close();
  });

  it('reads how the alarms did, against the marks of the standards', async () => {
    await page.getByText(/Alarms called \d+ times?: /).waitFor();
    const row = page.getByRole('row', { name: /most within ten minutes/ });
    await row.getByText('at most 10').waitFor();
    await row.getByText('within', { exact: true }).waitFor();
  });

  it('lets an alarm of one pot behave otherwise, by keyboard, and finds the change on record', async () => {
    await page.getByRole('button', { name: 'Set own numbers' }).focus();
    await page.keyboard.press('Enter');
    const form = page.getByRole('form', { name: 'Own numbers' });
    await form.getByLabel('Alarm').selectOption({ label: 'Leak' });
    await form.getByLabel('Site').selectOption({ label: 'Heron roof' });
    await form.getByLabel('Pot', { exact: true }).selectOption({ label: 'Lemon tree' });
    await form.getByLabel('Raised after, minutes').fill('120');
    await form.getByLabel('Why').fill('The lift hall is mopped on Mondays.');
    await page.keyboard.press('Enter');
    await page.getByRole('status').getByText('Leak at Lemon tree behaves otherwise now.').waitFor();
    await page.getByText('raised after 2 h').waitFor();
    await page.getByText(/Nil Costa, .*The lift hall is mopped on Mondays\./).waitFor();
    await page.getByRole('button', { name: 'Set it here: Leak, Lemon tree' }).click();
    await form.getByLabel('Why').fill('Not any more.');
    await form.getByRole('button', { name: /^Take back/ }).click();
    await page.getByText('as everywhere again', { exact: true }).waitFor();
  });

  it('sends again what could not be delivered', async () => {
    await page.getByText('the far side answered 410').waitFor();
    await page.getByRole('button', { name: /^Send again: Bay tree, left/ }).click();
    await page.getByText('Everything that was to be told was delivered.').waitFor();
    const { state, id } = (await stage.server.store.notify.entry('out-1'))!;
    expect({ state, id }).toEqual({ state: 'waiting', id: 'out-1' });
  });

  it('has no rule of accessibility against it with the form open, and no target too small for a thumb', async () => {
    await page.getByRole('button', { name: 'Set own numbers' }).click();
    for (const size of [DESK, PHONE]) {
      await page.setViewportSize(size);
      expect(await axeViolations(page)).toEqual([]);
      expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(size.width);
    }
    expect(await smallTargets(page, '.alarms')).toEqual([]);
  });
});
