import { useId, useState } from 'preact/hooks';
import { formatInstant } from '../../../src/domain/texts/render.js';
import type { ContainerDetail, EventCorrection, PotEvent } from '../api/views.js';
import { litresOfTyped, typedVolume } from '../state/recording.js';
import type { Voice } from '../state/voice.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';

const KINDS = ['refill', 'rain', 'overflow', 'drained', 'sudden_loss'] as const;
type Kind = (typeof KINDS)[number];
type Said = Kind | 'none' | 'as_found';

/** What happened to the water, newest first, with what people said of it; whoever may can put it right. */
export function EventLines({
  detail,
  voice,
  mayCorrect,
}: {
  readonly detail: ContainerDetail;
  readonly voice: Voice;
  readonly mayCorrect: boolean;
}) {
  const lastWords = lastWordOf(detail.corrections);
  const standing = new Set(detail.events.map((event) => event.id));
  const takenOut = [...lastWords.values()].filter(
    (word) => word.correctedKind === 'none' && !standing.has(word.eventId),
  );
  return (
    <ul class="event-lines">
      {detail.events.map((event) => (
        <li key={event.id}>
          <span>{formatInstant(event.startMs, voice.reader)}</span>
          <strong>{voice.say(`event.kind.${event.kind}`)}</strong>
          <span>
            {event.atLeast
              ? voice.say('pot.event_at_least', { litres: event.litres })
              : voice.say('quantity.litres', { litres: event.litres })}
          </span>
          <Word word={lastWords.get(event.id) ?? null} voice={voice} />
          {mayCorrect ? (
            <Mend detail={detail} event={event} word={lastWords.get(event.id) ?? null} voice={voice} />
          ) : null}
        </li>
      ))}
      {takenOut.map((word) => (
        <li key={word.eventId}>
          <span>{word.before === null ? null : formatInstant(word.before.startMs, voice.reader)}</span>
          <s>{word.before === null ? null : voice.say(`event.kind.${word.before.kind}`)}</s>
          <span />
          <Word word={word} voice={voice} />
          {mayCorrect ? <Mend detail={detail} event={null} word={word} voice={voice} /> : null}
        </li>
      ))}
    </ul>
  );
}

/** The newest word on each event; the list comes with the newest first. */
function lastWordOf(corrections: readonly EventCorrection[]): ReadonlyMap<string, EventCorrection> {
  const words = new Map<string, EventCorrection>();
  for (const word of corrections) if (!words.has(word.eventId)) words.set(word.eventId, word);
  return words;
}

function Word({ word, voice }: { readonly word: EventCorrection | null; readonly voice: Voice }) {
  if (word === null || word.correctedKind === 'as_found') return null;
  const { before, actorName, atMs } = word;
  const code =
    word.correctedKind === 'none' ? 'pot.event_taken_out' : before === null ? 'pot.event_added' : 'pot.event_corrected';
  const was = before === null ? null : voice.say(`event.kind.${before.kind}`);
  return (
    <p class="event-word small soft">
      {voice.say(code, { name: actorName, atMs, was, litres: before?.litres ?? null })}
    </p>
  );
}

function Mend({
  detail,
  event,
  word,
  voice,
}: {
  readonly detail: ContainerDetail;
  readonly event: PotEvent | null;
  readonly word: EventCorrection | null;
  readonly voice: Voice;
}) {
  const { client, cache, announce, me } = useApp();
  const [busy, run] = useBusy();
  const unit = me.person.units.volume;
  const formId = useId();
  const [kind, setKind] = useState<Kind | 'none'>(event?.kind ?? 'refill');
  const [typed, setTyped] = useState(typedVolume(event?.litres ?? 0, unit));
  const containerId = detail.container.id;
  const eventId = event?.id ?? word?.eventId ?? '';
  const litres = litresOfTyped(typed, unit);
  const standsCorrected = word !== null && word.correctedKind !== 'as_found';

  async function say(correctedKind: Said, amount: number | null): Promise<void> {
    try {
      await client.send('POST', `/events/${encodeURIComponent(eventId)}/correction`, {
        containerId,
        correctedKind,
        litres: amount,
      });
      await cache.refresh(`container/${containerId}`);
      announce(voice.say(correctedKind === 'as_found' ? 'pot.event_did_undo' : 'pot.event_did'));
    } catch (fault) {
      announce(voice.say('today.did_fail', { detail: faultText(voice, fault) }));
    }
  }

  return (
    <div class="event-mend small">
      {standsCorrected ? (
        <button
          type="button"
          class="press press--plain"
          disabled={busy}
          onClick={() => run(() => say('as_found', null))}
        >
          {voice.say('pot.event_undo')}
        </button>
      ) : null}
      {event === null ? null : (
        <details>
          <summary
            class="press press--plain"
            aria-label={voice.say('pot.event_correct_which', {
              kind: voice.say(`event.kind.${event.kind}`),
              atMs: event.startMs,
            })}
          >
            {voice.say('pot.event_correct')}
          </summary>
          <form
            onSubmit={(submitted) => {
              submitted.preventDefault();
              if (kind === 'none' || litres !== null) run(() => say(kind, kind === 'none' ? null : litres));
            }}
          >
            <div class="field">
              <label for={`${formId}-kind`}>{voice.say('pot.event_what')}</label>
              <select
                id={`${formId}-kind`}
                value={kind}
                onChange={(changed) => setKind(changed.currentTarget.value as Kind | 'none')}
              >
                {KINDS.map((one) => (
                  <option key={one} value={one}>
                    {voice.say(`event.kind.${one}`)}
                  </option>
                ))}
                <option value="none">{voice.say('pot.event_nothing')}</option>
              </select>
            </div>
            {kind === 'none' ? null : (
              <div class="field">
                <label for={`${formId}-litres`}>{voice.say('pot.event_amount', { unit })}</label>
                <input
                  id={`${formId}-litres`}
                  inputMode="decimal"
                  value={typed}
                  aria-invalid={litres === null}
                  onInput={(changed) => setTyped(changed.currentTarget.value)}
                />
              </div>
            )}
            <button type="submit" class="press" disabled={busy || (kind !== 'none' && litres === null)}>
              {voice.say('pot.event_save')}
            </button>
          </form>
        </details>
      )}
    </div>
  );
}
