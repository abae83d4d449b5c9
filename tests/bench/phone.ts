import { parseArgs } from 'node:util';
import type { Browser, BrowserContext, CDPSession, Page } from 'playwright-core';
import { startFirm } from './desk/firm.js';
import type { Benchmark } from './run.js';

/**
 * Slow 4G and a phone of the middle class as Lighthouse defines them for mobiles: a round trip of 150 ms, 1.6 Mbit/s down,
 * 750 kbit/s up, a processor four times slower. GoogleChrome/lighthouse, `core/config/constants.js`, `mobileSlow4G`, and
 * `docs/throttling.md`. The screen is that of its phone as well (`screenEmulation.mobile`).
 */
const LATENCY_MS = 150;
const DOWN_BYTES_PER_S = (1.6 * 1024 * 1024) / 8;
const UP_BYTES_PER_S = (750 * 1024) / 8;
const SLOWER = 4;
const PHONE = { viewport: { width: 412, height: 823 }, deviceScaleFactor: 1.75, isMobile: true, hasTouch: true };

const HELP = `Usage: npm run --silent bench phone -- [--containers N] [--sites N] [--times N] [--latency MS]

Opens a technician's start on a throttled phone in a real Chromium, with Lighthouse's mobile profile applied through the
DevTools protocol: every request waits ${LATENCY_MS} ms and shares 1.6 Mbit/s, the page's processor is ${SLOWER} times slower. A
connection is opened without a wait, as the protocol cannot slow that down; a first visit over TLS needs three round trips
more. Lighthouse itself, where it throttles this way and does not reckon, lets each request wait 562.5 ms in place of the
round trips that it stands for: --latency 562.5.

Prints as CSV, of N starts the median and the best (whatever else the machine does only slows a start): milliseconds from
the start of the navigation to the first paint, to the round on the screen and to the largest paint (LCP), and what that was;
kilobytes (1000 bytes) over the line by then, of all files and of scripts.

  cold   nothing of the page is on the phone; who it is the server knows from the cookie
  again  the second start: the worker keeps the page's files and the phone the round of the start before

  --containers N  how many containers           (120)
  --sites N       on how many sites             (32)
  --times N       starts of each kind           (5)
  --latency MS    what each request waits for   (${LATENCY_MS})
`;

interface Start {
  readonly firstPaintMs: number;
  readonly roundMs: number;
  readonly largestPaintMs: number;
  readonly largest: string;
  readonly lineKb: number;
  readonly scriptKb: number;
}

const WATCH = `
  window.seen = { round: 0, lcp: 0, what: '' };
  const look = () => {
    if (window.seen.round === 0 && document.querySelector('.next-stop') !== null)
      requestAnimationFrame(() => setTimeout(() => { window.seen.round ||= performance.now(); }));
  };
  new MutationObserver(look).observe(document, { childList: true, subtree: true });
  new PerformanceObserver((list) => {
    for (const e of list.getEntries()) {
      window.seen.lcp = e.startTime;
      window.seen.what = e.element === null ? '' : e.element.tagName + '.' + e.element.className;
    }
  }).observe({ type: 'largest-contentful-paint', buffered: true });
`;

const SETTLED_MS = 5_000;

async function throttle(tools: CDPSession, latencyMs: number): Promise<void> {
  await tools.send('Network.enable');
  await tools.send('Network.emulateNetworkConditions', {
    offline: false,
    latency: latencyMs,
    downloadThroughput: DOWN_BYTES_PER_S,
    uploadThroughput: UP_BYTES_PER_S,
  });
  await tools.send('Emulation.setCPUThrottlingRate', { rate: SLOWER });
}

/** The worker fetches for the page, over a line of its own as far as the protocol goes. */
async function throttleWorkers(browser: Browser, latencyMs: number): Promise<void> {
  const tools = await browser.newBrowserCDPSession();
  const { targetInfos } = await tools.send('Target.getTargets');
  const message = (id: number, method: string, params: object): string => JSON.stringify({ id, method, params });
  for (const { targetId, type } of targetInfos) {
    if (type !== 'service_worker') continue;
    const { sessionId } = await tools.send('Target.attachToTarget', { targetId, flatten: false });
    const conditions = {
      offline: false,
      latency: latencyMs,
      downloadThroughput: DOWN_BYTES_PER_S,
      uploadThroughput: UP_BYTES_PER_S,
    };
    await tools.send('Target.sendMessageToTarget', { sessionId, message: message(1, 'Network.enable', {}) });
    await tools.send('Target.sendMessageToTarget', {
      sessionId,
      message: message(2, 'Network.emulateNetworkConditions', conditions),
    });
  }
}

