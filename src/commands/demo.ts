import type { ClockScale } from '../app/clock.js';
import { readSettings } from '../config.js';
import { makeFileLog } from '../log.js';
import { type Command, UsageError } from './command.js';
import { announce, nodeToTry, onRoundToday } from './demo/announce.js';
import { prepareFolder, saveState } from './demo/folder.js';
import { portFor } from './demo/free-ports.js';
import { loadDemo, type ShowStep } from './demo/load.js';
import { makeSecrets, writeCredentials } from './demo/secrets.js';
import { generateFleet, startLive } from './demo/simulator.js';
import { parseOptions } from './options.js';
import { startServer } from './start-server.js';
import { logFatalFaults, untilToldToStop } from './stop-signals.js';

const HELP = `Usage: brimline demo [--speed N] [--http PORT] [--mqtt PORT] [--ws PORT] [--dir DIR] [--keep] [--seed TEXT]

Makes an invented firm, Tern & Tide Container Gardens, with 14 accounts, 32 sites, 120 containers and 45 days of history,
and then runs the server with it while simulated nodes and crews go on living. It begins on Monday 31 August 2026 at
06:30 local time; a real minute is an hour. The faults among the pots are found by the analysis, or stay unfound: the
simulator tells the server nothing but readings, weather and what its crews report. Listens on this machine only.

  --speed N     business seconds in one real second, 1 to 600                     (60)
  --http PORT   API and pages; any free port where the usual one is taken         (8080)
  --mqtt PORT   MQTT 3.1.1; any free port where the usual one is taken            (1883)
  --ws PORT     MQTT over WebSocket; any free port where the usual one is taken   (9001)
  --dir DIR     where the demo is kept; emptied at the start                      (./demo-data)
  --keep        go on where a demo in DIR was stopped, instead of beginning anew; its simulated pots then hold what they
                would hold without the visits that were recorded, so some levels jump
  --seed TEXT   another seed makes another fleet of the same kind                 (tern-and-tide)

The log goes to DIR/demo.log, one JSON object a line.

Example:
  brimline demo --speed 60`;

/** Half past six on a Monday morning in Europe/Madrid. */
const START_BUSINESS_MS = Date.UTC(2026, 7, 31, 4, 30);
const USUAL_SPEED = 60;
const MAX_SPEED = 600;
const USUAL_SEED = 'tern-and-tide';

export const demo: Command = {
  name: 'demo',
  summary: 'a made-up firm, live, on this machine only',
  help: HELP,
  async run(args, terminal) {
    const { options } = parseOptions(args, {
      speed: 'value',
      http: 'value',
      mqtt: 'value',
      ws: 'value',
      dir: 'value',
      keep: 'flag',
      seed: 'value',
    });
    const speed = readSpeed(options.speed);
    const folder = await prepareFolder(options.dir ?? './demo-data', options.keep === true);
    const log = makeFileLog('info', folder.logFile);

    if (folder.kept === null) {
      terminal.progress('Simulating 45 days of 120 containers …');
      await generateFleet(options.seed ?? USUAL_SEED, folder.fleetDir, log);
      const { planner } = readSettings({ data: folder.dataDir }, {});
      await loadDemo(folder, START_BUSINESS_MS, planner, log, stepsOn(terminal.progress));
    }
    const ports = {
      http: await portFor(options.http, 8080),
      mqtt: await portFor(options.mqtt, 1883),
      ws: await portFor(options.ws, 9001),
    };
    // The clock begins when all is ready: nobody should miss the first business hours.
    const clock: ClockScale = {
      startBusinessMs: folder.kept?.businessMs ?? START_BUSINESS_MS,
      startProcessMs: Date.now(),
      speed,
    };
    const settings = readSettings({ data: folder.dataDir, host: '127.0.0.1', ...ports }, {}, clock);
    logFatalFaults(log);
    const toldToStop = untilToldToStop();
    const server = await startServer(settings, log, { demo: true });
    try {
      const secrets = await makeSecrets(server.app, folder);
      await writeCredentials(folder, secrets, server.url);
      const live = startLive(
        { fleetDir: folder.fleetDir, mqttUrl: server.mqttUrl ?? '', clock, credentialsFile: folder.credentialsFile },
        log.child({ component: 'simulator' }),
      );
      const [node, onRound] = await Promise.all([nodeToTry(server.app, secrets), onRoundToday(server.app)]);
      announce(terminal, server, secrets, node, onRound, speed);
      await toldToStop;
      terminal.err('Closing the gardens.');
      await live.stop();
    } finally {
      await saveState(folder, server.app.clock.nowMs());
      await server.stop();
    }
    terminal.err(`Closed. What happened is in ${folder.dir}; “brimline demo --keep” goes on from there.`);
  },
};

function readSpeed(text: string | undefined): number {
  if (text === undefined) return USUAL_SPEED;
  const speed = Number(text);
  if (!Number.isFinite(speed) || speed < 1 || speed > MAX_SPEED) {
    throw new UsageError(`--speed is “${text}”; a number from 1 to ${MAX_SPEED} was expected.`);
  }
  return speed;
}

const STEP_WORDS = {
  weather: 'Importing weather',
  readings: 'Importing readings',
  analysis: 'Analysing',
  rounds: 'Planning the rounds',
} as const;

function stepsOn(progress: (line: string) => void): ShowStep {
  return (step, doneFraction) => progress(`${STEP_WORDS[step]}: ${Math.floor(doneFraction * 100)} %`);
}
