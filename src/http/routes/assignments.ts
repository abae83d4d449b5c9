import { z } from 'zod';
import { makeCredential, revokeCredential } from '../../app/people/credentials.js';
import {
  assign,
  assignments,
  changeAssignment,
  endAssignment,
  removeAssignment,
  swapNodes,
} from '../../app/pots/assignments.js';
import type { Credential } from '../../domain/credential.js';
import { type Api, type HttpDeps, pageRequest, who, wirePage } from '../api.js';
import { id, list, longId, nothing, pageOf, pageQuery } from '../schemas/common.js';
import { type CredentialJson, credential, madeCredential, newCredential } from '../schemas/ingest.js';
import { assignment, assignmentChange, assignmentEnd, newAssignment, swap } from '../schemas/registry.js';
import { toWire } from '../wire.js';

export function addAssignmentRoutes(api: Api, { app, processClock }: HttpDeps): void {
  const tags = ['commissioning'];
  const params = z.object({ id: longId });

  api.route({
    method: 'GET',
    url: '/api/v1/assignments',
    schema: {
      tags,
      summary: 'Which node measured which container, and when',
      querystring: pageQuery.extend({ containerId: id.optional(), nodeId: id.optional() }),
      response: { 200: pageOf(assignment) },
    },
    handler: async (request) => {
      const { containerId, nodeId } = request.query;
      const filter = { containerId: containerId ?? null, nodeId: nodeId ?? null };
      return wirePage(await assignments(app, who(request), pageRequest(request.query), filter));
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/assignments',
    schema: {
      tags,
      summary: 'Put a node on a container, also days after it was done; history follows',
      body: newAssignment,
      response: { 201: assignment },
    },
    handler: async (request, reply) => {
      const { from, to, ...rest } = request.body;
      return reply.code(201).send(toWire(await assign(app, who(request), { ...rest, fromMs: from, toMs: to })));
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/assignments/swap',
    schema: {
      tags,
      summary: 'Two nodes were mixed up: from an instant on each belongs to the other container',
      body: swap,
      response: { 200: z.object({ items: list(assignment) }) },
    },
    handler: async (request) => {
      const { containerIds, at } = request.body;
      return { items: toWire(await swapNodes(app, who(request), { containerIds, atMs: at })) };
    },
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/assignments/:id',
    schema: {
      tags,
      summary: 'Change when an assignment began and ended, and where its zero lies; history follows',
      params,
      body: assignmentChange,
      response: { 200: assignment },
    },
    handler: async (request) => {
      const { from, to, zeroMm } = request.body;
      const change = { fromMs: from, toMs: to, zeroMm };
      return toWire(await changeAssignment(app, who(request), request.params.id, change));
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/assignments/:id/end',
    schema: {
      tags,
      summary: 'Take a node off its container',
      params,
      body: assignmentEnd,
      response: { 200: assignment },
    },
    handler: async (request) => toWire(await endAssignment(app, who(request), request.params.id, request.body.to)),
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/assignments/:id',
    schema: { tags, summary: 'Remove an assignment that was never true', params, response: { 204: nothing } },
    handler: async (request, reply) => {
      await removeAssignment(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/credentials',
    schema: {
      tags,
      summary: 'Make MQTT credentials; they replace those that the principal had',
      body: newCredential,
      response: { 201: madeCredential },
    },
    handler: async (request, reply) => {
      const made = await makeCredential(app, who(request), request.body, processClock.nowMs());
      return reply.code(201).send({ credential: withoutHash(made.credential), secret: made.secret });
    },
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/credentials/:id',
    schema: {
      tags,
      summary: 'Revoke a principal’s MQTT credentials',
      params: z.object({ id }),
      response: { 200: credential },
    },
    handler: async (request) => withoutHash(await revokeCredential(app, who(request), request.params.id)),
  });
}

function withoutHash({ secretHash: _kept, previousHash: _former, ...rest }: Credential): CredentialJson {
  return toWire(rest);
}
