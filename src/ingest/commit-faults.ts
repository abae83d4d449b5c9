import { DomainError } from '../domain/errors.js';

/** Whether a failed commit may be the fault of one message in it, rather than of the store as a whole. */
export function mayBeOnePack(error: Error): boolean {
  return !(error instanceof DomainError && error.code.startsWith('store_'));
}
