import { useState } from 'preact/hooks';
import { useApp, useLive } from './app-context.js';
import { LoadState } from './fault.js';
import { SelectField, TextField } from './fields.js';
import { useActs, useOwnerList } from './owner-hooks.js';
import { API_BASE } from './services.js';
import { Sign } from './sign.js';

interface Account {
  readonly id: string;
  readonly name: string;
}

/** What is kept about a client: to be handed out, and to be taken out for good. */
export function OwnerClients() {
  const { voice, client, cache } = useApp();
  const query = useOwnerList<Account>('/accounts?limit=500');
  const state = useLive(query);
  const [chosenId, setChosenId] = useState('');
  const [typed, setTyped] = useState('');
  const [busy, act] = useActs([query.key]);
  const accounts = state.data ?? [];
  const chosen = accounts.find((one) => one.id === chosenId) ?? null;
  const path = chosen === null ? '' : `/accounts/${encodeURIComponent(chosen.id)}`;
  return (
    <section class="settings-part" aria-labelledby="clients-title">
      <h2 id="clients-title">{voice.say('clients.title')}</h2>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      <SelectField
        label={voice.say('people.account')}
        value={chosenId}
        options={[{ value: '', words: '–' }, ...accounts.map((one) => ({ value: one.id, words: one.name }))]}
        onValue={(value) => {
          setChosenId(value);
          setTyped('');
        }}
      />
      {chosen === null ? null : (
        <>
          <a class="press" href={`${API_BASE}${path}/personal-data`} download={`${chosen.id}.json`}>
            {voice.say('clients.export')}
          </a>
          <form
            class="sheet"
            aria-label={voice.say('clients.erase')}
            onSubmit={(event) => {
              event.preventDefault();
              act(async () => {
                await client.send('POST', `${path}/erase`, { confirm: 'erase' });
                setChosenId('');
                setTyped('');
                return voice.say('clients.did_erase', { name: chosen.name });
              });
            }}
          >
            <Sign kind="now">{voice.say('clients.erase_text')}</Sign>
            <TextField
              label={voice.say('clients.type_name', { name: chosen.name })}
              value={typed}
              required
              onValue={setTyped}
            />
            <button type="submit" class="press" disabled={busy || typed.trim() !== chosen.name}>
              {voice.say('clients.erase')}
            </button>
          </form>
        </>
      )}
    </section>
  );
}
