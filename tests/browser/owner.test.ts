import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeViolations, DESK, PHONE, type Stage, smallTargets, startStage } from './browser.js';

describe('what an owner looks after in the settings', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  it('are people: invited by a link that is shown once, signed out everywhere, given another link', async () => {
    const phone = await stage.server.loginAs('technician');
    const page = await stage.openAs('owner', 'settings', { size: DESK });
    const people = page.getByRole('region', { name: 'People' });
    const form = people.getByRole('form', { name: 'Invite somebody' });
    await form.getByLabel('Name', { exact: true }).fill('Marta Roig');
    await form.getByLabel('Log-in name').fill('marta');
    await form.getByRole('button', { name: 'Invite somebody' }).click();
    await people.getByText('Link for Marta Roig').waitFor();
    const link = await people.locator('.shown-once-text').textContent();
    expect(link).toMatch(/#\/welcome\//);
    await people.getByText('technician · no second factor').first().waitFor();

    const ana = people.getByRole('listitem').filter({ hasText: 'Ana Ferrer' });
    await ana.getByText('More …').click();
    expect((await phone.get('/api/v1/session')).status).toBe(200);
    await ana.getByRole('button', { name: 'Sign out on every device' }).click();
    await page.getByText('Ana Ferrer is signed out on every device.').waitFor();
    expect((await phone.get('/api/v1/session')).status).toBe(401);
    await ana.getByRole('button', { name: 'Make a link for a new password' }).click();
    await people.getByText('Link for Ana Ferrer').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect(await smallTargets(page, '.settings')).toEqual([]);
    await page.setViewportSize(PHONE);
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(PHONE.width);
  });

  it('are programs: a key for some of it and for a time, which opens just that until it is ended', async () => {
    const page = await stage.openAs('owner', 'settings', { size: DESK });
    const programs = page.getByRole('region', { name: 'Programs' });
    await programs.getByText('No program has a key.').waitFor();
    await programs.getByLabel('What it is for').fill('Wall display');
    await programs.getByLabel('How long it works').selectOption({ label: '30 days' });
    await programs.getByRole('button', { name: 'Make a key' }).click();
    const secret = (await programs.locator('.shown-once-text').textContent()) ?? '';
    const ask = async (path: string): Promise<number> =>
      (await fetch(`${stage.server.url}/api/v1${path}`, { headers: { authorization: `Bearer ${secret}` } })).status;
    expect(await ask('/containers')).toBe(200);
    expect(await ask('/alarms')).toBe(403);
    await programs.getByRole('button', { name: 'End the key “Wall display”' }).click();
    await page.getByText('The key “Wall display” has ended.').waitFor();
    expect(await ask('/containers')).toBe(401);
  });

  it('are changes, by person and by what was changed', async () => {
    const dispatcher = await stage.server.loginAs('dispatcher');
    await dispatcher.put('/api/v1/sites/S4/access', { notes: 'After 10:00', contacts: [] });
    const account = { id: 'A9', name: 'Old Mill', dryRisk: 0.05 };
    expect((await dispatcher.post('/api/v1/accounts', account)).status).toBe(201);
    const page = await stage.openAs('owner', 'settings', { size: DESK });
    const changes = page.getByRole('region', { name: 'What people changed' });
    await changes.getByText('The last hundred changes, before and after').click();
    await changes.getByLabel('By whom').selectOption({ label: 'Nil Costa' });
    await changes.getByLabel('Only of this number').fill('A9');
    await changes.getByText(/Nil Costa:.*account A9/).waitFor();
    await changes.getByText('Old Mill').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await changes.getByLabel('By whom').selectOption({ label: 'Tere Mas' });
    await changes.getByText('Nothing like that was changed.').waitFor();
  });

  it('are the data of a client: a file of all that is kept, and erasure once the name was typed', async () => {
    const dispatcher = await stage.server.loginAs('dispatcher');
    await dispatcher.post('/api/v1/accounts', { id: 'A8', name: 'Quince Yard', dryRisk: 0.05 });
    const page = await stage.openAs('owner', 'settings', { size: DESK });
    const clients = page.getByRole('region', { name: 'What is kept about a client' });
    await clients.getByLabel('Client account').selectOption({ label: 'Larkspur House' });
    const saved = page.waitForEvent('download');
    await clients.getByRole('link', { name: 'Save all of it as a file' }).click();
    expect((await saved).suggestedFilename()).toBe('A1.json');
    const erase = clients.getByRole('button', { name: 'Erase it for good' });
    expect(await erase.isDisabled()).toBe(true);
    await clients.getByLabel('Type Larkspur House to show that you mean it').fill('Larkspur');
    expect(await erase.isDisabled()).toBe(true);
    await clients.getByLabel('Type Larkspur House to show that you mean it').fill('Larkspur House');
    expect(await axeViolations(page)).toEqual([]);
    await erase.click();
    // Its pots still stand, and somebody would be sent to them.
    await page.getByText(/containers of account “A1” still stand/).waitFor();

    await clients.getByLabel('Client account').selectOption({ label: 'Quince Yard' });
    expect(await erase.isDisabled()).toBe(true);
    await clients.getByLabel('Type Quince Yard to show that you mean it').fill('Quince Yard');
    await erase.click();
    await page.getByText('Quince Yard is erased.').waitFor();
    const accounts = await stage.server.store.registry.accounts({ kind: 'all' });
    expect(accounts.map((account) => account.name)).not.toContain('Quince Yard');
  });

  it('are said in Spanish to whoever prefers it', async () => {
    const owner = await stage.server.loginAs('owner');
    await owner.put('/api/v1/preferences', { language: 'es', units: owner.person.units });
    const page = await stage.openAs('owner', 'settings', { size: PHONE });
    for (const name of ['Personas', 'Programas', 'Qué ha cambiado cada persona', 'Qué se guarda de un cliente']) {
      await page.getByRole('region', { name }).waitFor();
    }
    await page.getByText('técnico · sin segundo factor').first().waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(PHONE.width);
  });

  it('and are nobody else’s', async () => {
    const page = await stage.openAs('dispatcher', 'settings', { size: DESK });
    await page.getByRole('heading', { name: 'Crew' }).waitFor();
    expect(await page.getByRole('region', { name: 'People' }).count()).toBe(0);
  });
});
