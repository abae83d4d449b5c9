import type { Log } from '../../src/domain/ports/log.js';

/** Takes every line and keeps none, for what logs and is not tested for it. */
export const silentLog: Log = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} };
