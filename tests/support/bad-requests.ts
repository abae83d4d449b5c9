import fc from 'fast-check';

/** What a description of the API says of one value. */
export interface Schema {
  readonly [keyword: string]: unknown;
}

interface Operation {
  readonly parameters?: readonly { readonly in: string; readonly name: string; readonly schema: Schema }[];
  readonly requestBody?: { readonly content: Readonly<Record<string, { readonly schema: Schema }>> };
}

/** The part of an OpenAPI document that requests are made from. */
export interface ApiDescription {
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
  readonly components: { readonly schemas: Readonly<Record<string, Schema>> };
}

export interface RouteRequests {
  /** As in `GET /api/v1/sites/{id}`. */
  readonly key: string;
  readonly method: string;
  readonly requests: fc.Arbitrary<{ readonly url: string; readonly body: unknown }>;
}

type Components = ApiDescription['components']['schemas'];

/** Values that belong to no schema, or to the edges of one. */
const NASTY: readonly unknown[] = [
  null,
  true,
  0,
  -1,
  1e308,
  -1e308,
  5e-324,
  2 ** 53,
  '',
  ' ',
  'NaN',
  'null',
  '\u0000',
  '\ud800',
  '💧'.repeat(200),
  'x'.repeat(5_000),
  '2026-02-30',
  '9999-12-31T23:59:59Z',
  '0000-01-01',
  "'; DROP TABLE container; --",
  '../../etc/passwd',
  '<script>alert(1)</script>',
  '%00',
  '__proto__',
  'constructor',
  [],
  [[]],
  {},
  { __proto__: { admin: true } },
  JSON.parse('{"__proto__":{"admin":true},"constructor":{"prototype":1}}'),
];

const nasty = fc.oneof(fc.constantFrom(...NASTY), fc.jsonValue({ maxDepth: 3 }), fc.string(), fc.double());

/** Values mostly of the schema's making, now and then with something else in their place. */
function valueFor(schema: Schema, components: Components, depth = 0): fc.Arbitrary<unknown> {
  return fc.oneof({ weight: 6, arbitrary: fitting(schema, components, depth) }, { weight: 1, arbitrary: nasty });
}

function fitting(schema: Schema, components: Components, depth: number): fc.Arbitrary<unknown> {
  const { $ref, anyOf, type, properties } = schema as {
    $ref?: string;
    anyOf?: readonly Schema[];
    type?: string;
    properties?: Readonly<Record<string, Schema>>;
  };
  if (depth > 6) return nasty;
  if ($ref !== undefined) {
    const target = components[$ref.replace('#/components/schemas/', '')];
    if (target === undefined) throw new Error(`${$ref} leads nowhere`);
    return fitting(target, components, depth);
  }
  if (anyOf !== undefined) return fc.oneof(...anyOf.map((one) => fitting(one, components, depth + 1)));
  if (Array.isArray(schema.enum)) return fc.constantFrom(...(schema.enum as unknown[]));
  if (schema.const !== undefined) return fc.constant(schema.const);
  switch (type) {
    case 'object':
      return fc.record(
        Object.fromEntries(
          Object.entries(properties ?? {}).map(([key, one]) => [key, valueFor(one, components, depth + 1)]),
        ),
        { requiredKeys: [...((schema.required as string[] | undefined) ?? [])] },
      );
    case 'array': {
      const prefix = schema.prefixItems as readonly Schema[] | undefined;
      if (prefix !== undefined) return fc.tuple(...prefix.map((one) => valueFor(one, components, depth + 1)));
      return fc.array(valueFor((schema.items as Schema | undefined) ?? {}, components, depth + 1), { maxLength: 4 });
    }
    case 'integer':
    case 'number':
      return fc.oneof(fc.integer({ min: -10, max: 1_000 }), fc.double({ noNaN: true, noDefaultInfinity: true }));
    case 'boolean':
      return fc.boolean();
    case 'null':
      return fc.constant(null);
    case 'string':
      return texts(schema);
    default:
      return nasty;
  }
}

function texts(schema: Schema): fc.Arbitrary<unknown> {
  const ids = fc.constantFrom('A1', 'S1', 'C1', 'C2', 'N1', 'N2', 'G1', 'AS1', 'none', 'x.y-z_1', 'Europe/Madrid');
  const format = schema.format;
  if (format === 'date') return fc.constantFrom('2026-06-01', '2026-06-05', '2000-01-01', '2200-12-31');
  if (format === 'date-time') {
    return fc.constantFrom(
      '2026-06-01T00:00:00Z',
      '2026-06-05T08:00:00.000Z',
      '2000-01-01T00:00:00Z',
      '2199-01-01T00:00:00Z',
    );
  }
  return fc.oneof(ids, fc.string({ maxLength: 30 }), fc.uuid());
}

/** Never in the way of the others: these end the session, or never end. */
const LEFT_OUT = new Set(['DELETE /api/v1/session', 'GET /api/v1/changes']);

/** Requests to every route of the description, mostly in its shape, now and then far from it. */
export function routeRequests({ paths, components }: ApiDescription): readonly RouteRequests[] {
  return Object.entries(paths)
    .flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, operation]) => ({
        key: `${method.toUpperCase()} ${path}`,
        method: method.toUpperCase(),
        path,
        operation,
      })),
    )
    .filter(({ key, path }) => path.startsWith('/api/v1/') && !LEFT_OUT.has(key))
    .map(({ key, method, path, operation }) => ({
      key,
      method,
      requests: requestsTo(operation, path, components.schemas),
    }));
}

function requestsTo(operation: Operation, path: string, components: Components): RouteRequests['requests'] {
  const parameters = operation.parameters ?? [];
  const inPath = parameters.filter((parameter) => parameter.in === 'path');
  const inQuery = parameters.filter((parameter) => parameter.in === 'query');
  const json = operation.requestBody?.content['application/json']?.schema;
  return fc
    .record({
      path: fc.tuple(...inPath.map(({ schema }) => valueFor(schema, components))),
      query: fc.tuple(...inQuery.map(({ schema }) => fc.option(valueFor(schema, components)))),
      body: json === undefined ? fc.constant(undefined) : valueFor(json, components),
    })
    .map((values) => {
      let url = path;
      for (const [i, { name }] of inPath.entries()) {
        url = url.replace(`{${name}}`, encode(values.path[i]) || '%20');
      }
      const query = inQuery
        .flatMap(({ name }, i) => (values.query[i] === null ? [] : [`${name}=${encode(values.query[i])}`]))
        .join('&');
      return { url: query === '' ? url : `${url}?${query}`, body: values.body };
    });
}

function encode(value: unknown): string {
  const text = typeof value === 'string' ? value : JSON.stringify(value);
  // Lone surrogates cannot stand in an address.
  return encodeURIComponent(new TextDecoder().decode(new TextEncoder().encode((text ?? '').slice(0, 300))));
}
