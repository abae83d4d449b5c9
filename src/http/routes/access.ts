import { z } from 'zod';
import { accessLooks, lookAtSiteAccess, saveSiteAccess } from '../../app/people/site-access.js';
import { type Api, type HttpDeps, pageRequest, who, wirePage } from '../api.js';
import { accessLook, siteAccess, siteAccessChange } from '../schemas/access.js';
import { id, pageOf, pageQuery } from '../schemas/common.js';

/** How to get into a site, apart from the site itself: it is opened for whoever needs it, and each look is recorded. */
export function addAccessRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['registry'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/sites/:id/access',
    schema: {
      tags,
      summary: 'How to get into a site, and whom to call there; to a technician on the day of an own stop',
      params,
      response: { 200: siteAccess },
    },
    handler: (request) => lookAtSiteAccess(app, who(request), request.params.id),
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/sites/:id/access',
    schema: {
      tags,
      summary: 'Write how to get into a site, and whom to call there',
      params,
      body: siteAccessChange,
      response: { 200: siteAccess },
    },
    handler: (request) => saveSiteAccess(app, who(request), { ...request.body, siteId: request.params.id }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/access-looks',
    schema: {
      tags: ['people'],
      summary: 'Who was shown how to get in where, newest first',
      querystring: pageQuery,
      response: { 200: pageOf(accessLook) },
    },
    handler: async (request) => wirePage(await accessLooks(app, who(request), pageRequest(request.query))),
  });
}
