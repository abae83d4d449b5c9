import { type Unwire, unwire } from './unwire.js';

/** What the server said against a request (RFC 9457). */
export interface Problem {
  readonly status: number;
  /** The program's own code of the refusal, where there is one. */
  readonly code: string | null;
  readonly title: string;
  readonly detail: string;
  readonly faults: readonly { readonly pointer: string; readonly detail: string }[];
}

export class ApiRefusal extends Error {
  override readonly name = 'ApiRefusal';
  readonly problem: Problem;

  constructor(problem: Problem) {
    super(problem.detail);
    this.problem = problem;
  }
}

/** There was no answer at all: no signal, or the server is down. */
export class NoConnection extends Error {
  override readonly name = 'NoConnection';
}

export interface ApiClient {
  get<Body>(path: string, signal?: AbortSignal): Promise<Unwire<Body>>;
  send<Body>(method: 'POST' | 'PUT' | 'PATCH' | 'DELETE', path: string, body: object | null): Promise<Unwire<Body>>;
}

/** Another site's page cannot send this header: the server takes changes only from pages that do. */
const OWN_PAGE = { 'x-brimline': '1' };

/** @param onSignedOut called when the server no longer knows the session */
export function makeClient(base: string, onSignedOut: () => void): ApiClient {
  const call = async (path: string, init: RequestInit): Promise<unknown> => {
    let response: Response;
    try {
      response = await fetch(`${base}${path}`, { credentials: 'same-origin', ...init });
    } catch (cause) {
      if (init.signal?.aborted === true) throw cause;
      throw new NoConnection(`no answer to ${init.method ?? 'GET'} ${path}`, { cause });
    }
    if (response.ok) {
      // What was only taken note of has no body.
      const text = await response.text();
      return text === '' ? null : JSON.parse(text);
    }
    const problem = await readProblem(response);
    if (response.status === 401) onSignedOut();
    throw new ApiRefusal(problem);
  };
  return {
    async get<Body>(path: string, signal?: AbortSignal) {
      const answer = await call(path, { headers: { accept: 'application/json' }, ...(signal ? { signal } : {}) });
      return unwire(answer as Body);
    },
    async send<Body>(method: 'POST' | 'PUT' | 'PATCH' | 'DELETE', path: string, body: object | null) {
      const headers = { ...OWN_PAGE, ...(body === null ? {} : { 'content-type': 'application/json' }) };
      const init = { method, headers, ...(body === null ? {} : { body: JSON.stringify(body) }) };
      return unwire((await call(path, init)) as Body);
    },
  };
}

async function readProblem(response: Response): Promise<Problem> {
  const type = response.headers.get('content-type') ?? '';
  const body: unknown = type.includes('json') ? await response.json() : { detail: await response.text() };
  const fields = typeof body === 'object' && body !== null ? (body as Record<string, unknown>) : {};
  const text = (name: string): string | null => (typeof fields[name] === 'string' ? (fields[name] as string) : null);
  const faults = Array.isArray(fields.faults) ? (fields.faults as Problem['faults']) : [];
  return {
    status: response.status,
    code: text('code'),
    title: text('title') ?? response.statusText,
    detail: text('detail') ?? text('title') ?? response.statusText,
    faults,
  };
}
