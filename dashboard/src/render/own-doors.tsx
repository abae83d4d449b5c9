import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import type { SecondFactor, SecondFactorBegun } from '../api/views.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';

/** What belongs to one's own log-in: the password and the second factor. `onEnrolled`: after the factor was turned on. */
export function OwnDoors({ onEnrolled }: { readonly onEnrolled?: () => void }) {
  const { me } = useApp();
  return (
    <>
      <SecondFactorPart {...(onEnrolled === undefined ? {} : { onEnrolled })} />
      {me.mustEnrol ? null : <PasswordPart />}
    </>
  );
}

function PasswordPart() {
  const { voice, client, announce } = useApp();
  const [busy, run] = useBusy();
  const [open, setOpen] = useState(false);
  const current = useRef<HTMLInputElement>(null);
  const next = useRef<HTMLInputElement>(null);

  function submit(): void {
    run(async () => {
      try {
        const body = { current: current.current?.value ?? '', password: next.current?.value ?? '' };
        await client.send('PUT', '/password', body);
        setOpen(false);
        announce(voice.say('door.password_set'));
      } catch (fault) {
        announce(faultText(voice, fault));
      }
    });
  }

  return (
    <section class="settings-part">
      <h2>{voice.say('door.password')}</h2>
      {open ? (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            submit();
          }}
        >
          <Field
            id="password-now"
            label={voice.say('door.current_password')}
            field={current}
            complete="current-password"
          />
          <Field
            id="password-next"
            label={voice.say('door.new_password')}
            field={next}
            complete="new-password"
            least={12}
          />
          <p class="soft small">{voice.say('door.password_hint')}</p>
          <button type="submit" class="press press--first" disabled={busy}>
            {voice.say('door.set')}
          </button>
        </form>
      ) : (
        <button type="button" class="press" onClick={() => setOpen(true)}>
          {voice.say('door.change_password')}
        </button>
      )}
    </section>
  );
}

function SecondFactorPart({ onEnrolled }: { readonly onEnrolled?: () => void }) {
  const { voice, client, announce } = useApp();
  const [busy, run] = useBusy();
  const [state, setState] = useState<SecondFactor | null>(null);
  const [begun, setBegun] = useState<SecondFactorBegun | null>(null);
  const [recoveryCodes, setRecoveryCodes] = useState<readonly string[] | null>(null);
  const password = useRef<HTMLInputElement>(null);
  const code = useRef<HTMLInputElement>(null);

  const load = useCallback(async (): Promise<void> => {
    try {
      setState((await client.get('/second-factor')) as unknown as SecondFactor);
    } catch (fault) {
      announce(faultText(voice, fault));
    }
  }, [client, announce, voice]);
  const first = useRef(load);
  useEffect(() => void first.current(), []);

  function act(work: () => Promise<void>): void {
    run(async () => {
      try {
        await work();
      } catch (fault) {
        announce(faultText(voice, fault));
      }
    });
  }

  const begin = () =>
    act(async () => {
      const body = { password: password.current?.value ?? '' };
      setBegun((await client.send('POST', '/second-factor', body)) as unknown as SecondFactorBegun);
    });
  const confirm = () =>
    act(async () => {
      const answer = (await client.send('POST', '/second-factor/confirm', {
        code: code.current?.value ?? '',
      })) as unknown;
      setRecoveryCodes((answer as { readonly recoveryCodes: readonly string[] }).recoveryCodes);
      setBegun(null);
      await load();
    });
  const drop = () =>
    act(async () => {
      const body = { password: password.current?.value ?? '', code: code.current?.value ?? '' };
      await client.send('POST', '/second-factor/drop', body);
      announce(voice.say('factor.dropped'));
      await load();
    });

  if (state === null) return null;
  return (
    <section class="settings-part">
      <h2>{voice.say('factor.title')}</h2>
      {recoveryCodes !== null ? (
        <>
          <p>{voice.say('factor.codes')}</p>
          <ul class="factor-codes">
            {recoveryCodes.map((one) => (
              <li key={one}>
                <code>{one}</code>
              </li>
            ))}
          </ul>
          <button
            type="button"
            class="press press--first"
            onClick={() => {
              setRecoveryCodes(null);
              onEnrolled?.();
            }}
          >
            {voice.say('factor.codes_kept')}
          </button>
        </>
      ) : begun !== null ? (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            confirm();
          }}
        >
          <p>{voice.say('factor.scan')}</p>
          <img
            class="factor-qr"
            src={`data:image/svg+xml,${encodeURIComponent(begun.qrSvg)}`}
            alt={voice.say('factor.qr')}
            width={220}
            height={220}
          />
          <p class="small">
            {voice.say('factor.by_hand')} <code>{begun.secret}</code>
          </p>
          <Field id="factor-code" label={voice.say('factor.code')} field={code} complete="one-time-code" text />
          <button type="submit" class="press press--first" disabled={busy}>
            {voice.say('factor.turn_on')}
          </button>
        </form>
      ) : state.on ? (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            drop();
          }}
        >
          <p>{voice.say('factor.on', { codes: state.recoveryCodesLeft })}</p>
          {state.required ? null : (
            <details>
              <summary>{voice.say('factor.take_away')}</summary>
              <Field
                id="factor-password"
                label={voice.say('signin.password')}
                field={password}
                complete="current-password"
              />
              <Field id="factor-code" label={voice.say('factor.code')} field={code} complete="one-time-code" text />
              <button type="submit" class="press" disabled={busy}>
                {voice.say('factor.take_away')}
              </button>
            </details>
          )}
        </form>
      ) : (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            begin();
          }}
        >
          <p>{voice.say(state.required ? 'factor.required' : 'factor.off')}</p>
          <Field
            id="factor-password"
            label={voice.say('signin.password')}
            field={password}
            complete="current-password"
          />
          <button type="submit" class="press" disabled={busy}>
            {voice.say('factor.begin')}
          </button>
        </form>
      )}
    </section>
  );
}

function Field({
  id,
  label,
  field,
  complete,
  text,
  least,
}: {
  readonly id: string;
  readonly label: string;
  readonly field: { current: HTMLInputElement | null };
  readonly complete: 'current-password' | 'new-password' | 'one-time-code';
  readonly text?: boolean;
  readonly least?: number;
}) {
  const common = {
    id,
    ref: field,
    autocomplete: complete,
    autocapitalize: 'none',
    spellcheck: false,
    maxLength: 200,
    required: true,
    ...(least === undefined ? {} : { minLength: least }),
  } as const;
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {text === true ? <input {...common} type="text" /> : <input {...common} type="password" />}
    </div>
  );
}
