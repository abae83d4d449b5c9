import swagger from '@fastify/swagger';
import { jsonSchemaTransform, jsonSchemaTransformObject } from 'fastify-type-provider-zod';
import type { Api } from './api.js';
import { problem } from './schemas/common.js';

const TAGS = [
  { name: 'session', description: 'Signing in and out; who one is' },
  { name: 'people', description: 'Who works here, and what they may do' },
  { name: 'registry', description: 'Accounts, sites, gateways, nodes' },
  { name: 'containers', description: 'Containers: what is known of each, its history, its water' },
  { name: 'commissioning', description: 'Containers, nodes and their assignments made and changed' },
  { name: 'work', description: 'Today, rounds, tasks, visits, alerts' },
  { name: 'plan', description: 'The planner: draft rounds, changes by hand, offers, what it goes by' },
  { name: 'alarms', description: 'Alarms with the states of ANSI/ISA-18.2 and IEC 62682' },
  {
    name: 'contacts',
    description: 'How people and systems are told: rules, addresses, calendars, what was not delivered',
  },
  { name: 'weather', description: 'Weather by site and day' },
  { name: 'quarantine', description: 'What nodes sent and was refused' },
  { name: 'changes', description: 'Live changes and the audit trail' },
];

const DESCRIPTION = `Levels, litres, dry dates, alarms, rounds and the account of every litre.

SI units; instants are ISO 8601 in UTC; a date is a site-local day. Lists page by cursor. Refusals are problem details
(RFC 9457). A session is a cookie from POST /api/v1/session; programs send a token from POST /api/v1/tokens as
\`Authorization: Bearer\`, which does what it was made for and no more. Requests that change something bear the header \`X-Brimline\`,
with any value. Requests that bear an \`Origin\` have to come from this server’s own pages.`;

/** Describes all routes registered after it; GET /api/openapi.json serves the description. */
export async function addOpenApi(api: Api, cookieName: string): Promise<void> {
  await api.register(swagger, {
    openapi: {
      openapi: '3.1.1',
      info: {
        title: 'Brimline',
        version: '1',
        description: DESCRIPTION,
      },
      servers: [{ url: '/' }],
      tags: TAGS,
      components: {
        securitySchemes: {
          session: { type: 'apiKey', in: 'cookie', name: cookieName },
          token: { type: 'http', scheme: 'bearer' },
        },
      },
      security: [{ session: [] }, { token: [] }],
    },
    transform: jsonSchemaTransform,
    transformObject: jsonSchemaTransformObject,
  });
  api.addHook('onRoute', (route) => {
    if (route.schema === undefined) return;
    const [method] = Array.isArray(route.method) ? route.method : [route.method];
    const schema = { operationId: operationId(String(method), route.url), ...route.schema };
    schema.response = {
      ...(typeof schema.response === 'object' ? schema.response : {}),
      default: { description: 'Refused', content: { 'application/problem+json': { schema: problem } } },
    };
    if (route.config?.access === 'public') schema.security = [];
    if (route.config?.access === 'session_only') schema.security = [{ session: [] }];
    route.schema = schema;
  });
}

/** `PUT /api/v1/people/:id/password` becomes `put_people_id_password`. */
function operationId(method: string, url: string): string {
  const path = url.replace(/^\/api\/(v1\/)?/, '').replace(/[^A-Za-z0-9]+/g, '_');
  return `${method.toLowerCase()}_${path}`.replace(/_+$/, '');
}
