import { createHash, randomInt, timingSafeEqual } from 'node:crypto';
import type { Firm } from '../../domain/commissioning.js';
import { DomainError } from '../../domain/errors.js';
import type { Store } from '../../domain/ports/store.js';
import type { Person } from '../../domain/registry.js';
import type { App } from '../context.js';
import { checkCurrency } from './firm.js';
import { addFirstOwner } from './people.js';

/** Letters and digits that nobody takes for one another. */
const ALPHABET = 'ABCDEFGHJKMNPQRSTUVWXYZ23456789';
const CODE_LETTERS = 10;
/** After so many wrong codes only a new start of the server gives another chance. */
const MOST_TRIES = 20;

export interface FirstOwner {
  /** As the server's console shows it; case, blanks and hyphens do not matter. */
  readonly code: string;
  readonly name: string;
  readonly login: string;
  readonly password: string;
  readonly firm: Firm;
}

/** True while there is nobody at all: only then anybody may become the owner. */
export async function awaitsSetUp(store: Store): Promise<boolean> {
  return (await store.people.people()).length === 0;
}

/**
 * The way in for the very first person. Whoever reads the server's console has the code; it lives as long as the process
 * and opens nothing once somebody exists.
 */
export class SetUpDoor {
  /** To be shown on the console only, never in the log. */
  readonly code: string;
  #wrong = 0;
  #entering: Promise<unknown> = Promise.resolve();

  constructor(code = makeCode()) {
    this.code = code;
  }

  /**
   * Makes the first owner and the firm in one commit.
   * @throws DomainError `conflict` where somebody exists already, `not_allowed` for a wrong code, `invalid_input`
   */
  async enter(app: App, input: FirstOwner): Promise<Person> {
    // One after the other: two at once could both find nobody there.
    const turn = this.#entering.then(() => this.#enter(app, input));
    this.#entering = turn.catch(() => {});
    return turn;
  }

  async #enter(app: App, input: FirstOwner): Promise<Person> {
    if (!(await awaitsSetUp(app.store))) {
      throw new DomainError('conflict', 'This server has been set up already. Sign in instead.');
    }
    this.#checkCode(input.code);
    checkCurrency(input.firm.currency);
    const { name, login, password, firm } = input;
    return addFirstOwner(app, { name, login, password, firm });
  }

  #checkCode(code: string): void {
    if (this.#wrong >= MOST_TRIES) {
      throw new DomainError(
        'too_many_attempts',
        'Too many wrong codes. Start the server again: it shows a new one, or add the owner with “brimline owner add”.',
      );
    }
    if (timingSafeEqual(digest(plain(code)), digest(plain(this.code)))) return;
    this.#wrong++;
    throw new DomainError('not_allowed', 'This is not the code that the server’s console shows. Look there again.');
  }
}

function makeCode(): string {
  const letters = Array.from({ length: CODE_LETTERS }, () => ALPHABET[randomInt(ALPHABET.length)]).join('');
  return `${letters.slice(0, CODE_LETTERS / 2)}-${letters.slice(CODE_LETTERS / 2)}`;
}

const plain = (code: string): string => code.toUpperCase().replace(/[^A-Z0-9]/g, '');

const digest = (text: string): Buffer => createHash('sha256').update(text).digest();
