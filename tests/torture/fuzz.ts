import { parseArgs } from 'node:util';
import { fuzzFiles } from './fuzz-files.js';
import { fuzzHttp } from './fuzz-http.js';
import { fuzzMqtt } from './fuzz-mqtt.js';

/** One door that takes bytes from outside. */
export interface Target {
  readonly name: string;
  run(plan: FuzzPlan): Promise<FuzzOutcome>;
}

export interface FuzzPlan {
  readonly seed: number;
  readonly untilMs: number;
}

export interface FuzzOutcome {
  readonly inputs: number;
  /** Inputs that something other than a refusal in words came of, each so that it can be sent again. */
  readonly faults: readonly string[];
}

const HELP = `Usage: npm run fuzz -- [--minutes N] [--seed N]

Sends what is broken, or nearly right, to everything that takes bytes from outside: SenML in JSON and CBOR, readings and
weather as CSV, fleet files, MQTT packets on the open port, and every route of the API. Each has to be taken or refused in
words; anything else is printed with the input, and ends the run with 1.

  --minutes N   in all, shared among the doors   (1)
  --seed N      other inputs                     (1)`;

async function main(): Promise<number> {
  const { values } = parseArgs({
    options: {
      minutes: { type: 'string', default: '1' },
      seed: { type: 'string', default: '1' },
      help: { type: 'boolean', short: 'h', default: false },
    },
  });
  if (values.help) {
    console.log(HELP);
    return 0;
  }
  const minutes = Number(values.minutes);
  const seed = Number(values.seed);
  if (!(minutes > 0) || !Number.isInteger(seed)) {
    console.error('--minutes takes a number above 0, --seed a whole number.');
    return 2;
  }
  const targets = [...fuzzFiles, fuzzMqtt, fuzzHttp];
  let faulty = 0;
  console.log('door          inputs  faults');
  for (const target of targets) {
    const outcome = await target.run({ seed, untilMs: Date.now() + (minutes * 60_000) / targets.length });
    console.log(
      `${target.name.padEnd(12)}${String(outcome.inputs).padStart(8)}${String(outcome.faults.length).padStart(8)}`,
    );
    for (const fault of differentOnes(outcome.faults)) console.log(`  FAULT: ${fault}`);
    faulty += outcome.faults.length;
  }
  return faulty > 0 ? 1 : 0;
}

/** One of each first line: a thousand inputs may hit the same fault. */
function differentOnes(faults: readonly string[]): readonly string[] {
  return [...new Map(faults.map((fault) => [fault.split('\n', 1)[0], fault])).values()].slice(0, 5);
}

process.exitCode = await main();
