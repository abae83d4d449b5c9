import { createContext } from 'preact';
import { useContext, useMemo, useState } from 'preact/hooks';
import { ApiRefusal } from '../api/client.js';
import type { Plan, PlanConsequences, PlanEdit } from '../api/views.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';

/** What the side of the board shows. */
export type Aside =
  | { readonly kind: 'stop'; readonly siteId: string; readonly day: string | null; readonly personId: string | null }
  | { readonly kind: 'round'; readonly personId: string; readonly day: string }
  | { readonly kind: 'brings'; readonly edits: readonly PlanEdit[]; readonly answer: PlanConsequences }
  | { readonly kind: 'sick' }
  | { readonly kind: 'urgent' }
  | { readonly kind: 'what_if' };

/** How people call sites and technicians; one object as long as the plan is one. */
export interface PlanNames {
  siteName(id: string): string;
  personName(id: string): string;
}

export interface PlanDesk extends PlanNames {
  readonly plan: Plan;
  readonly aside: Aside | null;
  readonly busy: boolean;
  /** False for who may look but not plan. */
  readonly mayPlan: boolean;
  open(aside: Aside | null): void;
  /** Asks what a change would bring, and shows it; nothing is done. */
  ask(edits: readonly PlanEdit[]): void;
  /** Does what was asked about. */
  apply(edits: readonly PlanEdit[]): void;
  undo(): void;
  run(work: () => Promise<void>): void;
}

export const PlanDeskSlot = createContext<PlanDesk | null>(null);

export function usePlanDesk(): PlanDesk {
  const desk = useContext(PlanDeskSlot);
  if (desk === null) throw new Error('a part of the board was rendered outside of it');
  return desk;
}

function namesOf(plan: Plan | null): PlanNames {
  const siteNames = new Map(plan?.sites.map((site) => [site.id, site.name]));
  const personNames = new Map(plan?.people.map((person) => [person.id, person.name]));
  return { siteName: (id) => siteNames.get(id) ?? id, personName: (id) => personNames.get(id) ?? id };
}

export function useMakePlanDesk(plan: Plan | null): PlanDesk | null {
  const { voice, me, client, cache, announce } = useApp();
  const [aside, open] = useState<Aside | null>(null);
  const [busy, run] = useBusy();
  const names = useMemo(() => namesOf(plan), [plan]);
  if (plan === null) return null;
  const seq = plan.draft?.seq ?? null;

  async function guarded(work: () => Promise<void>): Promise<void> {
    try {
      await work();
    } catch (fault) {
      const stale = fault instanceof ApiRefusal && fault.problem.status === 409;
      announce(
        stale
          ? `${voice.say('board.stale')} ${fault.problem.detail}`
          : voice.say('today.did_fail', { detail: faultText(voice, fault) }),
      );
      if (stale) await cache.refresh('plan');
    }
  }

  const change = async (edits: readonly PlanEdit[], dryRun: boolean): Promise<PlanConsequences> =>
    (await client.send('POST', '/plan/changes', { edits, dryRun, seq })) as unknown as PlanConsequences;

  const undo = (): void =>
    run(() =>
      guarded(async () => {
        await client.send('POST', '/plan/undo', {});
        await cache.refresh('plan');
        announce(voice.say('board.did_undo'));
      }),
    );

  return {
    plan,
    aside,
    busy,
    mayPlan: (me.permissions['plan.write'] ?? 'none') !== 'none',
    open,
    ...names,
    ask: (edits) =>
      run(() =>
        guarded(async () => {
          open({ kind: 'brings', edits, answer: await change(edits, true) });
        }),
      ),
    apply: (edits) =>
      run(() =>
        guarded(async () => {
          const answer = await change(edits, false);
          if (!answer.done) {
            open({ kind: 'brings', edits, answer });
            return;
          }
          open(null);
          await cache.refresh('plan');
          announce(voice.say('board.did'), undo);
        }),
      ),
    undo,
    run: (work) => run(() => guarded(work)),
  };
}
