import { onTestFinished } from 'vitest';
import { type Mosquitto, runMosquitto } from './mosquitto-process.js';

/** Debian's mosquitto for one test; stopped when the test ends. */
export async function startMosquitto(extraLines: readonly string[] = []): Promise<Mosquitto> {
  const { stop, ...mosquitto } = await runMosquitto(extraLines);
  onTestFinished(stop);
  return mosquitto;
}
