import { existsSync } from 'node:fs';
import { expect, it } from 'vitest';
import { makeFileLog } from '../../src/log.js';

// Linux has a file whose disk is always full.
it.runIf(existsSync('/dev/full'))('goes on when the disk has no room for the log', async () => {
  const log = makeFileLog('info', '/dev/full');
  expect(() => log.info('this line is lost')).not.toThrow();
  // An error event that nobody hears would end the process a turn later.
  await new Promise((resolve) => setImmediate(resolve));
  expect(() => log.info('and this one')).not.toThrow();
});
