import { createReadStream, existsSync } from 'node:fs';
import { join } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { DomainError } from '../domain/errors.js';
import type { Api } from './api.js';
import { sendProblem } from './problem.js';

const NOT_BUILT = `<!doctype html><html lang="en"><meta charset="utf-8"><title>Brimline: pages not built</title>
<h1>The pages are not built</h1>
<p>The server runs, and its API answers under <a href="/api/openapi.json">/api</a>. To see the pages, stop it, run
<code>npm run build:dashboard</code> in the project's folder, and start it again.</p></html>`;

/**
 * Serves the built dashboard. Its addresses are its own business, so a page request that no file answers gets
 * `index.html`; anything else that is not there is a problem.
 */
export async function addDashboard(api: Api, dashboardDir: string | null): Promise<void> {
  const index = dashboardDir === null ? null : join(dashboardDir, 'index.html');
  const built = index !== null && existsSync(index);
  if (built && dashboardDir !== null) {
    await api.register(fastifyStatic, {
      root: dashboardDir,
      index: 'index.html',
      wildcard: true,
      // The build puts a .br and a .gz beside each file.
      preCompressed: true,
      // Files under assets/ bear a hash of their contents in their names.
      setHeaders: (response, path) => {
        const immutable = path.includes('/assets/');
        response.header('cache-control', immutable ? 'public, max-age=31536000, immutable' : 'no-cache');
      },
    });
  }
  api.setNotFoundHandler((request: FastifyRequest, reply: FastifyReply) => {
    const wantsPage = request.method === 'GET' && String(request.headers.accept ?? '').includes('text/html');
    if (!wantsPage || request.url.startsWith('/api/')) {
      const path = request.url.split('?', 1)[0];
      sendProblem(
        new DomainError('not_found', `${request.method} ${path} is not an address of this server.`),
        request,
        reply,
      );
      return;
    }
    reply.type('text/html; charset=utf-8').header('cache-control', 'no-cache');
    if (built && index !== null) reply.send(createReadStream(index));
    else reply.code(503).send(NOT_BUILT);
  });
}
