import { useEffect, useRef, useState } from 'preact/hooks';
import { type ApiClient, ApiRefusal, NoConnection } from '../api/client.js';
import type { InvitationShown } from '../api/views.js';
import type { Voice } from '../state/voice.js';
import { faultText } from './fault.js';
import { Wordmark } from './shell.js';
import { Sign } from './sign.js';

type Stage = 'looking' | 'open' | 'over' | 'done';

/** Where the link of an invitation leads: a person sets the own password, once. */
export function Welcome({
  client,
  voice,
  token,
}: {
  readonly client: ApiClient;
  readonly voice: Voice;
  readonly token: string;
}) {
  const [stage, setStage] = useState<Stage>('looking');
  const [invitation, setInvitation] = useState<InvitationShown | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const password = useRef<HTMLInputElement>(null);
  const again = useRef<HTMLInputElement>(null);

  useEffect(() => {
    const look = async (): Promise<void> => {
      try {
        setInvitation((await client.send('POST', '/invitations/look', { token })) as InvitationShown);
        setStage('open');
      } catch (error) {
        if (error instanceof ApiRefusal && error.problem.status === 404) setStage('over');
        else setFault(faultText(voice, error));
      }
    };
    void look();
  }, [client, token, voice]);

  async function submit(): Promise<void> {
    if (password.current === null || again.current === null) return;
    if (password.current.value !== again.current.value) {
      setFault(voice.say('door.differ'));
      again.current.focus();
      return;
    }
    setBusy(true);
    setFault(null);
    try {
      await client.send('POST', '/invitations/accept', { token, password: password.current.value });
      setStage('done');
    } catch (error) {
      if (error instanceof ApiRefusal && error.problem.status === 404) setStage('over');
      else if (error instanceof NoConnection || error instanceof ApiRefusal) setFault(faultText(voice, error));
      else throw error;
    } finally {
      setBusy(false);
    }
  }

  return (
    <main class="door" id="content">
      <div class="door-sheet">
        <p class="door-name">
          <Wordmark voice={voice} />
        </p>
        <h1>{voice.say(invitation?.purpose === 'recovery' ? 'door.recovery_title' : 'door.welcome_title')}</h1>
        {stage === 'over' ? <p>{voice.say('door.over')}</p> : null}
        {stage === 'done' ? <p>{voice.say('door.done')}</p> : null}
        {stage === 'open' && invitation !== null ? (
          <form
            onSubmit={(event) => {
              event.preventDefault();
              void submit();
            }}
          >
            <p>{voice.say('door.welcome', { name: invitation.name, login: invitation.login })}</p>
            <input type="hidden" name="login" autocomplete="username" value={invitation.login} />
            <div class="field">
              <label for="new-password">{voice.say('door.new_password')}</label>
              <input
                id="new-password"
                ref={password}
                type="password"
                autocomplete="new-password"
                minLength={12}
                maxLength={200}
                required
                aria-describedby="new-password-hint"
              />
              <p class="soft small" id="new-password-hint">
                {voice.say('door.password_hint')}
              </p>
            </div>
            <div class="field">
              <label for="new-password-again">{voice.say('door.password_again')}</label>
              <input id="new-password-again" ref={again} type="password" autocomplete="new-password" required />
            </div>
            <button type="submit" class="press press--first" disabled={busy}>
              {voice.say('door.set')}
            </button>
          </form>
        ) : null}
        <div role="alert">{fault === null ? null : <Sign kind="now">{fault}</Sign>}</div>
        {stage === 'over' || stage === 'done' ? (
          <a class="press press--first" href="#/">
            {voice.say('door.to_sign_in')}
          </a>
        ) : null}
      </div>
    </main>
  );
}
