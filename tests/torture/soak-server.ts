import { createInterface } from 'node:readline';
import { pino } from 'pino';
import { startServer } from '../../src/commands/start-server.js';
import { readSettings } from '../../src/config.js';

/*
 * A whole server whose business clock is moved from outside: `at MILLISECONDS` on a line sets it, and is answered with
 * what the process holds once every stage has dealt with all that was committed. Jobs run each second by that clock.
 */
const [dir, httpPort, mqttPort, startMs] = process.argv.slice(2);
if (dir === undefined || httpPort === undefined || mqttPort === undefined || startMs === undefined) {
  throw new Error('usage: soak-server DIR HTTP-PORT MQTT-PORT START-MS');
}
let nowMs = Number(startMs);
const settings = readSettings({ data: dir, http: httpPort, mqtt: mqttPort, ws: '0', open: true }, process.env, {
  startBusinessMs: nowMs,
  startProcessMs: Date.now(),
  speed: 3_600,
});
const server = await startServer(settings, pino({ level: 'error' }, pino.destination(2)), {
  demo: false,
  clock: { nowMs: () => nowMs },
});
console.log('ready');
for await (const line of createInterface({ input: process.stdin })) {
  if (line === 'stop') break;
  nowMs = Number(line.replace('at ', ''));
  await server.stages.idle();
  const { rss, heapUsed } = process.memoryUsage();
  console.log(JSON.stringify({ rssMb: rss / 1e6, heapMb: heapUsed / 1e6 }));
}
await server.stop();
