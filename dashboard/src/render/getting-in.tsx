import { useRef, useState } from 'preact/hooks';
import type { RoundStopView, SiteAccess } from '../api/views.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';

type Shown = Pick<SiteAccess, 'notes' | 'contacts'>;

/**
 * How to get into the site of a stop. The technician has it with the stop, on its day; others open it with a press, which
 * is recorded.
 */
export function GettingIn({ view }: { readonly view: RoundStopView }) {
  const { voice, me, client, announce } = useApp();
  const [opened, setOpened] = useState<Shown | null>(null);
  const [editing, setEditing] = useState(false);
  const [busy, run] = useBusy();
  const { siteId, siteName } = view.site;
  const path = `/sites/${encodeURIComponent(siteId)}/access`;
  const shown = view.access ?? opened;
  if (shown === null && me.permissions['access.read'] !== 'all') return null;

  function open(): void {
    run(async () => {
      try {
        setOpened((await client.get(path)) as unknown as SiteAccess);
      } catch (fault) {
        announce(faultText(voice, fault));
      }
    });
  }

  function keep(next: Shown): void {
    run(async () => {
      try {
        setOpened((await client.send('PUT', path, next)) as unknown as SiteAccess);
        setEditing(false);
        announce(voice.say('access.kept'));
      } catch (fault) {
        announce(faultText(voice, fault));
      }
    });
  }

  if (shown === null) {
    return (
      <p>
        <button
          type="button"
          class="press"
          disabled={busy}
          aria-label={voice.say('access.show_for', { site: siteName })}
          onClick={open}
        >
          {voice.say('access.show')}
        </button>{' '}
        <span class="small soft">{voice.say('access.recorded')}</span>
      </p>
    );
  }
  if (editing) return <AccessForm shown={shown} busy={busy} onKeep={keep} onCancel={() => setEditing(false)} />;
  return (
    <>
      <AccessText shown={shown} />
      {me.permissions['access.write'] === 'all' ? (
        <button type="button" class="press" onClick={() => setEditing(true)}>
          {voice.say('access.change')}
        </button>
      ) : null}
    </>
  );
}

function AccessText({ shown }: { readonly shown: Shown }) {
  const { voice } = useApp();
  const nothing = shown.notes === null && shown.contacts.length === 0;
  return (
    <>
      {nothing ? <p class="soft">{voice.say('access.none')}</p> : null}
      {shown.notes === null ? null : (
        <p>
          <strong>{voice.say('access.title')}: </strong>
          {shown.notes}
        </p>
      )}
      {shown.contacts.map((contact) => (
        <p key={`${contact.name}/${contact.phone}`}>
          {contact.phone === null ? (
            contact.name
          ) : (
            <a class="press" href={`tel:${contact.phone.replace(/[^+\d]/g, '')}`}>
              {voice.say('access.call', { name: contact.name })}
            </a>
          )}
          {contact.email === null ? null : <span class="small soft"> {contact.email}</span>}
        </p>
      ))}
    </>
  );
}

function AccessForm({
  shown,
  busy,
  onKeep,
  onCancel,
}: {
  readonly shown: Shown;
  readonly busy: boolean;
  readonly onKeep: (next: Shown) => void;
  readonly onCancel: () => void;
}) {
  const { voice } = useApp();
  const notes = useRef<HTMLTextAreaElement>(null);
  const name = useRef<HTMLInputElement>(null);
  const phone = useRef<HTMLInputElement>(null);
  const [first, ...others] = shown.contacts;

  function submit(): void {
    const text = (field: { readonly value: string } | null): string | null => {
      const value = field?.value.trim() ?? '';
      return value === '' ? null : value;
    };
    const called = text(name.current);
    const contact = called === null ? [] : [{ name: called, phone: text(phone.current), email: first?.email ?? null }];
    onKeep({ notes: text(notes.current), contacts: [...contact, ...others] });
  }

  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        submit();
      }}
    >
      <div class="field">
        <label for="access-notes">{voice.say('access.notes')}</label>
        <textarea id="access-notes" ref={notes} rows={3} maxLength={2000} defaultValue={shown.notes ?? ''} />
      </div>
      <div class="field">
        <label for="access-name">{voice.say('access.contact_name')}</label>
        <input id="access-name" ref={name} maxLength={200} defaultValue={first?.name ?? ''} />
      </div>
      <div class="field">
        <label for="access-phone">{voice.say('access.contact_phone')}</label>
        <input id="access-phone" ref={phone} type="tel" maxLength={50} defaultValue={first?.phone ?? ''} />
      </div>
      <button type="submit" class="press press--first" disabled={busy}>
        {voice.say('access.keep')}
      </button>{' '}
      <button type="button" class="press" onClick={onCancel}>
        {voice.say('access.cancel')}
      </button>
    </form>
  );
}
