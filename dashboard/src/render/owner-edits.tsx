import { useState } from 'preact/hooks';
import type { Edit } from '../api/views.js';
import { useApp, useLive } from './app-context.js';
import { LoadState } from './fault.js';
import { SelectField, TextField } from './fields.js';
import { useOwnerList } from './owner-hooks.js';

const SHOWN_ROWS = 100;
/** What people change now and then; what makes the list old while it is looked at. */
const KINDS = new Set(['account', 'site', 'container', 'node', 'gateway', 'assignment', 'person', 'truck', 'firm']);

/** What people changed, before and after. Names of rows and columns are the store's own. */
export function OwnerEdits() {
  const { voice } = useApp();
  const [open, setOpen] = useState(false);
  return (
    <section class="settings-part" aria-labelledby="edits-title">
      <h2 id="edits-title">{voice.say('edits.title')}</h2>
      <details class="fold" onToggle={(event) => setOpen(event.currentTarget.open)}>
        <summary>{voice.say('edits.show')}</summary>
        {open ? <Edits /> : null}
      </details>
    </section>
  );
}

function Edits() {
  const { voice, resources, cache } = useApp();
  const [key, setKey] = useState('');
  const [personId, setPersonId] = useState('');
  const about = key.trim();
  const query = useOwnerList<Edit>(
    `/edits?limit=${SHOWN_ROWS}${about === '' ? '' : `&key=${encodeURIComponent(about)}`}`,
    KINDS,
  );
  const state = useLive(query);
  const people = useLive(resources.people()).data ?? [];
  const nameOf = (id: string): string => people.find((one) => one.id === id)?.name ?? id;
  const rows = (state.data ?? []).filter((edit) => personId === '' || edit.actor.id === personId);
  return (
    <>
      <div class="sheet-fields">
        <SelectField
          label={voice.say('edits.person')}
          value={personId}
          options={[
            { value: '', words: voice.say('edits.everybody') },
            ...people.map((one) => ({ value: one.id, words: one.name })),
          ]}
          onValue={setPersonId}
        />
        <TextField label={voice.say('edits.key')} value={key} onValue={setKey} />
      </div>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data !== null && rows.length === 0 ? <p class="small">{voice.say('edits.none')}</p> : null}
      <ul class="actors">
        {rows.map((edit) => (
          <li key={edit.seq} class="actor">
            <div class="small">
              <p>
                {voice.say('edits.line', { atMs: edit.atMs, name: nameOf(edit.actor.id) })}{' '}
                <strong>
                  {edit.kind} {edit.key}
                </strong>
              </p>
              <Columns before={edit.before} after={edit.after} />
            </div>
          </li>
        ))}
      </ul>
    </>
  );
}

type Row = Readonly<Record<string, unknown>> | null;

function Columns({ before, after }: { readonly before: Row; readonly after: Row }) {
  const names = Object.keys({ ...before, ...after });
  const shown = (value: unknown): string =>
    value === undefined || value === null ? '–' : typeof value === 'string' ? value : JSON.stringify(value);
  return (
    <ul>
      {names.map((name) => (
        <li key={name}>
          <code>{name}</code>: {before === null ? null : <>{shown(before[name])} → </>}
          {shown(after?.[name])}
        </li>
      ))}
    </ul>
  );
}
