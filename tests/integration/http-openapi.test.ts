import SwaggerParser from '@apidevtools/swagger-parser';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ACCESS } from '../../src/http/access-table.js';
import { startTestServer, type TestServer } from '../support/server.js';

let server: TestServer;
let document: OpenApi;

interface Operation {
  readonly summary?: string;
  readonly operationId?: string;
  readonly security?: readonly unknown[];
  readonly responses: Readonly<Record<string, unknown>>;
}

interface OpenApi {
  readonly openapi: string;
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
}

beforeAll(async () => {
  server = await startTestServer();
  const answer = await fetch(`${server.url}/api/openapi.json`);
  expect(answer.headers.get('content-type')).toMatch(/^application\/json/);
  document = (await answer.json()) as OpenApi;
});

afterAll(() => server.close());

function operations(): { readonly key: string; readonly operation: Operation }[] {
  return Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, operation]) => ({
      key: `${method.toUpperCase()} ${path.replace(/\{(\w+)\}/g, ':$1')}`,
      operation,
    })),
  );
}

describe('the description that the server gives of itself', () => {
  it('is a valid OpenAPI 3.1 document, with every reference resolved', async () => {
    expect(document.openapi).toMatch(/^3\.1\./);
    const copy = structuredClone(document) as unknown as Parameters<typeof SwaggerParser.validate>[0];
    await expect(SwaggerParser.validate(copy)).resolves.toBeDefined();
  });

  it('has every route of the access table, and no other route of the API', () => {
    const described = operations()
      .map(({ key }) => key)
      .filter((key) => key.includes(' /api/v1/'));
    expect(described.sort()).toEqual(Object.keys(ACCESS).sort());
  });

  it('says of every route what it is for, under a name of its own, and how it refuses', () => {
    const ids = operations().map(({ operation }) => operation.operationId);
    expect(new Set(ids).size).toBe(ids.length);
    for (const { key, operation } of operations()) {
      expect(operation.summary, key).toMatch(/^[A-Z]/);
      expect(operation.responses.default, key).toMatchObject({ content: { 'application/problem+json': {} } });
    }
  });

  it('says which routes need no session', () => {
    const open = operations().filter(({ operation }) => operation.security?.length === 0);
    expect(open.map(({ key }) => key).sort()).toEqual([
      'GET /api/problems/:code',
      // Its token is the leave: calendar programs cannot sign in.
      'GET /api/v1/calendars/:token',
      'GET /api/v1/set-up',
      'GET /healthz',
      'GET /readyz',
      // The link’s token is the leave.
      'POST /api/v1/invitations/accept',
      'POST /api/v1/invitations/look',
      'POST /api/v1/session',
      // While nobody is there nobody can sign in; the code on the console is the leave.
      'POST /api/v1/set-up',
    ]);
  });

  it('names what comes back, so that callers can make types of it', () => {
    const text = JSON.stringify(document.paths);
    for (const name of ['Today', 'RoundView', 'ContainerDetail', 'AlarmHistory', 'VisitReceipt', 'Water']) {
      expect(text).toContain(`#/components/schemas/${name}"`);
    }
  });
});
