import type { TextCode } from '../../../src/domain/texts/en/index.js';
import { type Catalogue, type Reader, render } from '../../../src/domain/texts/render.js';

export type TextParams = Readonly<Record<string, string | number | null>>;

/** A message as it comes over the wire: the server may be newer than the page, so its code is any string. */
export interface SentMessage {
  readonly code: string;
  readonly params: TextParams;
}

/** The catalogue in one person's language, units and time zone. */
export interface Voice {
  readonly reader: Reader;
  /** Every text has come; before that those of the frame and of a technician's round are there, and others are blank. */
  readonly complete: boolean;
  say(code: TextCode, params?: TextParams): string;
  /** Renders what the server sent; a code that this page does not know is shown as it is, and never hidden. */
  tell(message: SentMessage): string;
  /** The same voice with the clock of another place. */
  at(timeZone: string): Voice;
}

/** A number and its unit stay on one line. */
const UNIT_GAP = /(\d) (?=(?:L|gal|mm|in|°C|°F|V|%|kg|min|h|d)(?![\p{L}\d]))/gu;

const tie = (text: string): string => text.replace(UNIT_GAP, '$1\u00a0');

export function makeVoice(catalogue: Catalogue, reader: Reader, complete = true): Voice {
  const known = (code: string): boolean => catalogue[code] !== undefined;
  return {
    reader,
    complete,
    say: (code, params = {}) => (complete || known(code) ? tie(render(catalogue, { code, params }, reader)) : ''),
    tell: (message) =>
      known(message.code)
        ? tie(render(catalogue, message as Parameters<typeof render>[1], reader))
        : complete
          ? `[${message.code}] ${JSON.stringify(message.params)}`
          : '',
    at: (timeZone) =>
      timeZone === reader.timeZone
        ? { ...makeVoice(catalogue, reader, complete) }
        : makeVoice(catalogue, { ...reader, timeZone }, complete),
  };
}
