import { createInterface } from 'node:readline/promises';
import { Writable } from 'node:stream';
import { checkPassword } from '../app/people/passwords.js';
import { normaliseLogin } from '../app/people/people.js';
import { DomainError } from '../domain/errors.js';
import type { Terminal } from './command.js';

/** True where somebody sits at the terminal and can be asked. */
export function canAsk(): boolean {
  return process.stdin.isTTY === true && process.stderr.isTTY === true;
}

/** Asks for a password twice, without showing it. */
export async function askNewPassword(terminal: Terminal, login = ''): Promise<string> {
  for (;;) {
    const password = await ask('Password (at least 12 characters, not shown): ', true);
    try {
      checkPassword(password, normaliseLogin(login));
    } catch (error) {
      if (!(error instanceof DomainError)) throw error;
      terminal.err(error.message);
      continue;
    }
    if ((await ask('The same again: ', true)) === password) return password;
    terminal.err('The two differ. Once more.');
  }
}

async function ask(question: string, hidden: boolean): Promise<string> {
  const echo = new Writable({
    write: (chunk, encoding, done) => {
      if (!hidden) process.stderr.write(chunk, encoding);
      done();
    },
  });
  const lines = createInterface({ input: process.stdin, output: echo, terminal: true });
  const cancelled = new Promise<never>((_resolve, reject) => {
    lines.once('close', () => reject(new DomainError('invalid_input', 'Cancelled; nothing was added.')));
  });
  try {
    process.stderr.write(question);
    const answer = await Promise.race([lines.question(''), cancelled]);
    if (hidden) process.stderr.write('\n');
    return answer.trim();
  } finally {
    cancelled.catch(() => {});
    lines.close();
  }
}
