import { writeFleet } from '../files/write-fleet.js';
import { DEFAULT_FIRST_DAY, PROFILES } from '../fleet/random-fleet.js';
import { planAgain, type Replan } from '../fleet/replan.js';
import { CLIMATE_IDS } from '../weather/climates.js';
import { Arguments } from './usage.js';

const HELP = `Usage: node dist/simulators/main.js fleet --seed SEED --out DIR [options]

Simulates a fleet of self-watering containers and writes
  DIR/fleet.json, readings.csv, weather.csv, origins.csv   what the product may see
  DIR/truth/                                               what really happened; the product never reads it

  --seed SEED         any text or number; the same seed gives the same bytes
  --out DIR           folder to write; made if it is not there
  --profile NAME      ${PROFILES.join(', ')}, or demo: 120 pots, 45 days, as the story wants them (default healthy)
  --containers N      pots (default 50)
  --days N            days of history (default 365)
  --climate NAME      ${CLIMATE_IDS.join(', ')} or mixed (default mixed)
  --first-day DATE    first local day (default ${DEFAULT_FIRST_DAY})
  --origin-days N     days between the origins of one pot, 0 for none (default 4)
  --moisture SHARE    share of nodes with a moisture probe, 0-1 (default 0.94)
  --hourly            also write the true level of every hour, truth/hourly.csv

Example: node dist/simulators/main.js fleet --seed 7 --out fleet-7 --profile leaks --containers 20
`;

export async function fleetCommand(args: readonly string[]): Promise<void> {
  const given = Arguments.parse(
    args,
    {
      seed: { type: 'string' },
      out: { type: 'string' },
      profile: { type: 'string', default: 'healthy' },
      containers: { type: 'string', default: '50' },
      days: { type: 'string', default: '365' },
      climate: { type: 'string', default: 'mixed' },
      'first-day': { type: 'string', default: DEFAULT_FIRST_DAY },
      'origin-days': { type: 'string', default: '4' },
      moisture: { type: 'string', default: '0.94' },
      hourly: { type: 'boolean' },
    },
    HELP,
  );
  if (given === null) return;
  const out = given.required('out');
  const seed = given.required('seed');
  const profile = given.choice('profile', [...PROFILES, 'demo']);
  const replan: Replan =
    profile === 'demo'
      ? { kind: 'demo', seed }
      : {
          kind: 'random',
          options: {
            seed,
            profile,
            containers: given.number('containers', 1, 2000),
            days: given.number('days', 10, 1500),
            firstDay: given.required('first-day'),
            climate: given.choice('climate', [...CLIMATE_IDS, 'mixed']),
            moistureShare: given.number('moisture', 0, 1),
          },
        };
  const plan = planAgain(replan);
  const written = writeFleet(plan, out, {
    originEveryDays: profile === 'demo' ? 0 : given.number('origin-days', 0, 60),
    hourlyTruth: given.flag('hourly'),
    replan,
    progress: (line) => {
      if (process.stderr.isTTY) process.stderr.write(`\r${line}   `);
    },
  });
  console.log(
    `${written.containers} containers, ${written.readings} readings, ${written.origins} origins in ${out}; ` +
      `water balances close to ${written.largestBalanceErrorLitres.toExponential(1)} L`,
  );
}
