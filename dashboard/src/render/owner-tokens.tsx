import { useState } from 'preact/hooks';
import type { ApiToken, MadeApiToken } from '../api/views.js';
import { useApp, useLive } from './app-context.js';
import { LoadState } from './fault.js';
import { CheckField, SelectField, TextField } from './fields.js';
import { useActs, useOwnerList } from './owner-hooks.js';
import { ShownOnce } from './shown-once.js';

/** What programs are mostly for. Other combinations are made over the API. */
const SCOPES = {
  fleet: ['registry.read', 'containers.read'],
  water: ['water.read'],
  work: ['alarms.read', 'tasks.read', 'rounds.read', 'visits.read'],
  call: ['tasks.write'],
  weather: ['weather.write'],
} as const;
type ScopeName = keyof typeof SCOPES;
const SCOPE_NAMES = Object.keys(SCOPES) as readonly ScopeName[];
const SPANS_DAYS = [30, 90, 366] as const;

/** Keys of programs: made for some of what one may do and for a time, shown once, ended at once. */
export function OwnerTokens() {
  const { voice, resources, client, cache, nowMs } = useApp();
  const query = useOwnerList<ApiToken>('/tokens');
  const state = useLive(query);
  const people = useLive(resources.people()).data ?? [];
  const [busy, act] = useActs([query.key]);
  const [name, setName] = useState('');
  const [scopes, setScopes] = useState<readonly ScopeName[]>(['fleet']);
  const [days, setDays] = useState('90');
  const [secret, setSecret] = useState<string | null>(null);
  const live = (state.data ?? []).filter((one) => one.revokedMs === null);

  async function make(): Promise<string> {
    const actions = scopes.flatMap((scope) => [...SCOPES[scope]]);
    const body = { name, actions, days: Number(days) };
    setSecret(((await client.send('POST', '/tokens', body)) as unknown as MadeApiToken).token);
    setName('');
    return voice.say('setup.added', { name });
  }

  return (
    <section class="settings-part" aria-labelledby="tokens-title">
      <h2 id="tokens-title">{voice.say('tokens.title')}</h2>
      <p class="small soft">{voice.say('tokens.intro')}</p>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data !== null && live.length === 0 ? <p class="small">{voice.say('tokens.none')}</p> : null}
      <ul class="actors">
        {live.map((token) => (
          <li key={token.id} class="actor">
            <p>
              <strong>{token.name}</strong>{' '}
              <span class="soft small">{people.find((one) => one.id === token.personId)?.name ?? token.personId}</span>
              <br />
              <span class="small">
                {token.actions.join(', ')} ·{' '}
                {token.expiresMs < nowMs()
                  ? voice.say('tokens.over', { atMs: token.expiresMs })
                  : voice.say('tokens.until', { untilMs: token.expiresMs })}{' '}
                ·{' '}
                {token.lastUsedMs === null
                  ? voice.say('tokens.unused')
                  : voice.say('tokens.used', { atMs: token.lastUsedMs })}
              </span>
            </p>
            <button
              type="button"
              class="press press--plain"
              disabled={busy}
              aria-label={voice.say('tokens.end_for', { name: token.name })}
              onClick={() =>
                act(async () => {
                  await client.send('DELETE', `/tokens/${encodeURIComponent(token.id)}`, null);
                  return voice.say('tokens.did_end', { name: token.name });
                })
              }
            >
              {voice.say('tokens.end')}
            </button>
          </li>
        ))}
      </ul>
      {secret === null ? null : <ShownOnce key={secret} label={voice.say('tokens.secret')} text={secret} />}
      <form
        class="sheet"
        aria-label={voice.say('tokens.make')}
        onSubmit={(event) => {
          event.preventDefault();
          act(make);
        }}
      >
        <div class="sheet-fields">
          <TextField label={voice.say('tokens.name')} value={name} required onValue={setName} />
          <SelectField
            label={voice.say('tokens.lasts')}
            value={days}
            options={SPANS_DAYS.map((span) => ({
              value: String(span),
              words: voice.say('tokens.days', { days: span }),
            }))}
            onValue={setDays}
          />
        </div>
        <fieldset class="rows">
          <legend class="label">{voice.say('tokens.scope')}</legend>
          <div class="choices-row">
            {SCOPE_NAMES.map((scope) => (
              <CheckField
                key={scope}
                label={voice.say(`tokens.scope.${scope}`)}
                checked={scopes.includes(scope)}
                onChecked={(checked) => setScopes(checked ? [...scopes, scope] : scopes.filter((one) => one !== scope))}
              />
            ))}
          </div>
        </fieldset>
        <button type="submit" class="press" disabled={busy || scopes.length === 0}>
          {voice.say('tokens.make')}
        </button>
      </form>
    </section>
  );
}
