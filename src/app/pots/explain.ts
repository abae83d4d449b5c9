import { assess, explain } from '../../analytics/analysis.js';
import type { Principal } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { ContainerId, EpochMs } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Message } from '../../domain/message.js';
import type { Forecast } from '../../domain/pot.js';
import { potAsKnown } from '../analysis/past-fold.js';
import { type App, allowed } from '../context.js';
import { localDaysOf } from '../fleet-view.js';
import { outlookOrShared } from '../weather/weather-observations.js';
import { weatherSkillAt } from '../weather/weather-skill.js';
import { containerOf } from './containers.js';

/**
 * How a container's numbers came about: the sentence that a dispatcher reads, the data used, the rate and its parts,
 * the assumptions.
 * @param atMs as it was known at this instant; past ones only
 * @returns nothing for a container that is not there
 */
export async function explainContainer(
  app: App,
  containerId: ContainerId,
  atMs: EpochMs = app.clock.nowMs(),
): Promise<readonly Message[]> {
  const past = await potAsKnown(app, containerId, atMs);
  if (past === null) return [];
  const { ctx, state } = past;
  const outlook = await outlookOrShared(app.store, ctx.site, localDaysOf(ctx.site.timeZone).dayOf(atMs), atMs);
  const weatherSkill = await weatherSkillAt(app.store, ctx.site, atMs);
  return explain({ ...ctx, weatherSkill }, state, atMs, outlook);
}

export interface PastExplanation {
  readonly atMs: EpochMs;
  /** The sentence, the data used, the rate and its parts, the assumptions. */
  readonly messages: readonly Message[];
  /** Computed now from what was known then. */
  readonly forecast: Forecast;
  /** The last forecast that was kept by then; null where none was in the two days before. */
  readonly said: Forecast | null;
}

/** A forecast is kept when it brings news, and at least once a day. */
const SAID_WITHIN_MS = 2 * DAY_MS;

/**
 * What could be said of a container at a past instant, beside what was said then.
 * @throws DomainError `not_found`; `invalid_input` for an instant to come
 */
export async function explainPast(
  app: App,
  who: Principal,
  containerId: ContainerId,
  atMs: EpochMs,
): Promise<PastExplanation> {
  const scope = allowed(who, 'containers.read');
  await containerOf(app, who, containerId);
  if (atMs > app.clock.nowMs()) {
    throw new DomainError('invalid_input', 'What will be known at a time to come cannot be explained.', {
      faults: [{ pointer: '?at', detail: 'lies in the future' }],
    });
  }
  const past = await potAsKnown(app, containerId, atMs);
  if (past === null) throw new Error(`container ${containerId} is in the registry and not in the analysis`);
  const { state } = past;
  const { site } = past.ctx;
  const outlook = await outlookOrShared(app.store, site, localDaysOf(site.timeZone).dayOf(atMs), atMs);
  const ctx = { ...past.ctx, weatherSkill: await weatherSkillAt(app.store, site, atMs) };
  const kept = await app.store.pots.forecasts(scope, containerId, atMs - SAID_WITHIN_MS, atMs + 1);
  return {
    atMs,
    messages: explain(ctx, state, atMs, outlook),
    forecast: assess(ctx, state, atMs, outlook).status.forecast,
    said: kept.at(-1) ?? null,
  };
}
