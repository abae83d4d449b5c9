import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { codeAt } from '../../src/app/people/totp.js';
import { type Stage, startStage } from './browser.js';

const PASSWORD = 'a few words in a row';

describe('the way in', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  it('leads from the link of an invitation to a password, a second factor, and a log-in with its code', async () => {
    const owner = await stage.server.loginAs('owner');
    const added = await owner.post('/api/v1/people', { name: 'Nia', login: 'nia', role: 'dispatcher', invite: true });
    const { link } = (added.body as { invitation: { link: string } }).invitation;

    const page = await stage.open();
    await page.goto(link);
    await page.getByText('You are Nia, and your log-in name is nia.').waitFor();
    await page.getByLabel('New password').fill(PASSWORD);
    await page.getByLabel('The same once more').fill('something else here');
    await page.getByRole('button', { name: 'Set the password' }).click();
    await page.getByText('The two passwords are not the same.').waitFor();
    await page.getByLabel('The same once more').fill(PASSWORD);
    await page.getByRole('button', { name: 'Set the password' }).click();
    await page.getByText('The password is set. Sign in with it.').waitFor();
    await page.goto(link);
    await page.reload();
    await page.getByText('This link is over').waitFor();
    await page.getByRole('link', { name: 'To the log-in' }).click();

    await page.getByLabel('Log-in name').fill('nia');
    await page.getByLabel('Password').fill(PASSWORD);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('link', { name: 'Settings' }).click();
    await page.getByLabel('Password', { exact: true }).fill(PASSWORD);
    await page.getByRole('button', { name: 'Set it up' }).click();
    const qr = page.getByRole('img', { name: 'QR code for the app on your phone' });
    await qr.waitFor();
    expect(await qr.evaluate((image): unknown => Reflect.get(image, 'naturalWidth'))).toBeGreaterThan(0);
    const secret = (await page.locator('code').textContent()) ?? '';
    const code = page.getByLabel('Code from your phone, or a recovery code');
    await code.fill(codeAt(secret, Date.now() - 30_000));
    await page.getByRole('button', { name: 'Turn it on' }).click();
    await page.getByText('Keep these recovery codes').waitFor();
    expect(await page.locator('li code').count()).toBe(10);
    await page.getByRole('button', { name: 'I have kept them' }).click();
    await page.getByText('It is on; 10 recovery codes left.').waitFor();
    await page.getByRole('button', { name: 'Sign out' }).click();

    await page.getByLabel('Log-in name').fill('nia');
    await page.getByLabel('Password').fill(PASSWORD);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByText('The password is right. Now the code from your phone.').waitFor();
    await code.fill(codeAt(secret, Date.now()));
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('heading', { level: 1 }).waitFor();
    await page.getByRole('link', { name: 'Today' }).first().waitFor();
  });
});
