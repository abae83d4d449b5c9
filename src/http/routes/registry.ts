import { z } from 'zod';
import { accounts, gateways, nodes, saveAccount, saveGateway, saveNode, saveSite, sites } from '../../app/registry.js';
import { type Api, type HttpDeps, pageRequest, who, wirePage } from '../api.js';
import { id, pageOf, pageQuery } from '../schemas/common.js';
import {
  account,
  accountChange,
  gateway,
  gatewayChange,
  node,
  nodeChange,
  site,
  siteChange,
} from '../schemas/registry.js';

export function addRegistryRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['registry'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/accounts',
    schema: { tags, summary: 'Accounts', querystring: pageQuery, response: { 200: pageOf(account) } },
    handler: async (request) => wirePage(await accounts(app, who(request), pageRequest(request.query))),
  });
  api.route({
    method: 'POST',
    url: '/api/v1/accounts',
    schema: { tags, summary: 'Add an account', body: account, response: { 201: account } },
    handler: async (request, reply) =>
      reply.code(201).send(await saveAccount(app, who(request), 'create', request.body)),
  });
  api.route({
    method: 'PUT',
    url: '/api/v1/accounts/:id',
    schema: { tags, summary: 'Change an account', params, body: accountChange, response: { 200: account } },
    handler: (request) => saveAccount(app, who(request), 'replace', { ...request.body, id: request.params.id }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/sites',
    schema: { tags, summary: 'Sites', querystring: pageQuery, response: { 200: pageOf(site) } },
    handler: async (request) => wirePage(await sites(app, who(request), pageRequest(request.query))),
  });
  api.route({
    method: 'POST',
    url: '/api/v1/sites',
    schema: { tags, summary: 'Add a site', body: site, response: { 201: site } },
    handler: async (request, reply) => reply.code(201).send(await saveSite(app, who(request), 'create', request.body)),
  });
  api.route({
    method: 'PUT',
    url: '/api/v1/sites/:id',
    schema: { tags, summary: 'Change a site', params, body: siteChange, response: { 200: site } },
    handler: (request) => saveSite(app, who(request), 'replace', { ...request.body, id: request.params.id }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/gateways',
    schema: { tags, summary: 'Gateways', querystring: pageQuery, response: { 200: pageOf(gateway) } },
    handler: async (request) => wirePage(await gateways(app, who(request), pageRequest(request.query))),
  });
  api.route({
    method: 'POST',
    url: '/api/v1/gateways',
    schema: { tags, summary: 'Add a gateway', body: gateway, response: { 201: gateway } },
    handler: async (request, reply) =>
      reply.code(201).send(await saveGateway(app, who(request), 'create', request.body)),
  });
  api.route({
    method: 'PUT',
    url: '/api/v1/gateways/:id',
    schema: { tags, summary: 'Change a gateway', params, body: gatewayChange, response: { 200: gateway } },
    handler: (request) => saveGateway(app, who(request), 'replace', { ...request.body, id: request.params.id }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/nodes',
    schema: { tags, summary: 'Sensor nodes', querystring: pageQuery, response: { 200: pageOf(node) } },
    handler: async (request) => wirePage(await nodes(app, who(request), pageRequest(request.query))),
  });
  api.route({
    method: 'POST',
    url: '/api/v1/nodes',
    schema: { tags, summary: 'Add a sensor node', body: node, response: { 201: node } },
    handler: async (request, reply) => reply.code(201).send(await saveNode(app, who(request), 'create', request.body)),
  });
  api.route({
    method: 'PUT',
    url: '/api/v1/nodes/:id',
    schema: { tags, summary: 'Change a sensor node', params, body: nodeChange, response: { 200: node } },
    handler: (request) => saveNode(app, who(request), 'replace', { ...request.body, id: request.params.id }),
  });
}
