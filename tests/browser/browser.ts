import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { inject } from 'vitest';
import type { Write } from '../../src/domain/change-set.js';
import type { Person } from '../../src/domain/registry.js';
import { startTestServer, TEST_PASSWORD, TestClock, type TestServer } from '../support/server.js';
import { gardenWrites, NOW_MS, PEOPLE } from './garden.js';

export const DESK = { width: 1440, height: 900 } as const;
export const PHONE = { width: 390, height: 844 } as const;

export type Look = 'light' | 'dark' | 'sun';

export interface PageOptions {
  readonly size?: { readonly width: number; readonly height: number };
  readonly look?: Look;
  readonly touch?: boolean;
  /** As the device is set, BCP 47. */
  readonly locale?: string;
  /** Where the page looks for the server; the server itself where it is left out. */
  readonly address?: string;
}

/** A whole server with the small garden, and a real Chromium that looks at it. */
export interface Stage {
  readonly server: TestServer;
  readonly clock: TestClock;
  /** A page at the start, nobody signed in. What goes wrong in it is thrown by {@link Stage.close}. */
  open(options?: PageOptions): Promise<Page>;
  /** A page on which somebody is signed in, at a screen. */
  openAs(login: string, screen: string, options?: PageOptions): Promise<Page>;
  close(): Promise<void>;
}

/**
 * @param seed what the server knows at the start; the small garden where it is left out
 * @param environment settings of the server beside the usual ones
 * @param people who can sign in; nobody yet at a first start
 */
export async function startStage(
  seed: readonly Write[] = gardenWrites(),
  environment: Readonly<Record<string, string>> = {},
  people: readonly Person[] = PEOPLE,
): Promise<Stage> {
  const clock = new TestClock(NOW_MS);
  const server = await startTestServer({ clock, seed, environment });
  for (const person of people) {
    if (person.accountId === null || seed.some((write) => write.kind === 'account')) {
      await server.addPerson(person.role, person);
    }
  }
  await server.settle();
  // Without a locale this build of Chromium has no formats for dates and numbers.
  const browser: Browser = await chromium.launch({
    executablePath: inject('chromiumPath'),
    args: ['--no-sandbox', '--headless=shell'],
  });
  const contexts: BrowserContext[] = [];
  const faults: string[] = [];

  const contextOf = async (options: PageOptions): Promise<BrowserContext> => {
    const { size = DESK, look = 'light', touch = false, locale = 'en-GB' } = options;
    const context = await browser.newContext({
      locale,
      timezoneId: 'Europe/Madrid',
      viewport: size,
      hasTouch: touch,
      colorScheme: look === 'dark' ? 'dark' : 'light',
      reducedMotion: 'reduce',
    });
    contexts.push(context);
    if (look === 'sun') await context.addInitScript("localStorage.setItem('brimline.look', 'sun')");
    return context;
  };

  const pageOf = async (context: BrowserContext, address: string): Promise<Page> => {
    const page = await context.newPage();
    page.on('pageerror', (error) => faults.push(`${page.url()}: ${error.stack ?? error.message}`));
    page.on('console', (line) => {
      if (line.type() === 'error' && !/Failed to load resource/.test(line.text())) {
        faults.push(`${page.url()}: ${line.text()}`);
      }
    });
    await page.goto(address);
    return page;
  };

  return {
    server,
    clock,
    open: async (options = {}) => pageOf(await contextOf(options), server.url),
    openAs: async (login, screen, options = {}) => {
      const context = await contextOf(options);
      const [name = '', value = ''] = (await server.loginAs(login)).cookie.split('=');
      const address = options.address ?? server.url;
      await context.addCookies([{ name, value, url: address }]);
      return pageOf(context, `${address}/#/${screen}`);
    },
    close: async () => {
      for (const context of contexts) await context.close();
      await browser.close();
      await server.close();
      if (faults.length > 0) throw new Error(`faults in the page:\n${faults.join('\n')}`);
    },
  };
}

export async function signIn(page: Page, login: string): Promise<void> {
  await page.getByLabel('Log-in name').fill(login);
  await page.getByLabel('Password').fill(TEST_PASSWORD);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.getByRole('navigation', { name: 'Screens' }).waitFor();
}

interface AxeNode {
  readonly html: string;
  readonly failureSummary: string;
}

interface AxeRule {
  readonly id: string;
  readonly nodes: readonly AxeNode[];
}

const AXE = createRequire(import.meta.url).resolve('axe-core/axe.min.js');

/** What axe finds against the page as it stands: every rule on, best practices included. */
export async function axeViolations(page: Page): Promise<readonly string[]> {
  // The page's own policy lets no foreign script in by a tag; the browser's side door evaluates it.
  await page.evaluate(await readFile(AXE, 'utf8'));
  const found = (await page.evaluate('axe.run(document)')) as { readonly violations: readonly AxeRule[] };
  return found.violations.flatMap((rule) =>
    rule.nodes.map((node) => `${rule.id}: ${node.html.slice(0, 160)} ${node.failureSummary}`),
  );
}

/**
 * Touch targets smaller than 44 px either way. An input within its label is as large as the label, which a thumb may hit as
 * well.
 */
export async function smallTargets(page: Page, within: string): Promise<readonly string[]> {
  return (await page.evaluate(`
    [...document.querySelectorAll(${JSON.stringify(`${within} a, ${within} button, ${within} input, ${within} summary, ${within} select`)})]
      .filter((element) => element.checkVisibility())
      .map((element) => ({ element, box: (element.closest('label') ?? element).getBoundingClientRect() }))
      .filter(({ box }) => box.width > 0 && (box.width < 43.5 || box.height < 43.5))
      .map(({ element, box }) => element.outerHTML.slice(0, 120) + ' ' + box.width.toFixed(0) + 'x' + box.height.toFixed(0))
  `)) as readonly string[];
}
