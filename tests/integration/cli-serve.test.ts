import { chmod, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { type CliOptions, type RunningCli, runHere, startCli } from '../support/cli.js';

const PASSWORD = 'a long enough secret';
const FREE_PORTS = ['--http', '0', '--mqtt', '0', '--ws', '0'];

const cleanUps: (() => Promise<unknown>)[] = [];

afterEach(async () => {
  for (const cleanUp of cleanUps.splice(0).reverse()) await cleanUp();
});

async function tempDir(): Promise<string> {
  const dir = await mkdtemp(join(tmpdir(), 'brimline-cli-'));
  cleanUps.push(() => rm(dir, { recursive: true, force: true }));
  return dir;
}

/** Root may write everywhere, so that it has to become somebody else to see a folder that is read-only. */
function somebodyElse(): CliOptions {
  const NOBODY = 65_534;
  return process.getuid?.() === 0 ? { uid: NOBODY } : {};
}

function serve(
  args: readonly string[],
  env: Readonly<Record<string, string>> = {},
  options: CliOptions = {},
): RunningCli {
  const running = startCli(['serve', ...args], { env, ...options });
  cleanUps.push(() => running.stop('SIGKILL'));
  return running;
}

async function occupiedPort(): Promise<number> {
  const server: Server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  cleanUps.push(() => new Promise((resolve) => server.close(resolve)));
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('no port');
  return address.port;
}

async function addressOf(running: RunningCli): Promise<string> {
  const [, url] = await running.printed(/(http:\/\/127\.0\.0\.1:\d+)/);
  if (url === undefined) throw new Error('no address');
  return url;
}

function signIn(url: string, login: string, password: string): Promise<Response> {
  return fetch(`${url}/api/v1/session`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', 'x-brimline': '1' },
    body: JSON.stringify({ login, password }),
  });
}

describe('serve', () => {
  it('runs, answers, and stops in order when it is told to', async () => {
    const running = serve(['--data', await tempDir(), ...FREE_PORTS]);
    const url = await addressOf(running);
    expect((await fetch(`${url}/healthz`)).status).toBe(200);
    expect((await fetch(`${url}/readyz`)).status).toBe(200);
    const result = await running.stop('SIGTERM');
    expect(result.status).toBe(0);
    expect(result.stderr).toContain('Stopped.');
  });

  it('makes the first owner from the environment, once', async () => {
    const dir = await tempDir();
    const env = { BRIMLINE_OWNER_LOGIN: 'ada', BRIMLINE_OWNER_PASSWORD: PASSWORD, BRIMLINE_OWNER_NAME: 'Ada' };
    const first = serve(['--data', dir, ...FREE_PORTS], env);
    expect((await signIn(await addressOf(first), 'ada', PASSWORD)).status).toBe(200);
    await first.stop();
    const second = serve(['--data', dir, ...FREE_PORTS], { ...env, BRIMLINE_OWNER_LOGIN: 'eve' });
    const url = await addressOf(second);
    expect((await signIn(url, 'eve', PASSWORD)).status).toBe(401);
    expect((await signIn(url, 'ada', PASSWORD)).status).toBe(200);
  });

  it('shows where and with which code the first owner sets up, and how to do it from the terminal', async () => {
    const dir = await tempDir();
    const running = serve(['--data', dir, ...FREE_PORTS]);
    await running.printed(/Set up +http.*\/#\/set-up\/[A-Z2-9-]{11}\n.*\n.*brimline owner add/);
    const url = await addressOf(running);
    const added = await runHere(['owner', 'add', '--login', 'Ada', '--name', 'Ada Marsh', '--data', dir], {
      env: { BRIMLINE_OWNER_PASSWORD: PASSWORD },
    });
    expect(added.stderr).toBe('');
    expect(added.stdout).toContain('Ada Marsh');
    expect((await signIn(url, 'ada', PASSWORD)).status).toBe(200);
  });

  it('tells in words that the HTTP port is taken, and ends with 1', async () => {
    const port = await occupiedPort();
    const result = await serve(['--data', await tempDir(), '--http', String(port), '--mqtt', '0', '--ws', '0']).ended;
    expect(result.status).toBe(1);
    expect(result.stderr).toMatch(new RegExp(`Port ${port} .*taken.*--http`));
    expect(result.stderr).not.toMatch(/\n\s+at /);
  });

  it('tells in words that the MQTT port is taken', async () => {
    const port = await occupiedPort();
    const result = await serve(['--data', await tempDir(), '--http', '0', '--mqtt', String(port), '--ws', '0']).ended;
    expect(result.status).toBe(1);
    expect(result.stderr).toMatch(new RegExp(`${port}.*--mqtt`));
  });

  it('tells in words that the data folder is none', async () => {
    const file = join(await tempDir(), 'file');
    await writeFile(file, 'not a folder');
    const result = await serve(['--data', join(file, 'data'), ...FREE_PORTS]).ended;
    expect(result.status).toBe(1);
    expect(result.stderr).toContain(file);
    expect(result.stderr).not.toMatch(/\n\s+at /);
  });

  it('tells in words that the data folder is read-only', async () => {
    const dir = await tempDir();
    await chmod(dir, 0o555);
    const result = await serve(['--data', join(dir, 'data'), ...FREE_PORTS], {}, somebodyElse()).ended;
    await chmod(dir, 0o755);
    expect(result.status).toBe(1);
    expect(result.stderr).toMatch(/cannot be written|right to write/);
  });

  it('lists every fault of the settings at once, and ends with 2', async () => {
    const result = await runHere(['serve', '--http', 'x', '--mqtt', '99999']);
    expect(result.status).toBe(2);
    expect(result.stderr).toMatch(/--http.*\n.*--mqtt/);
  });
});

describe('owner', () => {
  it('gives somebody a new password from the machine', async () => {
    const dir = await tempDir();
    const env = { BRIMLINE_OWNER_PASSWORD: PASSWORD };
    expect((await runHere(['owner', 'add', '--login', 'ada', '--data', dir], { env })).status).toBe(0);
    const again = await runHere(['owner', 'password', '--login', 'ada', '--data', dir], {
      env: { BRIMLINE_OWNER_PASSWORD: 'another long secret' },
    });
    expect(again.status).toBe(0);
    const url = await addressOf(serve(['--data', dir, ...FREE_PORTS]));
    expect((await signIn(url, 'ada', PASSWORD)).status).toBe(401);
    expect((await signIn(url, 'ada', 'another long secret')).status).toBe(200);
  });

  it.each([
    ['short', /at least 12 characters/],
    ['ada-lovelace-secret', /holds the log-in name/],
  ])('refuses the password %s in words', async (password, words) => {
    const result = await runHere(['owner', 'add', '--login', 'ada-lovelace', '--data', await tempDir()], {
      env: { BRIMLINE_OWNER_PASSWORD: password },
    });
    expect(result.status).toBe(1);
    expect(result.stderr).toMatch(words);
  });

  it('asks for the variable where there is neither a terminal nor a password', async () => {
    const result = await runHere(['owner', 'add', '--login', 'ada', '--data', await tempDir()]);
    expect(result.status).toBe(2);
    expect(result.stderr).toContain('BRIMLINE_OWNER_PASSWORD');
  });
});
