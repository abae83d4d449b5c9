import { z } from 'zod';
import {
  acceptOffer,
  askForPlan,
  changePlan,
  offersForSite,
  publishDraft,
  storyOfSite,
  supposePlan,
  undoPlan,
} from '../../app/planning/plan-desk.js';
import { planLookback } from '../../app/planning/plan-lookback.js';
import { planView } from '../../app/planning/plan-views.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { id, list, nothing } from '../schemas/common.js';
import * as schema from '../schemas/plan.js';
import { toWire } from '../wire.js';

export function addPlanRoutes(api: Api, { app, planner }: HttpDeps): void {
  const tags = ['plan'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/plan',
    schema: { tags, summary: 'Draft and published rounds of the coming 14 days', response: { 200: schema.plan } },
    handler: async (request) => toWire(await planView(app, planner, who(request))),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/plan/lookback',
    schema: {
      tags,
      summary: 'Planned against actual minutes, litres and kilometres; visits too early or too late; what was learnt',
      querystring: schema.lookbackQuery,
      response: { 200: schema.planLookback },
    },
    handler: async (request) => {
      const { from, to } = request.query;
      return toWire(await planLookback(app, who(request), { fromDay: from, toDay: to }));
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/plan/run',
    schema: {
      tags,
      summary: 'Ask for a new draft; the run goes on after the answer, and a change `plan_version` tells of its end',
      response: { 202: nothing },
    },
    handler: async (request, reply) => {
      askForPlan(planner, who(request));
      return reply.code(202).send();
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/plan/changes',
    schema: {
      tags,
      summary: 'Change the draft by hand, or see what a change would bring',
      body: schema.changePlan,
      response: { 200: schema.planConsequences },
    },
    handler: async (request) => {
      const { edits, dryRun, seq } = request.body;
      const answer = await changePlan(planner, who(request), { edits, dryRun, seq });
      const { refused, effects, changes, extraCost, extraDriveMinutes, content, changedRounds } = answer.edited;
      const done = !dryRun && refused.length === 0;
      const { totals } = content;
      return toWire({
        done,
        seq: answer.seq,
        refused,
        effects,
        changes,
        extraCost,
        extraDriveMinutes,
        rounds: changedRounds,
        totals,
      });
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/plan/undo',
    schema: { tags, summary: 'Go back to the draft before the last one', response: { 204: nothing } },
    handler: async (request, reply) => {
      await undoPlan(planner, who(request));
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/plan/publish',
    schema: {
      tags,
      summary: 'Make the draft the rounds that technicians see',
      body: schema.publishPlan,
      response: { 200: schema.published },
    },
    handler: async (request) => publishDraft(planner, who(request), request.body.seq),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/plan/what-if',
    schema: {
      tags,
      summary: 'Plan a copy under a supposition; the draft stays as it is',
      body: schema.supposition,
      response: { 200: schema.supposed },
    },
    handler: async (request) => toWire(await supposePlan(planner, who(request), request.body)),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/plan/sites/:id',
    schema: {
      tags,
      summary: 'Why a site is visited when it is, why not today, and what its locks cost',
      params,
      response: { 200: schema.siteStory },
    },
    handler: async (request) => toWire(await storyOfSite(planner, who(request), request.params.id)),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/plan/offers',
    schema: {
      tags,
      summary: 'The best ways to fit an urgent site into today’s rounds',
      body: schema.askOffers,
      response: { 200: z.object({ items: list(schema.offer) }) },
    },
    handler: async (request) => ({
      items: toWire(await offersForSite(app, planner, who(request), request.body.siteId)),
    }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/plan/offers/accept',
    schema: {
      tags,
      summary: 'Put an urgent site on somebody’s round of today, at once',
      body: schema.acceptOffer,
      response: { 200: schema.accepted },
    },
    handler: async (request) => {
      const { siteId, personId } = request.body;
      return {
        refused: toWire(await acceptOffer(app, planner, who(request), { siteId, technicianId: personId })),
      };
    },
  });
}
