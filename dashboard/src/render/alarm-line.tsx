import { useId, useRef, useState } from 'preact/hooks';
import { isoInstant } from '../api/unwire.js';
import type { AlarmView } from '../api/views.js';
import { formatRoute } from '../state/route.js';
import { sayBy, sayWhen } from '../state/words.js';
import { useApp, useBusy, useNowMs } from './app-context.js';
import { faultText } from './fault.js';
import { Sign, type SignKind } from './sign.js';

const SHELVE_HOURS = [4, 24, 72, 168] as const;

const HELD = new Set(['shelved', 'suppressed_by_design', 'out_of_service']);

export const isHeld = (view: AlarmView): boolean => HELD.has(view.alarm.state);

export const isUnacknowledged = (view: AlarmView): boolean =>
  view.alarm.state === 'unacknowledged' ||
  view.alarm.state === 'returned_unacknowledged' ||
  view.alarm.state === 'latched_unacknowledged';

function signOf(view: AlarmView): SignKind {
  if (isHeld(view)) return 'plain';
  return view.alarm.priority === 'high' ? 'now' : 'soon';
}

/** One alarm with what it means and, for those who may act on it, what can be done. */
export function AlarmLine({ view, full }: { readonly view: AlarmView; readonly full: boolean }) {
  const { voice, me, client, cache, announce, nowMs } = useApp();
  const [busy, run] = useBusy();
  const [asking, setAsking] = useState<'shelve' | 'out' | null>(null);
  const reason = useRef<HTMLInputElement>(null);
  const hours = useRef<HTMLSelectElement>(null);
  const formId = useId();
  const { alarm } = view;
  const shownMs = useNowMs();
  const kind = voice.say(`alarm.kind.${alarm.kind}`);
  const pot = view.containerName ?? view.siteName ?? voice.say('alarm.place.crew');
  const mayAct = me.permissions['alarms.act'] !== 'none';
  const address = `/alarms/${encodeURIComponent(alarm.id)}`;

  function act(path: string, body: object, done: string): void {
    run(async () => {
      try {
        await client.send('POST', `${address}/${path}`, body);
        setAsking(null);
        announce(done);
        await Promise.all([cache.refresh('today'), cache.refresh('alarms')]);
      } catch (fault) {
        announce(voice.say('today.did_fail', { detail: faultText(voice, fault) }));
      }
    });
  }

  return (
    <li class="alarm-line">
      <div class="alarm-head">
        <Sign kind={signOf(view)}>{kind}</Sign>
        <span class="smallest soft">{voice.say(`alarm.state.${alarm.state}`)}</span>
      </div>
      <p class="alarm-where">
        {alarm.containerId === null ? (
          pot
        ) : (
          <a href={formatRoute({ screen: 'container', containerId: alarm.containerId })}>
            {pot}
            <span class="soft"> · {view.siteName}</span>
          </a>
        )}
      </p>
      <p class="small">{voice.tell(alarm.message)}</p>
      {full ? (
        <dl class="alarm-more small">
          <dt>{voice.say('alarms.cause')}</dt>
          <dd>{voice.tell(view.cause)}</dd>
          <dt>{voice.say('alarms.consequence')}</dt>
          <dd>{voice.tell(view.consequence)}</dd>
          <dt>{voice.say('alarms.action')}</dt>
          <dd>{voice.tell(view.action)}</dd>
        </dl>
      ) : null}
      <p class="smallest soft">
        {voice.say('alarms.since', { when: sayWhen(voice, alarm.raisedMs ?? alarm.conditionSinceMs, shownMs) })}
        {view.respondByMs === null || isHeld(view) ? null : (
          <> · {voice.say('alarms.respond_by', { when: sayBy(voice, view.respondByMs, shownMs) })}</>
        )}
        {alarm.state === 'shelved' && alarm.shelvedUntilMs !== null ? (
          <>
            {' · '}
            {voice.say('alarms.shelved_until', { atMs: alarm.shelvedUntilMs, reason: alarm.heldReason })}
          </>
        ) : null}
        {view.suppressedBecause === null ? null : <> · {voice.tell(view.suppressedBecause)}</>}
      </p>
      {mayAct && asking === null ? (
        <div class="alarm-acts">
          {isUnacknowledged(view) ? (
            <button
              type="button"
              class="press"
              disabled={busy}
              aria-label={voice.say('alarms.acknowledge_for', { kind, pot })}
              onClick={() => act('acknowledge', { note: null }, voice.say('alarms.did_acknowledge', { kind, pot }))}
            >
              {voice.say('alarms.acknowledge')}
            </button>
          ) : null}
          {isHeld(view) ? null : (
            <button
              type="button"
              class="press press--plain"
              aria-label={voice.say('alarms.shelve_for', { kind, pot })}
              onClick={() => setAsking('shelve')}
            >
              {voice.say('alarms.shelve')} …
            </button>
          )}
          {full && !isHeld(view) ? (
            <button type="button" class="press press--plain" onClick={() => setAsking('out')}>
              {voice.say('alarms.out_of_service')} …
            </button>
          ) : null}
          {alarm.state.startsWith('latched') && !alarm.conditionActive ? (
            <button
              type="button"
              class="press"
              disabled={busy}
              onClick={() => act('reset', { note: null }, voice.say('alarms.did_reset', { kind, pot }))}
            >
              {voice.say('alarms.reset')}
            </button>
          ) : null}
          {alarm.state === 'shelved' ? (
            <button
              type="button"
              class="press"
              disabled={busy}
              onClick={() => act('unshelve', {}, voice.say('alarms.did_return', { kind, pot }))}
            >
              {voice.say('alarms.unshelve')}
            </button>
          ) : null}
          {alarm.state === 'out_of_service' ? (
            <button
              type="button"
              class="press"
              disabled={busy}
              onClick={() => act('return-to-service', {}, voice.say('alarms.did_return', { kind, pot }))}
            >
              {voice.say('alarms.return_to_service')}
            </button>
          ) : null}
        </div>
      ) : null}
      {asking === null ? null : (
        <form
          class="alarm-ask"
          onSubmit={(event) => {
            event.preventDefault();
            const why = reason.current?.value.trim() ?? '';
            if (asking === 'out') {
              act('out-of-service', { reason: why }, voice.say('alarms.did_out', { kind, pot }));
              return;
            }
            const untilMs = nowMs() + Number(hours.current?.value ?? SHELVE_HOURS[0]) * 3_600_000;
            act('shelve', { until: isoInstant(untilMs), reason: why }, voice.say('alarms.did_shelve', { kind, pot }));
          }}
          onKeyDown={(event) => {
            if (event.key === 'Escape') setAsking(null);
          }}
        >
          <div class="field">
            <label for={`${formId}-why`}>{voice.say('alarms.shelve_reason')}</label>
            <input
              id={`${formId}-why`}
              ref={(element) => {
                if (element !== null && reason.current === null) element.focus();
                reason.current = element;
              }}
              required
              maxLength={500}
            />
          </div>
          {asking === 'shelve' ? (
            <div class="field">
              <label for={`${formId}-long`}>{voice.say('alarms.shelve_until')}</label>
              <select id={`${formId}-long`} ref={hours}>
                {SHELVE_HOURS.map((count) => (
                  <option key={count} value={count}>
                    {voice.say('alarms.shelve_hours', { hours: count })}
                  </option>
                ))}
              </select>
            </div>
          ) : null}
          <div class="alarm-acts">
            <button type="submit" class="press press--first" disabled={busy}>
              {voice.say(asking === 'shelve' ? 'alarms.shelve_confirm' : 'alarms.out_of_service_confirm')}
            </button>
            <button type="button" class="press press--plain" onClick={() => setAsking(null)}>
              {voice.say('alarms.cancel')}
            </button>
          </div>
        </form>
      )}
    </li>
  );
}
