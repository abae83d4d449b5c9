import Database from 'better-sqlite3';
import { DomainError } from '../domain/errors.js';

/** What the program was doing when SQLite refused, for the words. */
export interface Where {
  readonly file: string;
}

/**
 * Says in words what SQLite or the file system refused and what to do next. What is no refusal of theirs is returned as
 * it is: a fault of the program stays one.
 */
export function inWords(error: unknown, where: Where): unknown {
  if (error instanceof DomainError) return error;
  if (error instanceof Database.SqliteError) return ofSqlite(error, where) ?? error;
  return ofFileSystem(error, where) ?? error;
}

function ofSqlite(error: InstanceType<typeof Database.SqliteError>, { file }: Where): DomainError | null {
  const { code } = error;
  const cause = { cause: error };
  if (code.startsWith('SQLITE_CORRUPT') || code.startsWith('SQLITE_NOTADB')) {
    return new DomainError('store_damaged', damagedText(file, error.message), cause);
  }
  if (code === 'SQLITE_FULL') {
    return new DomainError(
      'store_full',
      `No room left on the disk that holds ${file}. Nothing of this change was stored, and what was stored before is whole. Free some space, then try again.`,
      cause,
    );
  }
  if (code.startsWith('SQLITE_BUSY') || code.startsWith('SQLITE_LOCKED')) {
    return new DomainError(
      'store_locked',
      `${file} is held by another program (a backup tool, a database browser or a second server). Close it, then try again.`,
      cause,
    );
  }
  if (code.startsWith('SQLITE_READONLY') || code.startsWith('SQLITE_PERM')) {
    return new DomainError(
      'store_read_only',
      `${file} may not be written. Give the user that runs this program write permission on the file and its folder, or choose another folder with --data.`,
      cause,
    );
  }
  if (code.startsWith('SQLITE_CANTOPEN') || code === 'SQLITE_IOERR_SHMOPEN') {
    return new DomainError(
      'store_read_only',
      `${file} cannot be opened. Check that its folder exists and that the user that runs this program may write in it, or choose another folder with --data.`,
      cause,
    );
  }
  if (code.startsWith('SQLITE_IOERR')) {
    return new DomainError(
      'store_damaged',
      `The disk that holds ${file} reported a fault (${code}). Look at the disk and the system's log; then start again, from a backup if the fault comes back.`,
      cause,
    );
  }
  if (code === 'SQLITE_CONSTRAINT_FOREIGNKEY') {
    return new DomainError(
      'conflict',
      'The change names something that is not registered (an account, site, container, node or person). Nothing of it was stored. Register that first.',
      cause,
    );
  }
  if (code === 'SQLITE_CONSTRAINT_UNIQUE' && error.message.includes('person.login')) {
    return new DomainError('conflict', 'Another person has this login already. Choose another.', cause);
  }
  return null;
}

export function damagedText(file: string, found: string): string {
  return `${file} is damaged (${found}). Do not write to it. Keep a copy of the folder, then put a backup in its place: a file that \`brimline backup\` made, named brimline.sqlite, without -wal and -shm files beside it.`;
}

function ofFileSystem(error: unknown, { file }: Where): DomainError | null {
  if (!(error instanceof Error) || !('code' in error)) return null;
  switch (error.code) {
    case 'EACCES':
    case 'EPERM':
    case 'EROFS':
      return new DomainError(
        'store_read_only',
        `${file} cannot be made or written: its folder is read-only for the user that runs this program. Change its permissions, or choose another folder with --data.`,
        { cause: error },
      );
    case 'ENOTDIR':
    case 'EEXIST':
      return new DomainError(
        'store_read_only',
        `${file} cannot be made: a part of its path is a file, not a folder. Choose another folder with --data.`,
        { cause: error },
      );
    case 'ENOSPC':
    case 'EDQUOT':
      return new DomainError('store_full', `No room left on the disk for ${file}. Free some space, then try again.`, {
        cause: error,
      });
    default:
      return null;
  }
}
