import { z } from 'zod';
import { ID_PATTERN } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { TextCode } from '../../domain/texts/en/index.js';

/** `list(x)`: an array that nobody changes, as everything inside the program hands them out. */
export const list = <Item extends z.ZodType>(item: Item) => z.array(item).readonly();

export const id = z
  .string()
  .regex(ID_PATTERN, 'takes 1 to 64 letters, digits, dots, hyphens or underscores')
  .meta({ description: 'Identifier: 1 to 64 of A-Z a-z 0-9 . _ -', example: 'C1' });

/** Ids that rules make (events, findings, alarms) join several parts, so they are longer and hold colons or bars. */
export const longId = z
  .string()
  .regex(/^[\x21-\x7e]{1,200}$/, 'is not an id of ours')
  .meta({ description: 'Identifier made by the program' });

// The years 2000 to 2200: beyond them lie slips of the pen and broken clocks.
const FIRST_YEAR = 2000;
const LAST_YEAR = 2200;

/** An instant in a request: ISO 8601 in UTC; the handler gets epoch milliseconds. */
export const instantIn = z.iso
  .datetime({ error: 'is not an instant such as 2026-08-31T04:30:00Z' })
  .refine((text) => {
    const year = Number(text.slice(0, 4));
    return year >= FIRST_YEAR && year <= LAST_YEAR;
  }, 'lies outside the years 2000 to 2200')
  .transform((text) => Date.parse(text))
  .meta({ description: 'Instant, ISO 8601 in UTC', example: '2026-08-31T04:30:00Z' });

/** An instant in a response. */
export const instant = z.iso
  .datetime()
  .meta({ description: 'Instant, ISO 8601 in UTC', example: '2026-08-31T04:30:00.000Z' });

export const localDay = z.iso
  .date({ error: 'is not a day such as 2026-08-31' })
  .refine(
    (text) => text >= `${FIRST_YEAR}-01-01` && text <= `${LAST_YEAR}-12-31`,
    'lies outside the years 2000 to 2200',
  )
  .meta({ description: 'Site-local day', example: '2026-08-31' });

/** Text that a person types: trimmed, without control characters but line breaks and tabs. */
export const text = (max: number) =>
  z
    .string()
    .trim()
    .min(1, 'is empty')
    .max(max, `is longer than ${max} characters`)
    .refine((value) => !hasControlCharacter(value), 'holds a control character');

function hasControlCharacter(value: string): boolean {
  for (const character of value) {
    const code = character.codePointAt(0) ?? 0;
    if ((code < 32 && code !== 9 && code !== 10 && code !== 13) || code === 127) return true;
  }
  return false;
}

export const note = text(2_000);

/** Finite, and within what the field can mean in the world. */
export const number = (min: number, max: number) =>
  z.number({ error: 'is not a number' }).min(min, `is below ${min}`).max(max, `is above ${max}`);

/** A flag in a query: `true` or `false`. */
export const flag = z
  .enum(['true', 'false'], { error: 'is neither true nor false' })
  .transform((value) => value === 'true');

export const pageQuery = z.object({
  limit: z.coerce
    .number({ error: 'is not a number' })
    .int('is not a whole number')
    .min(1, 'is below 1')
    .max(500, 'is above 500')
    .default(100)
    .meta({ description: 'Rows a page' }),
  cursor: z.string().min(1).max(500).optional().meta({ description: '`nextCursor` of the page before' }),
});

export const pageOf = <Item extends z.ZodType>(item: Item) =>
  z.object({
    items: list(item),
    nextCursor: z.string().nullable().meta({ description: 'Null on the last page' }),
  });

/** A span of days, both included. */
export const daySpanQuery = {
  from: localDay,
  to: localDay,
};

export const MAX_SPAN_DAYS = 3_700;

/** Refuses a span that ends before it begins or is longer than ten years; one with a day that is none has a fault already. */
export const isDaySpan = (span: { readonly from: string; readonly to: string }): boolean => {
  const spanMs = Date.parse(span.to) - Date.parse(span.from);
  return Number.isNaN(spanMs) || (spanMs >= 0 && spanMs <= MAX_SPAN_DAYS * DAY_MS);
};

export const DAY_SPAN_FAULT = { error: 'ends before it begins, or is longer than ten years', path: ['to'] };

/** The catalogue's codes; to a caller a code is text that the catalogue knows. */
const textCode = z.string() as unknown as z.ZodType<TextCode, TextCode>;

export const message = z
  .object({
    code: textCode,
    params: z.record(z.string(), z.union([z.string(), z.number(), z.null()])),
  })
  .meta({
    id: 'Message',
    description:
      'What the program says, as a code of the text catalogue with parameters in SI units. The end of a parameter’s name is its unit; `...Ms` are epoch milliseconds.',
  });

export const fault = z.object({
  pointer: z.string().meta({ description: 'JSON pointer into the body, or `?name` for the query' }),
  detail: z.string(),
});

export const problem = z
  .object({
    type: z.string().meta({ description: 'Address of the description of this kind of refusal' }),
    title: z.string(),
    status: z.number().int(),
    detail: z.string(),
    instance: z.string(),
    code: z.string(),
    next: z.string().meta({ description: 'What to do next' }),
    requestId: z.string(),
    faults: list(fault),
  })
  .meta({ id: 'Problem', description: 'Problem details, RFC 9457' });

/** For routes that answer 204: zod's `undefined` stands for no body. */
export const nothing = z.undefined().meta({ description: 'Done; there is no body' });

export type MessageJson = z.infer<typeof message>;
export type Problem = z.infer<typeof problem>;
export type ProblemFault = z.infer<typeof fault>;
export interface PageJson<Item> {
  readonly items: readonly Item[];
  readonly nextCursor: string | null;
}
