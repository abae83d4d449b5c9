import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeViolations, PHONE, type Stage, smallTargets, startStage } from './browser.js';
import { CONTAINERS, gardenWrites, NOW_MS, nodeOf } from './garden.js';

describe('an installer beside a pot', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await startStage();
  });
  afterAll(async () => {
    await stage.close();
  });

  it('adds a pot by shape and size, puts a new node on it, and pours its table jug by jug', async () => {
    const page = await stage.openAs('installer', 'commission', { size: PHONE, touch: true });
    await page.getByRole('link', { name: 'Add a pot' }).tap();
    await page.getByLabel('Site', { exact: true }).selectOption({ label: 'Quay entrance' });
    await page.getByLabel('Name of the pot').fill('Fig in the corner');
    const sizes = { 'Across at the floor': 300, 'Across at the plate': 340, 'Floor to plate': 150 };
    for (const [label, value] of Object.entries({ ...sizes, 'Floor to overflow': 120, 'Floor to wick’s foot': 10 })) {
      await page.getByLabel(`${label} (mm)`).fill(String(value));
    }
    await page.getByText(/It would hold 9\.\d\sL|It would hold 1\d\sL/).waitFor();
    await page.getByRole('button', { name: 'Add the pot and go on' }).tap();
    await page.getByRole('heading', { name: 'Fig in the corner', level: 1 }).waitFor();
    await page.getByText('not yet proved').first().waitFor();

    await page.getByLabel('Number on the node').fill('N-77');
    await page.getByText('N-77 is new here').waitFor();
    await page.getByLabel('Speaks through').selectOption({ label: 'a gateway that is new here' });
    await page.getByLabel('Number on the gateway').fill('GW-5');
    await page.getByRole('button', { name: 'Put the node on the pot' }).tap();
    await page.getByText('Put this password into GW-5').waitFor();
    await page.getByText('Put this password into N-77').waitFor();
    await page.getByText('through GW-5').waitFor();
    expect(await stage.server.store.registry.node('N-77')).toMatchObject({ gatewayId: 'GW-5' });
    expect(await stage.server.store.people.credential('GW-5')).toMatchObject({ kind: 'gateway' });
    const assigned = await stage.server.store.registry.assignmentsOfNode('N-77');
    expect(assigned).toMatchObject([{ containerId: 'fig-in-the-corner', toMs: null, zeroMm: 0 }]);

    const jugs = [22, 43, 63, 82, 100, 117, 120, 120.4];
    for (const [index, level] of jugs.entries()) {
      await page.getByLabel('Poured (L)').fill(index === 3 ? '9' : '3');
      await page.getByLabel('Level now (mm)').fill(String(level));
      await page.getByRole('button', { name: 'Add this jug' }).tap();
    }
    // A jug that was counted three times is named, and nothing can be kept.
    await page.getByText(/Pour 4: 9\sL raised the level/).waitFor();
    expect(await page.getByRole('button', { name: 'Make it the pot’s table' }).first().isVisible()).toBe(false);
    for (const which of [8, 7, 6, 5, 4]) await page.getByRole('button', { name: `Take back jug ${which}` }).tap();
    for (const level of jugs.slice(3)) {
      await page.getByLabel('Poured (L)').fill('3');
      await page.getByLabel('Level now (mm)').fill(String(level));
      await page.getByRole('button', { name: 'Add this jug' }).tap();
    }
    await page.getByText(/The overflow lies at 1[12]\d\smm/).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect(await smallTargets(page, 'main')).toEqual([]);
    await page.getByRole('button', { name: 'Make it the pot’s table' }).first().tap();
    await page.getByText(/Poured .* in 8 jugs/).waitFor();
    const [record] = await stage.server.store.commissioning.pourRecords({ kind: 'all' }, 'fig-in-the-corner');
    expect(record?.pours.length).toBe(8);
  });

  it('changes a node days later, in the site’s own time, and history follows', async () => {
    const page = await stage.openAs('installer', 'commission/C9', { size: PHONE });
    await page.getByText('Node and gateway', { exact: true }).click();
    await page.getByLabel('Number on the node').fill('N-88');
    expect(await page.getByLabel('Speaks through').inputValue()).toBe('');
    await page.getByLabel('On this pot since').fill('2026-08-29T09:30');
    await page.getByRole('button', { name: 'Put it on in place of the other' }).click();
    await page.getByText('N-88 is on the pot.').waitFor();
    const rows = await stage.server.store.registry.assignmentsOfContainer({ kind: 'all' }, 'C9');
    // Half past nine in Madrid in summer.
    const atMs = Date.parse('2026-08-29T07:30:00Z');
    expect(rows.map(({ nodeId, fromMs, toMs }) => ({ nodeId, fromMs, toMs }))).toEqual([
      { nodeId: nodeOf('C9'), fromMs: expect.any(Number), toMs: atMs },
      { nodeId: 'N-88', fromMs: atMs, toMs: null },
    ]);
  });

  it('speaks Spanish to whoever prefers it', async () => {
    const installer = await stage.server.loginAs('installer');
    const { units } = installer.person;
    await installer.put('/api/v1/preferences', { language: 'es', units });
    const page = await stage.openAs('installer', 'commission/C8', { size: PHONE });
    await page.getByText('Prueba de la mecha').waitFor();
    await page.getByText('Litros de cada nivel').waitFor();
    await installer.put('/api/v1/preferences', { language: 'en', units });
  });
});

describe('two nodes that look swapped', () => {
  it('are shown with the evidence, and swapped back with one press', async () => {
    const sinceMs = NOW_MS - 4 * 86_400_000;
    const finding = (containerId: string, other: string) =>
      ({
        kind: 'finding',
        row: {
          id: `swap-${containerId}`,
          containerId,
          nodeId: nodeOf(containerId),
          kind: 'nodes_swapped',
          onsetMs: sinceMs,
          openedMs: NOW_MS - 86_400_000,
          closedMs: null,
          size: null,
          unit: null,
          heightMm: null,
          confidence: 0.9,
          severity: 'medium',
          evidence: [
            {
              code: 'finding.nodes_swapped.fits',
              params: {
                sinceMs,
                otherContainer: CONTAINERS.find((one) => one.id === other)!.name,
                thisContainer: CONTAINERS.find((one) => one.id === containerId)!.name,
              },
            },
          ],
          toConfirm: { code: 'finding.nodes_swapped.confirm', params: {} },
        },
      }) as const;
    const stage = await startStage(gardenWrites());
    try {
      await stage.server.store.commit({
        atMs: NOW_MS,
        actor: { kind: 'command', id: 'test' },
        writes: [finding('C6', 'C7'), finding('C7', 'C6')],
        cursor: null,
      });
      const page = await stage.openAs('installer', 'commission', { size: PHONE });
      const pair = page.getByRole('region', {
        name: 'These two nodes look swapped: Bay tree, left and Bay tree, right',
      });
      await pair.getByText(/fits Bay tree, right better than Bay tree, left/).waitFor();
      await pair.getByText('By the register N6 is in Bay tree, left and N7 in Bay tree, right.').waitFor();
      expect(await axeViolations(page)).toEqual([]);
      await pair.getByRole('button', { name: /^They are: swap them from/ }).click();
      await page.getByText(/are swapped; what follows/).waitFor();
      const rows = await stage.server.store.registry.assignmentsOfContainer({ kind: 'all' }, 'C6');
      expect(rows.at(-1)).toMatchObject({ nodeId: 'N7', fromMs: sinceMs, toMs: null });
    } finally {
      await stage.close();
    }
  });
});
