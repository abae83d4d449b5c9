import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeViolations, type Stage, startStage } from './browser.js';
import { gardenWrites } from './garden.js';

/** One grey pixel; a browser stretches it over the tile. */
const TILE = Buffer.from('R0lGODlhAQABAIAAAMzMzAAAACwAAAAAAQABAAACAkQBADs=', 'base64');

describe('the stops of the day on a map', () => {
  const asked: string[] = [];
  let tiles: Server;
  let origin: string;
  let stage: Stage;
  beforeAll(async () => {
    tiles = createServer((request, response) => {
      asked.push(request.url ?? '');
      response.writeHead(200, { 'content-type': 'image/gif' }).end(TILE);
    });
    await new Promise<void>((resolve) => tiles.listen(0, '127.0.0.1', resolve));
    origin = `http://127.0.0.1:${(tiles.address() as AddressInfo).port}`;
    stage = await startStage(gardenWrites(), {
      BRIMLINE_MAP_TILES: `${origin}/{z}/{x}/{y}.gif`,
      BRIMLINE_MAP_ATTRIBUTION: 'Survey of the <Coast>',
    });
  });
  afterAll(async () => {
    await stage.close();
    await new Promise((resolve) => tiles.close(resolve));
  });

  it('come with tiles of the configured host and no other, and lead to the sheet', async () => {
    const page = await stage.openAs('dispatcher', 'today');
    await page.getByText('Survey of the <Coast>').waitFor();
    const marks = page.locator('.stops-map .map-mark');
    await marks.first().waitFor();
    await page.getByRole('button', { name: /^1: / }).focus();
    await page.keyboard.press('Enter');
    expect(await page.evaluate('document.activeElement.id')).toMatch(/^stop-S/);
    expect(asked.length).toBeGreaterThan(0);
    expect(asked.every((path) => /^\/\d+\/\d+\/\d+\.gif$/.test(path))).toBe(true);
    const policy = (await fetch(stage.server.url)).headers.get('content-security-policy') ?? '';
    expect(/img-src ([^;]*)/.exec(policy)?.[1]).toBe(`'self' data: blob: ${origin}`);
    expect(await axeViolations(page)).toEqual([]);
  });
});
