import { parseArgs } from 'node:util';
import type { Browser, Page } from 'playwright-core';
import type { TestServer } from '../support/server.js';
import { startFirm } from './desk/firm.js';
import type { Benchmark } from './run.js';

const HELP = `Usage: npm run --silent bench desk -- [--containers N] [--sites N] [--slower N]

Opens the dispatcher's screens of a whole server with that many containers in a real Chromium at 1440x900, and prints for
each screen, as CSV, milliseconds from the start of the navigation to the first paint, to the first paint of the data and to
the largest paint, and of what is typed and pressed there the worst input delay and the worst time to the next frame (Event
Timing; quicker than 16 ms is not told and printed as 0).

  --containers N  how many containers   (2000)
  --sites N       on how many sites     (250)
  --slower N      slows the page's processor down N times, as the browser's tools do  (1)
`;

const SIZE = { width: 1440, height: 900 };

interface Measured {
  readonly screen: string;
  readonly firstPaintMs: number;
  readonly dataPaintMs: number;
  readonly largestPaintMs: number;
  readonly inputDelayMs: number;
  readonly interactionMs: number;
}

interface Screen {
  readonly name: string;
  readonly hash: string;
  /** What is on the screen once its data is. */
  readonly data: string;
  readonly use: (page: Page) => Promise<void>;
}

const SCREENS: readonly Screen[] = [
  {
    name: 'today',
    hash: 'today',
    data: '.stop',
    use: async (page) => {
      await page.locator('.plan-fold summary').first().click();
      await page.locator('.plan-fold summary').nth(3).click();
    },
  },
  {
    name: 'containers',
    hash: 'containers',
    data: '.containers-row',
    use: async (page) => {
      await page.getByLabel('Search').pressSequentially('site 17 pot', { delay: 60 });
      await page.locator('#sort').selectOption('name');
      await page.locator('#search').fill('');
    },
  },
  {
    name: 'round',
    hash: 'round',
    data: '.card',
    use: async (page) => {
      await page.locator('.card').first().click();
      await page.keyboard.press('Escape');
    },
  },
  { name: 'alarms', hash: 'alarms', data: '.alarm-line, .empty-line', use: async () => {} },
];

/** Runs before the page's own scripts: notes when data first stood there, and every slow interaction. */
const WATCH = (selector: string): string => `
  window.seen = { data: 0, lcp: 0, delay: 0, took: 0 };
  const look = () => {
    if (window.seen.data === 0 && document.querySelector(${JSON.stringify(selector)}) !== null)
      requestAnimationFrame(() => setTimeout(() => { window.seen.data ||= performance.now(); }));
  };
  new MutationObserver(look).observe(document, { childList: true, subtree: true });
  new PerformanceObserver((list) => { for (const e of list.getEntries()) window.seen.lcp = e.startTime; })
    .observe({ type: 'largest-contentful-paint', buffered: true });
  new PerformanceObserver((list) => {
    for (const e of list.getEntries()) {
      if (!e.interactionId) continue;
      window.seen.delay = Math.max(window.seen.delay, e.processingStart - e.startTime);
      window.seen.took = Math.max(window.seen.took, e.duration);
    }
  }).observe({ type: 'event', durationThreshold: 16, buffered: true });
`;

async function measure(browser: Browser, server: TestServer, screen: Screen, slower: number): Promise<Measured> {
  const context = await browser.newContext({ locale: 'en-GB', timezoneId: 'Europe/Madrid', viewport: SIZE });
  const [name = '', value = ''] = (await server.loginAs('dispatcher')).cookie.split('=');
  await context.addCookies([{ name, value, url: server.url }]);
  await context.addInitScript(WATCH(screen.data));
  const page = await context.newPage();
  if (slower > 1) {
    const tools = await context.newCDPSession(page);
    await tools.send('Emulation.setCPUThrottlingRate', { rate: slower });
  }
  await page.goto(`${server.url}/#/${screen.hash}`);
  await page.locator(screen.data).first().waitFor();
  await page.waitForFunction('window.seen.data > 0');
  const paint = (await page.evaluate(
    "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0",
  )) as number;
  const largest = (await page.evaluate('window.seen.lcp')) as number;
  await screen.use(page);
  await page.waitForTimeout(500);
  const seen = (await page.evaluate('window.seen')) as {
    readonly data: number;
    readonly delay: number;
    readonly took: number;
  };
  await context.close();
  return {
    screen: screen.name,
    firstPaintMs: paint,
    dataPaintMs: seen.data,
    largestPaintMs: largest,
    inputDelayMs: seen.delay,
    interactionMs: seen.took,
  };
}

async function run(args: readonly string[]): Promise<void> {
  const { values } = parseArgs({
    args: [...args],
    options: {
      containers: { type: 'string', default: '2000' },
      sites: { type: 'string', default: '250' },
      slower: { type: 'string', default: '1' },
    },
  });
  const { server, browser, close } = await startFirm(Number(values.containers), Number(values.sites));
  try {
    console.log('screen,first_paint_ms,data_paint_ms,largest_paint_ms,input_delay_ms,interaction_ms');
    for (const screen of SCREENS) {
      const one = await measure(browser, server, screen, Number(values.slower));
      const { firstPaintMs, dataPaintMs, largestPaintMs, inputDelayMs, interactionMs } = one;
      const figures = [firstPaintMs, dataPaintMs, largestPaintMs, inputDelayMs, interactionMs].map((ms) =>
        ms.toFixed(0),
      );
      console.log([one.screen, ...figures].join(','));
    }
  } finally {
    await close();
  }
}

export const benchmark: Benchmark = {
  name: 'desk',
  summary: 'How soon the dispatcher’s screens stand and answer with 2,000 containers, in a real browser',
  help: HELP,
  run,
};
