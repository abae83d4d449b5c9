import { z } from 'zod';
import { alerts, markAlertRead } from '../../app/fieldwork/alerts.js';
import { addTask, cancelTask, task, tasks } from '../../app/fieldwork/tasks.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { list, longId } from '../schemas/common.js';
import * as schema from '../schemas/work.js';
import { toWire } from '../wire.js';

export function addTaskRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['work'];
  const params = z.object({ id: longId });

  api.route({
    method: 'GET',
    url: '/api/v1/tasks',
    schema: {
      tags,
      summary: 'Tasks, by due time',
      querystring: schema.tasksQuery,
      response: { 200: z.object({ items: list(schema.taskView) }) },
    },
    handler: async (request) => {
      const { openOnly, siteId, containerId } = request.query;
      const query = { openOnly, siteId: siteId ?? null, containerId: containerId ?? null };
      return { items: toWire(await tasks(app, who(request), query)) };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/tasks',
    schema: {
      tags,
      summary: 'Ask for a task; where one of its kind is open at the container, the request joins it',
      body: schema.newTask,
      response: { 201: schema.taskHistory },
    },
    handler: async (request, reply) => {
      const { dueBy, ...rest } = request.body;
      return reply.code(201).send(toWire(await addTask(app, who(request), { ...rest, dueByMs: dueBy })));
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/tasks/:id',
    schema: { tags, summary: 'One task with its history', params, response: { 200: schema.taskHistory } },
    handler: async (request) => toWire(await task(app, who(request), request.params.id)),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/tasks/:id/cancel',
    schema: {
      tags,
      summary: 'Cancel an open task',
      params,
      body: schema.cancelTask,
      response: { 200: schema.taskHistory },
    },
    handler: async (request) => toWire(await cancelTask(app, who(request), request.params.id, request.body.reason)),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/alerts',
    schema: {
      tags,
      summary: 'One’s own alerts, newest first',
      querystring: schema.alertsQuery,
      response: { 200: z.object({ items: list(schema.alert) }) },
    },
    handler: async (request) => ({ items: toWire(await alerts(app, who(request), request.query)) }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/alerts/:id/read',
    schema: { tags, summary: 'Mark one’s own alert as read', params, response: { 200: schema.alert } },
    handler: async (request) => toWire(await markAlertRead(app, who(request), request.params.id)),
  });
}
