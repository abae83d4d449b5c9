import type { CDPSession, Page, Worker } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { PHONE, type Stage, startStage } from './browser.js';

/*
 * Headless Chromium neither subscribes to a push service nor shows notifications. So what a push service would hand to
 * the browser is handed to it over the DevTools protocol, and a shelf within the worker stands for the phone's screen;
 * what the server sends is decrypted in the tests of web push.
 */
const SHELF = `
  self.shelf = new Map();
  self.registration.showNotification = async (title, { body, tag }) => {
    self.shelf.set(tag, { title, body, tag, close: () => self.shelf.delete(tag) });
  };
  self.registration.getNotifications = async ({ tag }) => [...self.shelf.values()].filter((one) => one.tag === tag);
`;
const ON_SHELF = "[...self.shelf.values()].map(({ tag, title, body }) => [tag, title, body].join(' | '))";
/** Between the delivery and the worker's answer lies another process. */
const PATIENCE = { timeout: 10_000 };

describe('what is pushed to a phone', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(() => stage.close());

  async function registrationOf(
    page: Page,
  ): Promise<{ readonly session: CDPSession; readonly registrationId: string }> {
    const session = await page.context().newCDPSession(page);
    const registered = new Promise<string>((resolve) => {
      session.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
        const [first] = registrations;
        if (first !== undefined) resolve(first.registrationId);
      });
    });
    await session.send('ServiceWorker.enable');
    return { session, registrationId: await registered };
  }

  async function workerOf(page: Page): Promise<Worker> {
    const [known] = page.context().serviceWorkers();
    return known ?? page.context().waitForEvent('serviceworker');
  }

  it('is shown once a topic, the newer in the place of the older, and is gone when it is moot', async () => {
    const page = await stage.openAs('technician', 'round', { size: PHONE, touch: true });
    const origin = new URL(page.url()).origin;
    await page.evaluate('navigator.serviceWorker.ready.then(() => true)');
    const worker = await workerOf(page);
    await worker.evaluate(SHELF);
    const { session, registrationId } = await registrationOf(page);
    const deliver = (message: object) =>
      session.send('ServiceWorker.deliverPushMessage', { origin, registrationId, data: JSON.stringify(message) });
    const shown = () => worker.evaluate(ON_SHELF) as Promise<readonly string[]>;
    const alert = { id: '1', topic: 'stop:S1', withdrawn: false, title: 'Larkspur', body: '18 L', link: null };

    await deliver(alert);
    await expect.poll(shown, PATIENCE).toEqual(['stop:S1 | Larkspur | 18 L']);
    await deliver({ ...alert, id: '2', body: '24 L' });
    await expect.poll(shown, PATIENCE).toEqual(['stop:S1 | Larkspur | 24 L']);
    await deliver({ ...alert, id: '3', topic: 'stop:S4', title: 'Quay' });
    await expect.poll(async () => (await shown()).length, PATIENCE).toBe(2);
    await deliver({ ...alert, id: '4', withdrawn: true });
    await expect.poll(shown, PATIENCE).toEqual(['stop:S4 | Quay | 18 L']);
  });
});
