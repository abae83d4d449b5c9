import { scoreReplay } from '../score/score-fleet.js';
import { Arguments } from './usage.js';

const HELP = `Usage: node dist/simulators/main.js score --truth DIR --out DIR [--fleet-dir DIR]

The same as "brimline score": compares a replay with the truth of a simulated fleet, beside the naive ways.

  --truth DIR      the folder "truth" that the fleet simulator wrote
  --out DIR        the folder that "brimline replay" wrote into
  --fleet-dir DIR  where fleet.json and readings.csv are (default: the folder around --truth)

Example: node dist/simulators/main.js score --truth fleet-7/truth --out fleet-7/out
`;

export async function scoreCommand(args: readonly string[]): Promise<void> {
  const given = Arguments.parse(
    args,
    { truth: { type: 'string' }, out: { type: 'string' }, 'fleet-dir': { type: 'string' } },
    HELP,
  );
  if (given === null) return;
  await scoreReplay(
    { truthDir: given.required('truth'), outDir: given.required('out'), fleetDir: given.optional('fleet-dir') },
    (line) => console.log(line),
  );
}
