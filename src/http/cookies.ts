import type { FastifyReply, FastifyRequest } from 'fastify';
import type { EpochMs } from '../domain/ids.js';

/**
 * The session cookie. Over https the name's prefix makes browsers hold it to this host, the whole path and Secure
 * (`__Host-`, RFC 6265bis section 4.1.3).
 */
export interface SessionCookie {
  readonly name: string;
  read(request: FastifyRequest): string | null;
  set(reply: FastifyReply, token: string, expiresMs: EpochMs): void;
  clear(reply: FastifyReply): void;
}

export function makeSessionCookie(https: boolean): SessionCookie {
  const name = https ? '__Host-brimline' : 'brimline';
  const attributes = { path: '/', httpOnly: true, sameSite: 'strict', secure: https } as const;
  return {
    name,
    read: (request) => request.cookies[name] ?? null,
    set: (reply, token, expiresMs) => {
      reply.setCookie(name, token, { ...attributes, expires: new Date(expiresMs) });
    },
    clear: (reply) => {
      reply.clearCookie(name, attributes);
    },
  };
}
