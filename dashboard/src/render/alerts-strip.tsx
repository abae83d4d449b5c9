import { useApp, useBusy, useLive } from './app-context.js';
import { faultText } from './fault.js';
import { Sign } from './sign.js';

/** What the person has been told and not yet seen, on whatever screen it finds them. */
export function AlertsStrip() {
  const { voice, resources, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const query = resources.alerts();
  const unseen = (useLive(query).data ?? []).filter((alert) => alert.readMs === null && alert.withdrawnMs === null);
  const first = unseen[0];
  if (first === undefined) return null;

  function see(ids: readonly string[]): void {
    run(async () => {
      try {
        for (const id of ids) await client.send('POST', `/alerts/${encodeURIComponent(id)}/read`, {});
      } catch (fault) {
        announce(voice.say('today.did_fail', { detail: faultText(voice, fault) }));
      }
      await cache.refresh(query.key);
    });
  }

  const headline = (alert: (typeof unseen)[number]): string => {
    const [head] = alert.message;
    return head === undefined ? alert.topic : voice.tell(head);
  };
  return (
    <section class="told" aria-label={voice.say('alerts.count', { alerts: unseen.length })}>
      <details>
        <summary>
          <Sign kind="soon">{voice.say('alerts.count', { alerts: unseen.length })}</Sign>
          <span class="told-first">{headline(first)}</span>
        </summary>
        <ul>
          {unseen.map((alert) => (
            <li key={alert.id}>
              <div>
                {alert.message.map((message, i) => (
                  <p key={`${alert.revision}/${i}`} class={i === 0 ? 'told-head' : 'small'}>
                    {voice.tell(message)}
                  </p>
                ))}
              </div>
              <button
                type="button"
                class="press"
                disabled={busy}
                aria-label={voice.say('alerts.seen_for', { alert: headline(alert) })}
                onClick={() => see([alert.id])}
              >
                {voice.say('alerts.seen')}
              </button>
            </li>
          ))}
        </ul>
        {unseen.length < 2 ? null : (
          <button type="button" class="press" disabled={busy} onClick={() => see(unseen.map((alert) => alert.id))}>
            {voice.say('alerts.all_seen')}
          </button>
        )}
      </details>
    </section>
  );
}
