import { describe, expect, it } from 'vitest';
import { COMMANDS } from '../../src/commands/index.js';
import { runCli, runHere } from '../support/cli.js';

describe('the command line', () => {
  it('prints its help on stdout and ends with 0 when it is asked for it', async () => {
    const result = await runCli(['--help']);
    expect(result.status).toBe(0);
    expect(result.stderr).toBe('');
    for (const { name, summary } of COMMANDS) {
      expect(result.stdout).toContain(name);
      expect(result.stdout).toContain(summary);
    }
  });

  it('prints its help on stderr and ends with 2 when nothing is asked', async () => {
    const result = await runCli([]);
    expect(result.status).toBe(2);
    expect(result.stdout).toBe('');
    expect(result.stderr).toContain('Usage: brimline COMMAND');
  });

  it.each(COMMANDS.map(({ name }) => name))('teaches “%s” by usage, options and an example', async (name) => {
    for (const args of [
      [...name.split(' '), '--help'],
      ['help', ...name.split(' ')],
    ]) {
      const { status, stdout: out, stderr: err } = await runHere([...args]);
      expect(status).toBe(0);
      expect(err).toBe('');
      expect(out).toContain(`Usage: brimline ${name}`);
      expect(out).toMatch(/^Example.*:$/m);
      expect(out).toMatch(new RegExp(`^ {2}.*brimline ${name}( |$)`, 'm'));
    }
  });

  it.each([
    ['sevre', 'serve'],
    ['imprt', 'import'],
    ['nod', 'node add'],
    ['backupp', 'backup'],
  ])('answers “%s” with 2 and the nearest name', async (wrong, right) => {
    const { status, stdout: out, stderr: err } = await runHere([wrong]);
    expect(status).toBe(2);
    expect(out).toBe('');
    expect(err).toContain(`“${right}”`);
  });

  it('says so where a second word is missing', async () => {
    const { status, stderr: err } = await runHere(['owner']);
    expect(status).toBe(2);
    expect(err).toMatch(/“owner add” or “owner password”/);
  });

  it('ends with 2 for wrong usage, and names the help', async () => {
    const { status, stderr: err } = await runHere(['serve', '--prot', '80']);
    expect(status).toBe(2);
    expect(err).toMatch(/no option --prot/);
    expect(err).toContain('brimline serve --help');
  });

  it('ends with 1 for what is refused, and says what to do next', async () => {
    const { status, stderr: err } = await runHere([
      'import',
      '--data',
      '/nonexistent/dir',
      '--fleet',
      '/nonexistent/fleet.json',
    ]);
    expect(status).toBe(1);
    expect(err).toMatch(/fleet\.json cannot be read/);
    expect(err).toMatch(/Check the path/);
  });
});