async function start(context: BrowserContext, url: string, latencyMs: number): Promise<{ page: Page; seen: Start }> {
  const page = await context.newPage();
  const tools = await context.newCDPSession(page);
  await throttle(tools, latencyMs);
  await page.goto(url, { waitUntil: 'commit' });
  // Whoever asks the page whether it is ready meanwhile slows it down.
  await page.waitForTimeout(SETTLED_MS);
  const seen = (await page.evaluate(`(() => {
    const until = Math.max(window.seen.round, window.seen.lcp);
    const files = [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
      .filter((e) => e.startTime < until && e.transferSize > 0);
    const kb = (entries) => entries.reduce((sum, e) => sum + e.transferSize, 0) / 1000;
    return {
      firstPaintMs: performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0,
      roundMs: window.seen.round,
      largestPaintMs: window.seen.lcp,
      largest: window.seen.what,
      lineKb: kb(files),
      scriptKb: kb(files.filter((e) => /[.]js$/.test(e.name))),
    };
  })()`)) as Start;
  if (seen.roundMs === 0) throw new Error(`no round on the screen after ${SETTLED_MS} ms`);
  return { page, seen };
}

const median = (values: readonly number[]): number => {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? 0;
};

function print(name: string, starts: readonly Start[], pickOne: (values: readonly number[]) => number): void {
  const of = (pick: (one: Start) => number) => pickOne(starts.map(pick));
  const figures = [
    of((one) => one.firstPaintMs).toFixed(0),
    of((one) => one.roundMs).toFixed(0),
    of((one) => one.largestPaintMs).toFixed(0),
    starts[0]?.largest ?? '',
    of((one) => one.lineKb).toFixed(1),
    of((one) => one.scriptKb).toFixed(1),
  ];
  console.log([name, ...figures].join(','));
}

async function run(args: readonly string[]): Promise<void> {
  const { values } = parseArgs({
    args: [...args],
    options: {
      containers: { type: 'string', default: '120' },
      sites: { type: 'string', default: '32' },
      times: { type: 'string', default: '5' },
      latency: { type: 'string', default: String(LATENCY_MS) },
    },
  });
  const latencyMs = Number(values.latency);
  const { server, browser, technicians, close } = await startFirm(Number(values.containers), Number(values.sites));
  try {
    const dispatcher = await server.loginAs('dispatcher');
    const { body: plan } = await dispatcher.get('/api/v1/plan');
    const { draft, firstDay } = plan as {
      readonly firstDay: string;
      readonly draft: {
        readonly seq: number;
        readonly rounds: readonly { personId: string; day: string; stops: readonly unknown[] }[];
      };
    };
    const { status } = await dispatcher.post('/api/v1/plan/publish', { seq: draft.seq });
    if (status !== 200) throw new Error(`the rounds were not published: ${status}`);
    const ofToday = draft.rounds.filter((round) => round.day === firstDay);
    const longest = ofToday.toSorted((a, b) => b.stops.length - a.stops.length)[0];
    if (longest === undefined) throw new Error('nobody has a round today');
    const login = technicians.find((id) => id === longest.personId) ?? longest.personId;
    const cold: Start[] = [];
    const again: Start[] = [];
    for (let k = 0; k < Number(values.times); k++) {
      const context = await browser.newContext({ ...PHONE, locale: 'en-GB', timezoneId: 'Europe/Madrid' });
      const [name = '', value = ''] = (await server.loginAs(login)).cookie.split('=');
      await context.addCookies([{ name, value, url: server.url }]);
      await context.addInitScript(WATCH);
      const first = await start(context, server.url, latencyMs);
      cold.push(first.seen);
      await first.page.evaluate('navigator.serviceWorker.ready');
      await first.page.waitForFunction('navigator.serviceWorker.controller !== null');
      await throttleWorkers(browser, latencyMs);
      const second = await start(context, server.url, latencyMs);
      again.push(second.seen);
      await context.close();
    }
    console.log('start,first_paint_ms,round_ms,largest_paint_ms,largest,line_kb,script_kb');
    print('cold', cold, median);
    print('cold best', cold, (figures) => Math.min(...figures));
    print('again', again, median);
    print('again best', again, (figures) => Math.min(...figures));
  } finally {
    await close();
  }
}

export const benchmark: Benchmark = {
  name: 'phone',
  summary: 'How soon a technician’s round stands on a throttled phone, first and second start, in a real browser',
  help: HELP,
  run,
};
