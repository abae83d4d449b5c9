export interface StreamEvent {
  readonly event: string;
  readonly id: string;
  readonly data: Readonly<Record<string, unknown>>;
}

/** An open change stream, read as a browser's EventSource would. */
export interface EventStream {
  readonly status: number;
  readonly contentType: string;
  /** The next event of that name that fits; those before it are passed over. @throws Error when the stream ends first */
  next(event: string, fits?: (data: Readonly<Record<string, unknown>>) => boolean): Promise<StreamEvent>;
  close(): Promise<void>;
}

export async function followChanges(url: string, cookie: string, lastEventId?: string): Promise<EventStream> {
  const abort = new AbortController();
  const answer = await fetch(`${url}/api/v1/changes`, {
    headers: { cookie, ...(lastEventId === undefined ? {} : { 'last-event-id': lastEventId }) },
    signal: abort.signal,
  });
  const events = readEvents(answer);
  return {
    status: answer.status,
    contentType: answer.headers.get('content-type') ?? '',
    next: async (name, fits = () => true) => {
      for (;;) {
        const { value, done } = await events.next();
        if (done === true) throw new Error(`the stream ended before an event ${name}`);
        if (value.event === name && fits(value.data)) return value;
      }
    },
    close: async () => {
      abort.abort();
      await events.return(undefined).catch(() => {});
    },
  };
}

async function* readEvents(answer: Response): AsyncGenerator<StreamEvent, void> {
  if (answer.body === null) return;
  let rest = '';
  const decoder = new TextDecoder();
  for await (const chunk of answer.body) {
    rest += decoder.decode(chunk, { stream: true });
    const blocks = rest.split('\n\n');
    rest = blocks.pop() ?? '';
    for (const block of blocks) {
      const fields = new Map(
        block.split('\n').map((line): [string, string] => {
          const at = line.indexOf(':');
          return [line.slice(0, at), line.slice(at + 1).trim()];
        }),
      );
      const data = fields.get('data');
      if (data === undefined) continue;
      yield {
        event: fields.get('event') ?? 'message',
        id: fields.get('id') ?? '',
        data: JSON.parse(data) as Record<string, unknown>,
      };
    }
  }
}
