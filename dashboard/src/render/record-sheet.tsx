import { useCallback, useEffect, useId, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { isoInstant } from '../api/unwire.js';
import type { RoundStopView } from '../api/views.js';
import {
  changeDraft,
  draftOf,
  litresOfTyped,
  MOST_LITRES,
  stepTyped,
  sumLitres,
  type TaskDraft,
  VISIT_EXCEPTIONS,
  type VisitException,
  visitBody,
} from '../state/recording.js';
import { useApp, useBusy } from './app-context.js';
import { Sign } from './sign.js';

/**
 * The second tap: what was done, filled in as planned. Whatever differs is changed here; the record is on this device's
 * disk before the sheet closes, and goes to the server now or when there is a signal.
 */
export function RecordSheet({
  view,
  technicianId,
  startedMs,
  onClose,
}: {
  readonly view: RoundStopView;
  readonly technicianId: string;
  readonly startedMs: number;
  readonly onClose: (recorded: boolean) => void;
}) {
  const { voice: home, me, outbox, announce, nowMs } = useApp();
  const voice = home.at(view.site.timeZone);
  const unit = me.person.units.volume;
  const dialog = useRef<HTMLDialogElement>(null);
  const [drafts, setDrafts] = useState(() => draftOf(view.tasks, unit));
  const [note, setNote] = useState('');
  const [noteOpen, setNoteOpen] = useState(false);
  const wholeNote = useRef<HTMLTextAreaElement>(null);
  const noteWanted = useRef(false);
  const [notStored, setNotStored] = useState(false);
  const [busy, run] = useBusy();
  const titleId = useId();
  const litres = sumLitres(drafts, unit);

  useEffect(() => {
    dialog.current?.showModal();
  }, []);

  // A folded field takes no keyboard: it has to be open first.
  useLayoutEffect(() => {
    if (!noteOpen || !noteWanted.current) return;
    noteWanted.current = false;
    wholeNote.current?.focus();
  }, [noteOpen, drafts]);

  const change = (taskId: string, part: Parameters<typeof changeDraft>[2]): void =>
    setDrafts((known) => changeDraft(known, taskId, part));

  async function save(): Promise<void> {
    if (litres === null) return;
    const happenedMs = nowMs();
    const body = visitBody(drafts, unit, {
      siteId: view.site.siteId,
      technicianId,
      startedAt: isoInstant(Math.min(startedMs, happenedMs)),
      happenedAt: isoInstant(happenedMs),
      note,
    });
    const record = {
      personId: me.person.id,
      stopId: view.stop.id,
      siteName: view.site.siteName,
      timeZone: view.site.timeZone,
      happenedMs,
      litres,
      body,
    };
    try {
      await outbox.add(crypto.randomUUID(), record, Date.now());
    } catch (fault) {
      console.warn('the device did not keep the visit', fault);
      setNotStored(true);
      return;
    }
    dialog.current?.close();
    onClose(true);
    announce(voice.say(navigator.onLine ? 'record.kept' : 'record.kept_offline', { site: view.site.siteName }));
    void outbox.flush();
  }

  return (
    <dialog ref={dialog} class="record" aria-labelledby={titleId} onCancel={() => onClose(false)}>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          run(save);
        }}
      >
        <h2 id={titleId}>{voice.say('record.title', { site: view.site.siteName })}</h2>
        <ul class="record-tasks">
          {drafts.map((draft) => (
            <DraftLine
              key={draft.taskId}
              draft={draft}
              plannedLitres={view.tasks.find((task) => task.id === draft.taskId)?.litres ?? null}
              onChange={(part) => change(draft.taskId, part)}
            />
          ))}
        </ul>
        {drafts.length < 2 ? null : (
          <NothingDone
            onReason={(exception) => {
              setDrafts((known) => known.map((draft) => ({ ...draft, exception })));
              setNoteOpen(true);
              noteWanted.current = true;
            }}
          />
        )}
        <details class="work-why" open={noteOpen} onToggle={(event) => setNoteOpen(event.currentTarget.open)}>
          <summary>{voice.say('record.note')}</summary>
          <textarea
            ref={wholeNote}
            class="entry"
            rows={3}
            maxLength={2000}
            aria-label={voice.say('record.note')}
            value={note}
            onInput={(event) => setNote(event.currentTarget.value)}
          />
        </details>
        {notStored ? (
          <p role="alert">
            <Sign kind="now">{voice.say('record.not_stored')}</Sign>
          </p>
        ) : null}
        <div class="record-foot">
          <button
            type="button"
            class="press"
            onClick={() => {
              dialog.current?.close();
              onClose(false);
            }}
          >
            {voice.say('record.cancel')}
          </button>
          <button type="submit" class="press press--first press--large" disabled={busy || litres === null}>
            <span>{voice.say('record.save')}</span>
            {litres === null ? null : (
              <span class="record-sum">
                {voice.say('record.sum', { pots: new Set(drafts.map((one) => one.containerId)).size, litres })}
              </span>
            )}
          </button>
        </div>
      </form>
    </dialog>
  );
}

