import { DomainError } from '../../domain/errors.js';

/** Shorter passwords are refused. Log-in is throttled, so a guess a second for a year stays far from the space. */
export const MIN_PASSWORD_CHARACTERS = 12;

/** @throws DomainError `invalid_input` for a password that is too short or is the log-in */
export function checkPassword(password: string, login: string): void {
  const detail =
    [...password].length < MIN_PASSWORD_CHARACTERS
      ? `A password needs at least ${MIN_PASSWORD_CHARACTERS} characters; a few words in a row are easy to keep in mind.`
      : password.toLowerCase().includes(login.toLowerCase()) && login.length > 3
        ? 'The password holds the log-in name. Choose another.'
        : null;
  if (detail !== null) {
    throw new DomainError('invalid_input', detail, { faults: [{ pointer: '/password', detail }] });
  }
}
