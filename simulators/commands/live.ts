import { setTimeout as sleep } from 'node:timers/promises';
import { isoSecond } from '../calendar.js';
import { planOfFolder } from '../fleet/replan.js';
import { CREDENTIALS_FORM, readCredentials } from '../live/credentials.js';
import { HttpCrew } from '../live/http-crew.js';
import { LiveFleet } from '../live/live-fleet.js';
import { LiveSession } from '../live/live-session.js';
import { Publishers } from '../live/publishers.js';
import { ScaledClock } from '../live/scaled-clock.js';
import { Arguments } from './usage.js';

const HELP = `Usage: node dist/simulators/main.js live --fleet-dir DIR --mqtt URL --credentials FILE [options]

Goes on with a fleet where its history ends: nodes, gateways and weather stations publish over MQTT at QoS 1 with their
own credentials, crews go their rounds and report them over HTTP, and what people record in the product goes into the
pots. A node that is asked to report fast does; where its pot is on a round of the day, a hose then fills it. Stops on Ctrl-C or a termination signal. Whatever the server refuses is logged and passed over.

  --fleet-dir DIR          folder that "fleet" wrote
  --mqtt URL               broker, for instance mqtt://127.0.0.1:1883
  --credentials FILE       ${CREDENTIALS_FORM}
  --start-business-ms N    business time at the start, epoch ms (default: the end of the history)
  --start-process-ms N     real time that goes with it, epoch ms (default: now)
  --speed N                business milliseconds for each real one (default 60: a minute is an hour)
  --technicians LOGINS     who goes the rounds, comma-separated (default ines,tomasz,noor)
  --office LOGIN           who enters the forecasts (default dispatcher)
  --quiet                  log refusals only

Example: node dist/simulators/main.js live --fleet-dir demo-fleet --mqtt mqtt://127.0.0.1:1883 --credentials secrets.json
`;

const TICK_MS = 500;
const POURS_EVERY_MS = 3000;
const REPORT_EVERY_MS = 60_000;

export async function liveCommand(args: readonly string[]): Promise<void> {
  const given = Arguments.parse(
    args,
    {
      'fleet-dir': { type: 'string' },
      mqtt: { type: 'string' },
      credentials: { type: 'string' },
      'start-business-ms': { type: 'string' },
      'start-process-ms': { type: 'string' },
      speed: { type: 'string', default: '60' },
      technicians: { type: 'string', default: 'ines,tomasz,noor' },
      office: { type: 'string', default: 'dispatcher' },
      quiet: { type: 'boolean' },
    },
    HELP,
  );
  if (given === null) return;
  const quiet = given.flag('quiet');
  const complain = (line: string): void => console.error(`simulators: ${line}`);
  const log = (line: string): void => {
    if (!quiet) console.log(`simulators: ${line}`);
  };
  const url = given.required('mqtt');
  const credentials = readCredentials(given.required('credentials'));
  const plan = planOfFolder(given.required('fleet-dir'));
  const optional = (name: string): number | null =>
    given.optional(name) === null ? null : given.number(name, 0, Number.MAX_SAFE_INTEGER);
  const startMs = optional('start-business-ms') ?? plan.endMs;
  if (startMs === null)
    throw new Error('This fleet has no end of its history to start from: give --start-business-ms.');
  const fleet = new LiveFleet(plan, startMs);
  const clock = new ScaledClock(
    startMs,
    optional('start-process-ms') ?? Date.now(),
    given.number('speed', 0.01, 10_000),
    Date.now,
  );

  const mqtt = new Publishers(url, credentials.passwordOf, complain);
  const http = credentials.httpUrl === null ? null : new HttpCrew(credentials.httpUrl, credentials.people, complain);
  const known = (login: string): boolean => credentials.people.has(login);
  const office = given.required('office');
  const session = new LiveSession({
    plan,
    fleet,
    mqtt,
    http,
    technicians: given.required('technicians').split(',').filter(known),
    office: known(office) ? office : null,
    startMs,
    log,
  });
  session.listen();
  log(`${fleet.sites.length} sites go on from ${isoSecond(startMs)} business time`);

  const stop = new AbortController();
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => stop.abort());
  // A parent that goes away takes its pipe along; then nobody wants the fleet any more.
  process.once('disconnect', () => stop.abort());
  let nextPours = 0;
  let nextReport = Date.now() + REPORT_EVERY_MS;
  while (!stop.signal.aborted) {
    const nowMs = clock.nowMs();
    if (nowMs >= fleet.endMs) {
      log(`the weather of this fleet ends at ${isoSecond(fleet.endMs)}; nothing more will come`);
      break;
    }
    if (nowMs >= startMs) await session.tick(nowMs);
    if (Date.now() >= nextPours) {
      nextPours = Date.now() + POURS_EVERY_MS;
      await session.takePours(nowMs);
    }
    if (Date.now() >= nextReport) {
      nextReport = Date.now() + REPORT_EVERY_MS;
      log(
        `${isoSecond(nowMs)}: ${session.readings} readings sent, ${mqtt.acknowledged} messages acknowledged, ` +
          `${mqtt.failed} failed, ${mqtt.connections} connections, ${session.pours} refills`,
      );
    }
    try {
      await sleep(TICK_MS, undefined, { signal: stop.signal });
    } catch (error) {
      if (!stop.signal.aborted) throw error;
    }
  }
  await mqtt.close();
}
