import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { Api } from './api.js';

/** Below a few packets there is nothing to gain. */
const LEAST_CHARACTERS = 4_000;
/** The round of a day shrinks to a sixth at this level already, in a few milliseconds and off the event loop. */
const LEVEL = 4;

const compress = promisify(gzip);

/**
 * Compresses long JSON answers for whoever takes it: on a weak signal a round of the day then comes in a few packets.
 * No answer mixes secrets with what the asker chose, so its length tells nothing.
 */
export function addCompression(api: Api): void {
  api.addHook('onSend', async (request: FastifyRequest, reply: FastifyReply, payload: unknown) => {
    if (typeof payload !== 'string' || payload.length < LEAST_CHARACTERS) return payload;
    if (reply.hasHeader('content-encoding') || !/\bgzip\b/.test(String(request.headers['accept-encoding'] ?? ''))) {
      return payload;
    }
    reply.header('content-encoding', 'gzip').header('vary', 'accept-encoding').removeHeader('content-length');
    return compress(payload, { level: LEVEL });
  });
}
