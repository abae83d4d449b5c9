import { useRef, useState } from 'preact/hooks';
import { type ApiClient, ApiRefusal, NoConnection } from '../api/client.js';
import type { Me } from '../api/views.js';
import type { Voice } from '../state/voice.js';
import { Wordmark } from './shell.js';
import { Sign } from './sign.js';

export function SignIn({
  client,
  voice,
  onSignedIn,
}: {
  readonly client: ApiClient;
  readonly voice: Voice;
  readonly onSignedIn: (me: Me) => void;
}) {
  const [fault, setFault] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const login = useRef<HTMLInputElement>(null);
  const password = useRef<HTMLInputElement>(null);
  const code = useRef<HTMLInputElement>(null);
  const [codeWanted, setCodeWanted] = useState(false);

  async function submit(): Promise<void> {
    if (login.current === null || password.current === null) return;
    setBusy(true);
    setFault(null);
    try {
      const typed = { login: login.current.value.trim(), password: password.current.value };
      const body = code.current === null ? typed : { ...typed, code: code.current.value };
      onSignedIn((await client.send('POST', '/session', body)) as Me);
    } catch (error) {
      setBusy(false);
      if (error instanceof ApiRefusal && error.problem.code === 'second_factor_needed') {
        setCodeWanted(true);
        return;
      }
      if (error instanceof NoConnection) setFault(voice.say('signin.no_connection'));
      else if (error instanceof ApiRefusal && error.problem.status === 401)
        setFault(codeWanted ? error.problem.detail : voice.say('signin.wrong'));
      else if (error instanceof ApiRefusal) setFault(voice.say('signin.failed', { detail: error.problem.detail }));
      else throw error;
      (code.current ?? password.current)?.focus();
    }
  }

  return (
    <main class="door" id="content">
      <div class="door-sheet">
        <p class="door-name">
          <Wordmark voice={voice} />
        </p>
        <p class="door-of say">{voice.say('app.of_pots')}</p>
        <h1>{voice.say('signin.title')}</h1>
        <form
          onSubmit={(event) => {
            event.preventDefault();
            void submit();
          }}
        >
          <div class="field">
            <label for="login">{voice.say('signin.login')}</label>
            <input
              id="login"
              ref={login}
              name="login"
              autocomplete="username"
              autocapitalize="none"
              spellcheck={false}
              required
              aria-describedby={fault === null ? undefined : 'signin-fault'}
            />
          </div>
          <div class="field">
            <label for="password">{voice.say('signin.password')}</label>
            <input
              id="password"
              ref={password}
              name="password"
              type="password"
              autocomplete="current-password"
              required
              aria-describedby={fault === null ? undefined : 'signin-fault'}
            />
          </div>
          {codeWanted ? (
            <div class="field">
              <p>{voice.say('factor.needed')}</p>
              <label for="code">{voice.say('factor.code')}</label>
              <input
                id="code"
                ref={(field) => {
                  // The field appears after a press: whoever types on does so here.
                  if (code.current === null) field?.focus();
                  code.current = field;
                }}
                name="code"
                autocomplete="one-time-code"
                autocapitalize="none"
                spellcheck={false}
                required
              />
            </div>
          ) : null}
          <div role="alert" id="signin-fault">
            {fault === null ? null : <Sign kind="now">{fault}</Sign>}
          </div>
          <button type="submit" class="press press--first" disabled={busy}>
            {voice.say('signin.submit')}
          </button>
        </form>
        <p class="soft small">{voice.say('signin.first')}</p>
      </div>
    </main>
  );
}
