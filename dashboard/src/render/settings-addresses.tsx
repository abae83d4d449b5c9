import { useState } from 'preact/hooks';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText, LoadState } from './fault.js';
import { TextField } from './fields.js';
import { ShownOnce } from './shown-once.js';

/** Where one is told: mail addresses and browsers. */
export function AddressesSection() {
  const { voice, resources, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [mail, setMail] = useState('');
  const query = resources.addresses();
  const state = useLive(query);

  function act(work: () => Promise<string>): void {
    run(async () => {
      try {
        announce(await work());
      } catch (fault) {
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
      await cache.refresh(query.key);
    });
  }

  async function addPush(): Promise<string> {
    if (!('serviceWorker' in navigator) || !('PushManager' in window)) return voice.say('addresses.push_unable');
    if ((await Notification.requestPermission()) !== 'granted') return voice.say('addresses.push_denied');
    const { publicKey } = (await client.get('/push-key')) as { readonly publicKey: string | null };
    if (publicKey === null) return voice.say('addresses.no_push');
    const registration = await navigator.serviceWorker.ready;
    const made = await registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: publicKey });
    const { endpoint, keys } = made.toJSON();
    await client.send('POST', '/addresses', {
      channel: 'web_push',
      target: endpoint,
      keys: { p256dh: keys?.p256dh, auth: keys?.auth },
    });
    return voice.say('addresses.did_push');
  }

  return (
    <section class="settings-part" aria-labelledby="addresses-title">
      <h2 id="addresses-title">{voice.say('addresses.title')}</h2>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : (
        <>
          {state.data.items.length === 0 ? <p class="small soft">{voice.say('addresses.none')}</p> : null}
          <ul class="actors">
            {state.data.items.map((address) => {
              const words =
                address.channel === 'web_push'
                  ? voice.say('addresses.push_title', { atMs: address.createdMs })
                  : address.target;
              return (
                <li key={address.id} class="actor">
                  <p>
                    {words} <span class="soft small">{voice.say(`channel.${address.channel}`)}</span>
                  </p>
                  <button
                    type="button"
                    class="press press--plain"
                    disabled={busy}
                    aria-label={voice.say('addresses.remove_for', { target: words })}
                    onClick={() =>
                      act(async () => {
                        await client.send('DELETE', `/addresses/${encodeURIComponent(address.id)}`, null);
                        return voice.say('addresses.did_remove', { target: words });
                      })
                    }
                  >
                    {voice.say('addresses.remove')}
                  </button>
                </li>
              );
            })}
          </ul>
          {state.data.sendsPush ? (
            <button type="button" class="press" disabled={busy} onClick={() => act(addPush)}>
              {voice.say('addresses.push_here')}
            </button>
          ) : (
            <p class="small soft">{voice.say('addresses.no_push')}</p>
          )}
          {state.data.sendsMail ? (
            <form
              class="row"
              onSubmit={(event) => {
                event.preventDefault();
                act(async () => {
                  await client.send('POST', '/addresses', { channel: 'email', target: mail });
                  setMail('');
                  return voice.say('addresses.did_add', { target: mail });
                });
              }}
            >
              <TextField label={voice.say('addresses.mail')} type="email" value={mail} required onValue={setMail} />
              <button type="submit" class="press" disabled={busy}>
                {voice.say('addresses.add_mail')}
              </button>
            </form>
          ) : (
            <p class="small soft">{voice.say('addresses.no_mail')}</p>
          )}
        </>
      )}
    </section>
  );
}

/** The private address under which a calendar reads one's rounds. */
export function CalendarSection() {
  const { voice, resources, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [made, setMade] = useState<string | null>(null);
  const query = resources.calendar();
  const state = useLive(query);
  const sinceMs = state.data?.createdMs ?? null;

  function act(work: () => Promise<void>): void {
    run(async () => {
      try {
        await work();
      } catch (fault) {
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
      await cache.refresh(query.key);
    });
  }

  return (
    <section class="settings-part" aria-labelledby="calendar-title">
      <h2 id="calendar-title">{voice.say('calendar.title')}</h2>
      <p class="small soft">{voice.say('calendar.intro')}</p>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : (
        <p>{sinceMs === null ? voice.say('calendar.none') : voice.say('calendar.since', { atMs: sinceMs })}</p>
      )}
      {made === null ? null : (
        <ShownOnce label={voice.say('calendar.address')} text={made} hint={voice.say('calendar.made')} />
      )}
      <div class="alarm-acts">
        <button
          type="button"
          class="press"
          disabled={busy || state.data === null}
          onClick={() =>
            act(async () => {
              setMade(((await client.send('POST', '/calendar', {})) as { readonly url: string }).url);
            })
          }
        >
          {voice.say(sinceMs === null ? 'calendar.make' : 'calendar.make_new')}
        </button>
        {sinceMs === null ? null : (
          <button
            type="button"
            class="press press--plain"
            disabled={busy}
            onClick={() =>
              act(async () => {
                await client.send('DELETE', '/calendar', null);
                setMade(null);
                announce(voice.say('calendar.did_revoke'));
              })
            }
          >
            {voice.say('calendar.revoke')}
          </button>
        )}
      </div>
    </section>
  );
}

interface Webhook {
  readonly id: string;
  readonly channel: string;
  readonly target: string;
}

/** Webhooks of the firm, for an owner. */
export function FirmSection() {
  const { voice, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [target, setTarget] = useState('');
  const [secret, setSecret] = useState<string | null>(null);
  const query = {
    key: 'firm-addresses',
    load: async (signal: AbortSignal) =>
      ((await client.get('/firm-addresses', signal)) as unknown as { readonly items: readonly Webhook[] }).items,
    touchedBy: () => false,
  };
  const state = useLive(query);
  const hooks = (state.data ?? []).filter((one) => one.channel === 'webhook');

  function act(work: () => Promise<void>): void {
    run(async () => {
      try {
        await work();
      } catch (fault) {
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
      await cache.refresh(query.key);
    });
  }

  return (
    <section class="settings-part" aria-labelledby="firm-title">
      <h2 id="firm-title">{voice.say('firm.title')}</h2>
      <p class="small soft">{voice.say('firm.intro')}</p>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data !== null && hooks.length === 0 ? <p class="small">{voice.say('firm.none')}</p> : null}
      <ul class="actors">
        {hooks.map((hook) => (
          <li key={hook.id} class="actor">
            <p>{hook.target}</p>
            <button
              type="button"
              class="press press--plain"
              disabled={busy}
              aria-label={voice.say('addresses.remove_for', { target: hook.target })}
              onClick={() =>
                act(async () => {
                  await client.send('DELETE', `/firm-addresses/${encodeURIComponent(hook.id)}`, null);
                  announce(voice.say('addresses.did_remove', { target: hook.target }));
                })
              }
            >
              {voice.say('addresses.remove')}
            </button>
          </li>
        ))}
      </ul>
      {secret === null ? null : <ShownOnce label={voice.say('firm.secret')} text={secret} />}
      <form
        class="row"
        onSubmit={(event) => {
          event.preventDefault();
          act(async () => {
            setSecret(
              ((await client.send('POST', '/firm-addresses', { target })) as { readonly secret: string }).secret,
            );
            setTarget('');
          });
        }}
      >
        <TextField label={voice.say('firm.target')} type="url" value={target} required onValue={setTarget} />
        <button type="submit" class="press" disabled={busy}>
          {voice.say('firm.add')}
        </button>
      </form>
    </section>
  );
}
