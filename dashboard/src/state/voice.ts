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
  say(code: TextCode, params?: TextParams): string;
  /** Renders what the server sent; a code that this page does not know is shown as it is, and never hidden. */
  tell(message: SentMessage): string;
  /** The same voice with the clock of another place. */
  at(timeZone: string): Voice;
}

export function makeVoice(catalogue: Catalogue, reader: Reader): Voice {
  return {
    reader,
    say: (code, params = {}) => render(catalogue, { code, params }, reader),
    tell: (message) =>
      catalogue[message.code] === undefined
        ? `[${message.code}] ${JSON.stringify(message.params)}`
        : render(catalogue, message as Parameters<typeof render>[1], reader),
    at: (timeZone) =>
      timeZone === reader.timeZone
        ? { ...makeVoice(catalogue, reader) }
        : makeVoice(catalogue, { ...reader, timeZone }),
  };
}
