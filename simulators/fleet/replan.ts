import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { planDemoFleet } from '../demo/demo-fleet.js';
import { planRandomFleet, type RandomFleetOptions } from './random-fleet.js';
import type { FleetPlan } from './world.js';

/** What a fleet's plan is made from; kept with the truth, so that the same fleet can go on live. */
export type Replan =
  | { readonly kind: 'demo'; readonly seed: string }
  | { readonly kind: 'random'; readonly options: RandomFleetOptions };

export function planAgain(replan: Replan): FleetPlan {
  return replan.kind === 'demo' ? planDemoFleet(replan.seed) : planRandomFleet(replan.options);
}

/** The plan of a fleet folder. @throws Error that names the folder where it is not one */
export function planOfFolder(dir: string): FleetPlan {
  const path = join(dir, 'truth', 'meta.json');
  let replan: Replan | null | undefined;
  try {
    replan = (JSON.parse(readFileSync(path, 'utf8')) as { replan?: Replan | null }).replan;
  } catch (error) {
    throw new Error(
      `${dir} is no folder of the fleet simulator: ${error instanceof Error ? error.message : String(error)}`,
    );
  }
  if (replan == null) throw new Error(`${path} does not say what the fleet was made from; make it again with "fleet".`);
  return planAgain(replan);
}