function Reasons({
  chosen,
  onChoose,
}: {
  readonly chosen: VisitException | null;
  readonly onChoose: (exception: VisitException) => void;
}) {
  const { voice } = useApp();
  return (
    <fieldset class="record-why">
      <legend class="label">{voice.say('record.exception')}</legend>
      <div class="choices-row">
        {VISIT_EXCEPTIONS.map((exception) => (
          <button
            key={exception}
            type="button"
            class="press"
            aria-pressed={chosen === exception}
            onClick={() => onChoose(exception)}
          >
            {voice.say(`record.exception.${exception}`)}
          </button>
        ))}
      </div>
    </fieldset>
  );
}

/** Whoever has given a reason may write on at once: the note takes the keyboard when it comes, without a tap of its own. */
function useFocusOnce<Field extends HTMLElement>() {
  const wanted = useRef(false);
  const take = useCallback((field: Field | null): void => {
    if (field === null || !wanted.current) return;
    wanted.current = false;
    field.focus();
  }, []);
  return { wanted, take };
}

/** Where somebody stands before a locked gate: one reason for all that was to be done at the stop. */
function NothingDone({ onReason }: { readonly onReason: (exception: VisitException) => void }) {
  const { voice } = useApp();
  const [asking, setAsking] = useState(false);
  if (!asking) {
    return (
      <button type="button" class="press press--plain" onClick={() => setAsking(true)}>
        {voice.say('record.nothing_done')} …
      </button>
    );
  }
  return (
    <Reasons
      chosen={null}
      onChoose={(exception) => {
        setAsking(false);
        onReason(exception);
      }}
    />
  );
}

function DraftLine({
  draft,
  plannedLitres,
  onChange,
}: {
  readonly draft: TaskDraft;
  readonly plannedLitres: number | null;
  readonly onChange: (part: Parameters<typeof changeDraft>[2]) => void;
}) {
  const { voice, me } = useApp();
  const unit = me.person.units.volume;
  const [asking, setAsking] = useState(false);
  const note = useFocusOnce<HTMLInputElement>();
  const fieldId = useId();
  const task = voice.say(`task.${draft.kind}` as 'task.refill');
  const pot = draft.potName;
  const wrong = draft.typed !== null && litresOfTyped(draft.typed, unit) === null;
  return (
    <li class="record-task">
      {draft.exception !== null ? (
        <p class="record-missed">
          <Sign kind="soon">
            {task}, {pot}: {voice.say(`record.exception.${draft.exception}`)}
          </Sign>
        </p>
      ) : draft.typed === null ? (
        <p class="record-did">
          <Sign kind="good">{voice.say('record.did', { task, pot })}</Sign>
        </p>
      ) : (
        <div class="record-pour">
          <label for={fieldId}>{voice.say('record.poured', { pot })}</label>
          <div class="pour">
            <button
              type="button"
              class="press"
              aria-label={voice.say('record.less_for', { pot })}
              onClick={() => onChange({ typed: stepTyped(draft.typed ?? '', unit, -1) })}
            >
              −
            </button>
            <input
              id={fieldId}
              class="entry"
              inputMode="decimal"
              autocomplete="off"
              value={draft.typed}
              aria-invalid={wrong}
              aria-describedby={`${fieldId}-said`}
              onFocus={(event) => event.currentTarget.select()}
              onInput={(event) => onChange({ typed: event.currentTarget.value })}
            />
            <span aria-hidden="true">{voice.say(`record.unit_${unit}`)}</span>
            <button
              type="button"
              class="press"
              aria-label={voice.say('record.more_for', { pot })}
              onClick={() => onChange({ typed: stepTyped(draft.typed ?? '', unit, 1) })}
            >
              +
            </button>
          </div>
          <p id={`${fieldId}-said`} class="smallest soft">
            {wrong ? (
              <Sign kind="now">{voice.say('record.bad_number', { litres: MOST_LITRES })}</Sign>
            ) : plannedLitres === null ? null : (
              voice.say('record.planned', { litres: plannedLitres })
            )}
          </p>
        </div>
      )}
      {asking ? (
        <Reasons
          chosen={draft.exception}
          onChoose={(exception) => {
            onChange({ exception });
            setAsking(false);
            note.wanted.current = true;
          }}
        />
      ) : draft.exception === null ? (
        <button
          type="button"
          class="press press--plain"
          aria-label={voice.say('record.could_not_for', { task, pot })}
          onClick={() => setAsking(true)}
        >
          {voice.say('record.could_not')} …
        </button>
      ) : (
        <>
          <button type="button" class="press press--plain" onClick={() => onChange({ exception: null, note: '' })}>
            {voice.say('record.could_after_all')}
          </button>
          <input
            ref={note.take}
            class="entry"
            aria-label={voice.say('record.note')}
            placeholder={voice.say('record.note')}
            maxLength={2000}
            value={draft.note}
            onInput={(event) => onChange({ note: event.currentTarget.value })}
          />
        </>
      )}
    </li>
  );
}
