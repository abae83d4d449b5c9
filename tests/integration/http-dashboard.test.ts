import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../support/server.js';

describe('what the page’s headers name ahead of it', () => {
  let server: TestServer;
  beforeAll(async () => {
    server = await startTestServer();
  });
  afterAll(async () => {
    await server.close();
  });

  const linksFor = async (cookie: string | null): Promise<string> => {
    const answer = await fetch(server.url, { headers: cookie === null ? {} : { cookie } });
    return answer.headers.get('link') ?? '';
  };

  it('are the files that it begins with, which are there', async () => {
    const links = await linksFor(null);
    const paths = [...links.matchAll(/<([^>]+)>/g)].map((match) => match[1] ?? '');
    expect(paths.filter((path) => path.endsWith('.js'))).not.toHaveLength(0);
    expect(paths.filter((path) => path.endsWith('.css'))).toHaveLength(1);
    for (const path of paths) expect((await fetch(`${server.url}${path}`)).status).toBe(200);
  });

  it('and the round for a technician alone', async () => {
    expect(await linksFor((await server.login('technician')).cookie)).toContain('</api/v1/rounds>');
    expect(await linksFor((await server.login('dispatcher')).cookie)).not.toContain('/api/');
    expect(await linksFor(null)).not.toContain('/api/');
  });
});
