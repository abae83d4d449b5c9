import { useState } from 'preact/hooks';
import type { AddedPerson, OpenInvitation, Person, PersonDoors } from '../api/views.js';
import { useApp, useLive } from './app-context.js';
import { LoadState } from './fault.js';
import { SelectField, TextField } from './fields.js';
import { useActs, useOwnerList } from './owner-hooks.js';
import { ShownOnce } from './shown-once.js';

const ROLES = ['technician', 'installer', 'dispatcher', 'owner', 'client'] as const;

interface Shown {
  readonly name: string;
  readonly link: string;
}

/** Everybody who may sign in, and whoever is to: roles, second factors, links, and devices that are signed out. */
export function OwnerPeople() {
  const { voice, resources, cache } = useApp();
  const query = resources.people();
  const state = useLive(query);
  const doorsQuery = useOwnerList<PersonDoors>('/people/doors');
  const doors = useLive(doorsQuery).data ?? [];
  const [shown, setShown] = useState<Shown | null>(null);
  const [busy, act] = useActs([query.key, doorsQuery.key]);
  return (
    <section class="settings-part" aria-labelledby="people-title">
      <h2 id="people-title">{voice.say('people.title')}</h2>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      <ul class="actors">
        {(state.data ?? []).map((person) => (
          <PersonLine
            key={person.id}
            person={person}
            secondFactor={doors.find((one) => one.personId === person.id)?.secondFactor ?? null}
            busy={busy}
            act={act}
            onLink={setShown}
          />
        ))}
      </ul>
      {shown === null ? null : (
        <ShownOnce
          key={shown.link}
          label={voice.say('people.link', { name: shown.name })}
          text={shown.link}
          hint={voice.say('people.link_hint')}
        />
      )}
      <Invite busy={busy} act={act} onLink={setShown} />
    </section>
  );
}

type Act = (work: () => Promise<string>) => void;

function PersonLine({
  person,
  secondFactor,
  busy,
  act,
  onLink,
}: {
  readonly person: Person;
  /** Null: not known yet. */
  readonly secondFactor: boolean | null;
  readonly busy: boolean;
  readonly act: Act;
  readonly onLink: (shown: Shown) => void;
}) {
  const { voice, me, client } = useApp();
  const { id, name } = person;
  const path = `/people/${encodeURIComponent(id)}`;
  const off = person.disabledMs !== null;

  async function makeLink(): Promise<string> {
    const made = (await client.send('POST', `${path}/invitation`, {})) as unknown as OpenInvitation;
    onLink({ name, link: made.link });
    return voice.say('people.did_link', { name });
  }

  async function take(
    what: 'sessions' | 'second-factor',
    did: 'people.did_end' | 'people.did_factor',
  ): Promise<string> {
    await client.send('DELETE', `${path}/${what}`, null);
    return voice.say(did, { name });
  }

  return (
    <li class={off ? 'actor actor--past' : 'actor'}>
      <p>
        <strong>{name}</strong> <span class="soft small">{person.login}</span>
        <br />
        <span class="small">
          {voice.say(`role.${person.role}`)}
          {off ? <> · {voice.say('people.off')}</> : null}
          {secondFactor === null ? null : <> · {voice.say(secondFactor ? 'people.factor' : 'people.no_factor')}</>}
        </span>
      </p>
      {id === me.person.id || off ? null : (
        <details class="fold">
          <summary aria-label={voice.say('people.more_for', { name })}>{voice.say('people.more')}</summary>
          <button type="button" class="press" disabled={busy} onClick={() => act(makeLink)}>
            {voice.say('people.recovery')}
          </button>
          <button
            type="button"
            class="press"
            disabled={busy}
            onClick={() => act(() => take('sessions', 'people.did_end'))}
          >
            {voice.say('people.end_sessions')}
          </button>
          {secondFactor !== true ? null : (
            <button
              type="button"
              class="press"
              disabled={busy}
              onClick={() => act(() => take('second-factor', 'people.did_factor'))}
            >
              {voice.say('people.take_factor')}
            </button>
          )}
        </details>
      )}
    </li>
  );
}

function Invite({
  busy,
  act,
  onLink,
}: {
  readonly busy: boolean;
  readonly act: Act;
  readonly onLink: (shown: Shown) => void;
}) {
  const { voice, me, client } = useApp();
  const [name, setName] = useState('');
  const [login, setLogin] = useState('');
  const [role, setRole] = useState<string>('technician');
  const [accountId, setAccountId] = useState('');
  const accounts = useLive(useOwnerList<{ readonly id: string; readonly name: string }>('/accounts?limit=500'));
  const list = accounts.data ?? [];
  const isClient = role === 'client';
  const of = isClient ? accountId || (list[0]?.id ?? '') : null;

  async function invite(): Promise<string> {
    const { language, units } = me.person;
    const body = { name, login, role, accountId: of, language, units, invite: true };
    const { invitation } = (await client.send('POST', '/people', body)) as unknown as AddedPerson;
    if (invitation !== null) onLink({ name, link: invitation.link });
    setName('');
    setLogin('');
    return voice.say('setup.added', { name });
  }

  return (
    <form
      class="sheet"
      aria-label={voice.say('people.invite')}
      onSubmit={(event) => {
        event.preventDefault();
        act(invite);
      }}
    >
      <div class="sheet-fields">
        <TextField label={voice.say('setup.person_name')} value={name} required onValue={setName} />
        <TextField label={voice.say('setup.login')} value={login} required onValue={setLogin} />
        <SelectField
          label={voice.say('setup.role')}
          value={role}
          options={ROLES.map((value) => ({ value, words: voice.say(`role.${value}`) }))}
          onValue={setRole}
        />
        {isClient ? (
          <SelectField
            label={voice.say('people.account')}
            value={of ?? ''}
            options={list.map((one) => ({ value: one.id, words: one.name }))}
            onValue={setAccountId}
          />
        ) : null}
      </div>
      <button type="submit" class="press" disabled={busy}>
        {voice.say('people.invite')}
      </button>
    </form>
  );
}
