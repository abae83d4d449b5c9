import { useState } from 'preact/hooks';
import { type ApiClient, ApiRefusal } from '../api/client.js';
import type { Me } from '../api/views.js';
import type { Voice } from '../state/voice.js';
import { faultText } from './fault.js';
import { SelectField, TextField } from './fields.js';
import { Wordmark } from './shell.js';
import { Sign } from './sign.js';

type Units = Me['person']['units'];

const METRIC: Units = { volume: 'L', length: 'mm', temperature: 'Cel' };
const US: Units = { volume: 'US_gal', length: 'in', temperature: 'degF' };

/** The very first page of a server: whoever has the code of its console becomes the owner. */
export function SetUpDoor({
  client,
  voice,
  code: given,
  onDone,
}: {
  readonly client: ApiClient;
  readonly voice: Voice;
  readonly code: string;
  readonly onDone: (me: Me) => void;
}) {
  const [code, setCode] = useState(given);
  const [firm, setFirm] = useState('');
  const [name, setName] = useState('');
  const [login, setLogin] = useState('');
  const [password, setPassword] = useState('');
  const [language, setLanguage] = useState(document.documentElement.lang === 'es' ? 'es' : 'en');
  const [measure, setMeasure] = useState(navigator.language === 'en-US' ? 'us' : 'metric');
  const [fault, setFault] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);

  async function submit(): Promise<void> {
    setBusy(true);
    setFault(null);
    const units = measure === 'us' ? US : METRIC;
    const currency = measure === 'us' ? 'USD' : 'EUR';
    try {
      await client.send('POST', '/set-up', {
        code,
        name,
        login,
        password,
        firm: { name: firm, currency, waterPricePerM3: null, language, units },
      });
      onDone((await client.send('POST', '/session', { login: login.trim(), password })) as Me);
    } catch (error) {
      setBusy(false);
      setFault(
        error instanceof ApiRefusal && error.problem.status === 403
          ? voice.say('setup.wrong_code')
          : faultText(voice, error),
      );
    }
  }

  return (
    <main class="door" id="content">
      <div class="door-sheet">
        <p class="door-name">
          <Wordmark voice={voice} />
        </p>
        <h1>{voice.say('setup.door_title')}</h1>
        <p class="say">{voice.say('setup.door_intro')}</p>
        <form
          onSubmit={(event) => {
            event.preventDefault();
            void submit();
          }}
        >
          <TextField label={voice.say('setup.code')} value={code} required onValue={setCode} />
          <TextField label={voice.say('setup.firm_name')} value={firm} required onValue={setFirm} />
          <TextField label={voice.say('setup.your_name')} value={name} required onValue={setName} />
          <TextField label={voice.say('setup.login')} value={login} required onValue={setLogin} />
          <div class="field">
            <label for="new-password">{voice.say('setup.password')}</label>
            <input
              id="new-password"
              type="password"
              autocomplete="new-password"
              minLength={12}
              required
              value={password}
              onInput={(event) => setPassword(event.currentTarget.value)}
            />
          </div>
          <SelectField
            label={voice.say('setup.language')}
            value={language}
            options={[
              { value: 'en', words: voice.say('settings.language.en') },
              { value: 'es', words: voice.say('settings.language.es') },
            ]}
            onValue={setLanguage}
          />
          <SelectField
            label={voice.say('setup.units')}
            value={measure}
            options={[
              { value: 'metric', words: voice.say('setup.units.metric') },
              { value: 'us', words: voice.say('setup.units.us') },
            ]}
            onValue={setMeasure}
          />
          <div role="alert">{fault === null ? null : <Sign kind="now">{fault}</Sign>}</div>
          <button type="submit" class="press press--first" disabled={busy}>
            {voice.say('setup.begin')}
          </button>
        </form>
      </div>
    </main>
  );
}
