import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';
import { hasZodFastifySchemaValidationErrors } from 'fastify-type-provider-zod';
import { TooManyAttempts } from '../app/people/sessions.js';
import { DomainError, type ErrorCode, type InputFault } from '../domain/errors.js';
import { EN } from '../domain/texts/en/index.js';
import type { Problem } from './schemas/index.js';

/** The one place where a refusal gets its HTTP status. */
export const STATUS: Readonly<Record<ErrorCode, number>> = {
  not_found: 404,
  not_authenticated: 401,
  second_factor_needed: 401,
  second_factor_missing: 403,
  not_allowed: 403,
  invalid_input: 400,
  conflict: 409,
  cursor_moved: 409,
  too_many_attempts: 429,
  store_damaged: 503,
  store_newer: 503,
  store_locked: 503,
  store_read_only: 503,
  store_full: 507,
  key_missing: 503,
  port_in_use: 503,
  open_mode_not_loopback: 400,
  file_unreadable: 400,
  fleet_invalid: 400,
};

export type ProblemCode = ErrorCode | 'internal';

interface Refusal {
  readonly code: ProblemCode;
  readonly status: number;
  readonly detail: string;
  readonly faults: readonly InputFault[];
}

/** Answers with problem details (RFC 9457). What was not refused on purpose is logged, and its detail kept inside. */
export function sendProblem(error: unknown, request: FastifyRequest, reply: FastifyReply): void {
  const refusal = refusalOf(error);
  if (refusal.status >= 500) request.log.error({ err: error }, 'request failed');
  else request.log.debug({ code: refusal.code, detail: refusal.detail }, 'request refused');
  if (error instanceof TooManyAttempts) reply.header('retry-after', Math.ceil(error.waitMs / 1000));
  reply
    .code(refusal.status)
    .header('cache-control', 'no-store')
    .type('application/problem+json; charset=utf-8')
    .send(JSON.stringify(problemOf(refusal, request)));
}

function problemOf(refusal: Refusal, request: FastifyRequest): Problem {
  return {
    type: `/api/problems/${refusal.code}`,
    title: EN[`error.${refusal.code}`],
    status: refusal.status,
    detail: refusal.detail,
    instance: request.url.split('?', 1)[0] ?? '',
    code: refusal.code,
    next: EN[`error.${refusal.code}.next`],
    requestId: request.id,
    faults: refusal.faults,
  };
}

function refusalOf(error: unknown): Refusal {
  if (error instanceof DomainError) {
    return { code: error.code, status: STATUS[error.code], detail: error.message, faults: error.faults };
  }
  if (hasZodFastifySchemaValidationErrors(error)) {
    const faults = error.validation.map((issue) => ({
      pointer: pointerOf(issue.instancePath, error.validationContext),
      detail: sentence(issue.message ?? 'cannot be taken'),
    }));
    const detail = faults
      .map((fault) => `${fault.pointer === '' ? 'The body' : fault.pointer}: ${fault.detail}`)
      .join(' ');
    return { code: 'invalid_input', status: 400, detail, faults };
  }
  return protocolRefusal(error) ?? internal();
}

/** Faults of the request itself that the server finds before any handler runs. */
function protocolRefusal(error: unknown): Refusal | null {
  if (!(error instanceof Error)) return null;
  const { statusCode, code } = error as FastifyError;
  if (statusCode === undefined || statusCode < 400 || statusCode >= 500) return null;
  const known: ProblemCode = PROTOCOL_CODES[statusCode] ?? 'invalid_input';
  return { code: known, status: statusCode, detail: PROTOCOL_DETAILS[code] ?? sentence(error.message), faults: [] };
}

const PROTOCOL_CODES: Readonly<Record<number, ProblemCode>> = {
  403: 'not_allowed',
  404: 'not_found',
  429: 'too_many_attempts',
};

const PROTOCOL_DETAILS: Readonly<Record<string, string>> = {
  FST_ERR_CTP_BODY_TOO_LARGE: 'The body is larger than this server takes. Send it in parts.',
  FST_ERR_CTP_INVALID_MEDIA_TYPE:
    'The body’s media type is not taken here. Send JSON, with Content-Type: application/json.',
  FST_ERR_CTP_EMPTY_JSON_BODY: 'The body is empty. Send a JSON object, at least {}.',
  FST_ERR_CTP_INVALID_JSON_BODY: 'The body is not JSON. Check quotes, commas and brackets.',
  FST_ERR_CTP_INVALID_CONTENT_LENGTH: 'The body is not as long as its Content-Length says. Send it again.',
};

function internal(): Refusal {
  return {
    code: 'internal',
    status: 500,
    detail: 'The server met a fault of its own and wrote it to its log. What you sent was not recorded.',
    faults: [],
  };
}

function pointerOf(path: string, context: FastifyError['validationContext']): string {
  const pointer = path === '/' ? '' : path;
  if (context === 'querystring') return `?${pointer.slice(1)}`;
  if (context === 'params') return `{${pointer.slice(1)}}`;
  return pointer;
}

function sentence(text: string): string {
  return /[.!?]$/.test(text) ? text : `${text}.`;
}
