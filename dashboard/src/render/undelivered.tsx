import { useApp, useBusy, useLive } from './app-context.js';
import { faultText, LoadState } from './fault.js';
import { Sign } from './sign.js';

/** What was to be told and was given up, with a way to try again. */
export function UndeliveredList() {
  const { voice, resources, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const query = resources.undelivered();
  const state = useLive(query);
  const rows = state.data?.items ?? [];

  function again(id: string, subject: string): void {
    run(async () => {
      try {
        await client.send('POST', `/undelivered/${encodeURIComponent(id)}/send`, {});
        announce(voice.say('undelivered.did', { subject }));
      } catch (fault) {
        announce(voice.say('today.did_fail', { detail: faultText(voice, fault) }));
      }
      await cache.refresh(query.key);
    });
  }

  return (
    <section aria-labelledby="undelivered-title">
      <h2 id="undelivered-title">
        {voice.say('undelivered.title')} {rows.length === 0 ? null : <span class="soft">{rows.length}</span>}
      </h2>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : (
        <p class="small soft">{voice.say(rows.length === 0 ? 'undelivered.none' : 'undelivered.intro')}</p>
      )}
      <ul class="actors">
        {rows.map(({ entry, personName, target }) => {
          const subject = voice.tell(entry.subject);
          const channel = voice.say(`channel.${entry.channel}`);
          return (
            <li key={entry.id} class="actor">
              <div>
                <p>
                  <strong>{subject}</strong>
                </p>
                <p class="small">
                  {personName === null
                    ? voice.say('undelivered.to_system', { channel, target })
                    : voice.say('undelivered.to', { channel, person: personName, target })}
                </p>
                <p class="smallest soft">
                  {voice.say('undelivered.tries', { tries: entry.attempts, atMs: entry.createdMs })}
                </p>
                {entry.lastError === null ? null : (
                  <p class="small">
                    <Sign kind="soon">{entry.lastError}</Sign>
                  </p>
                )}
              </div>
              <button
                type="button"
                class="press"
                disabled={busy}
                aria-label={voice.say('undelivered.send_for', { subject, target: personName ?? target })}
                onClick={() => again(entry.id, subject)}
              >
                {voice.say('undelivered.send')}
              </button>
            </li>
          );
        })}
      </ul>
      {state.data?.nextCursor == null ? null : <p class="small soft">{voice.say('undelivered.more')}</p>}
    </section>
  );
}
