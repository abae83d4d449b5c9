import type { PlanEdit } from '../../dispatch/edits.js';
import type { Offer, SiteStory, Supposed, Supposition } from '../../dispatch/questions.js';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { Actor } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { PersonId, SiteId } from '../../domain/ids.js';
import type { Message } from '../../domain/message.js';
import { type App, allowed } from '../context.js';
import type { PlanAnswers } from './plan-answers.js';
import type { Planner } from './planner.js';
import type { Published } from './publish-plan.js';

const actorOf = (who: Principal): Actor => ({ kind: 'person', id: who.personId });

/** Asks for a run; it goes on after the answer. */
export function askForPlan(planner: Planner, who: Principal): void {
  allowed(who, 'plan.write');
  planner.request('asked');
}

export function changePlan(
  planner: Planner,
  who: Principal,
  input: { readonly edits: readonly PlanEdit[]; readonly dryRun: boolean; readonly seq: number | null },
): Promise<{ readonly edited: PlanAnswers['edit']; readonly seq: number | null }> {
  allowed(who, 'plan.write');
  return planner.change(input.edits, { dryRun: input.dryRun, seq: input.seq, actor: actorOf(who) });
}

export function undoPlan(planner: Planner, who: Principal): Promise<void> {
  allowed(who, 'plan.write');
  return planner.undo(actorOf(who));
}

export function publishDraft(planner: Planner, who: Principal, seq: number | null): Promise<Published> {
  allowed(who, 'plan.write');
  return planner.publish(seq, actorOf(who));
}

export function supposePlan(planner: Planner, who: Principal, supposition: Supposition): Promise<Supposed> {
  allowed(who, 'plan.read');
  return planner.suppose(supposition);
}

/** @throws DomainError `not_found` for a site without containers */
export async function storyOfSite(planner: Planner, who: Principal, siteId: SiteId): Promise<SiteStory> {
  allowed(who, 'plan.read');
  const story = await planner.story(siteId);
  if (story === null) throw new DomainError('not_found', `There is no site ${siteId} with containers.`);
  return story;
}

export async function offersForSite(
  app: App,
  planner: Planner,
  who: Principal,
  siteId: SiteId,
): Promise<readonly Offer[]> {
  allowed(who, 'plan.read');
  await requireSite(app, siteId);
  return planner.offers(siteId);
}

export async function acceptOffer(
  app: App,
  planner: Planner,
  who: Principal,
  input: { readonly siteId: SiteId; readonly technicianId: PersonId },
): Promise<readonly Message[]> {
  allowed(who, 'plan.write');
  await requireSite(app, input.siteId);
  return planner.accept(input.siteId, input.technicianId, actorOf(who));
}

async function requireSite(app: App, siteId: SiteId): Promise<void> {
  if ((await app.store.registry.site(WHOLE_FLEET, siteId)) === null) {
    throw new DomainError('not_found', `There is no site ${siteId}.`);
  }
}
