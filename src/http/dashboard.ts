import { createReadStream, existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { DomainError } from '../domain/errors.js';
import type { Api, HttpDeps } from './api.js';
import type { SessionCookie } from './cookies.js';
import { identify } from './guards.js';
import { sendProblem } from './problem.js';

const NOT_BUILT = `<!doctype html><html lang="en"><meta charset="utf-8"><title>Brimline: pages not built</title>
<h1>The pages are not built</h1>
<p>The server runs, and its API answers under <a href="/api/openapi.json">/api</a>. To see the pages, stop it, run
<code>npm run build:dashboard</code> in the project's folder, and start it again.</p></html>`;

/** As the page's own `fetch` asks, or the browser would ask twice (HTML standard, `preload`). */
const ROUND_FIRST = '</api/v1/rounds>; rel=preload; as=fetch; crossorigin=anonymous';

/** The scripts and styles that the page begins with, as its headers name them (RFC 8288). */
function namedFirst(page: string): readonly string[] {
  const tags = page.match(/<(?:script|link)\b[^>]*>/g) ?? [];
  return tags.flatMap((tag) => {
    const path = /(?:src|href)="(\/assets\/[^"]+)"/.exec(tag)?.[1];
    if (path === undefined) return [];
    const how = tag.includes('rel="stylesheet"') ? 'preload; as=style' : 'modulepreload';
    return [`<${path}>; rel=${how}; crossorigin=anonymous`];
  });
}

/**
 * Serves the built dashboard. Its addresses are its own business, so a page request that no file answers gets
 * `index.html`; anything else that is not there is a problem.
 */
export async function addDashboard(api: Api, deps: HttpDeps, cookie: SessionCookie): Promise<void> {
  const { dashboardDir } = deps;
  const index = dashboardDir === null ? null : join(dashboardDir, 'index.html');
  const built = index !== null && existsSync(index);
  if (built && dashboardDir !== null) {
    const files = namedFirst(await readFile(join(dashboardDir, 'index.html'), 'utf8'));
    // A browser begins on what the headers name before it has read the page. A technician's phone asks for the round as well.
    api.addHook('onRequest', async (request, reply) => {
      if (request.method !== 'GET' || request.url.split('?', 1)[0] !== '/') return;
      const somebody = await identify(deps, request, cookie);
      const roundFirst = somebody?.person.role === 'technician';
      reply.header('link', [...files, ...(roundFirst ? [ROUND_FIRST] : [])].join(', '));
    });
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
