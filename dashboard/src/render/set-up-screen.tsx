import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { Firm } from '../api/views.js';
import { formatRoute } from '../state/route.js';
import { freeId, typedNumber } from '../state/typed.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText, LoadState } from './fault.js';
import { CheckField, SelectField, TextField } from './fields.js';
import { PlaceFields, usePlace } from './place-fields.js';
import { Sign } from './sign.js';

/** The first steps of a firm, each short, each to be come back to; what is done says so. */
export function SetUpScreen() {
  const { voice, resources, cache } = useApp();
  const firmQuery = resources.firm();
  const firm = useLive(firmQuery);
  const crew = useLive(resources.crew()).data;
  const people = useLive(resources.people()).data;
  const sites = useLive(resources.sites()).data;
  const containers = useLive(resources.containers()).data;
  if (firm.data === null || crew === null || people === null || sites === null || containers === null) {
    return <LoadState state={firm} onAgain={() => void cache.refresh(firmQuery.key)} />;
  }
  const crewPeople = people.filter((person) => person.role !== 'owner' && person.role !== 'client');
  return (
    <div class="setup">
      <h1>{voice.say('setup.title')}</h1>
      <p class="say">{voice.say('setup.intro')}</p>
      <ol class="setup-steps">
        <Step title={voice.say('setup.firm')} done={firm.data.waterPricePerM3 !== null}>
          <FirmStep firm={firm.data} />
        </Step>
        <Step
          title={voice.say('setup.depot')}
          done={crew.depots.length > 0 && crew.trucks.length > 0}
          has={[...crew.depots.map((one) => one.name), ...crew.trucks.map((one) => one.name)]}
        >
          <DepotStep taken={[...crew.depots, ...crew.trucks].map((one) => one.id)} />
        </Step>
        <Step
          title={voice.say('setup.people')}
          done={crewPeople.length > 0}
          has={crewPeople.map((person) => `${person.name} (${voice.say(`role.${person.role}`)})`)}
        >
          <PeopleStep firm={firm.data} />
        </Step>
        <Step title={voice.say('setup.site')} done={sites.length > 0} has={sites.slice(0, 12).map((one) => one.name)}>
          <SiteStep taken={sites.flatMap((one) => [one.id, one.accountId])} />
        </Step>
        <Step title={voice.say('setup.pot')} done={containers.length > 0}>
          <p>{voice.say('setup.pot_text')}</p>
          <p>
            <a class="press press--first" href={formatRoute({ screen: 'commission', containerId: 'new' })}>
              {voice.say('commission.add')}
            </a>
          </p>
        </Step>
      </ol>
    </div>
  );
}

function Step({
  title,
  done,
  has = [],
  children,
}: {
  readonly title: string;
  readonly done: boolean;
  readonly has?: readonly string[];
  readonly children: ComponentChildren;
}) {
  const { voice } = useApp();
  // What was open when one came stays so: a link that is shown once must not fold away.
  const [first] = useState(!done);
  return (
    <li class="setup-step">
      <details class="fold" open={first}>
        <summary>
          <strong>{title}</strong>{' '}
          <Sign kind={done ? 'good' : 'soon'}>{voice.say(done ? 'setup.done' : 'setup.to_do')}</Sign>
        </summary>
        {has.length === 0 ? null : <p class="small soft">{has.join(' · ')}</p>}
        {children}
      </details>
    </li>
  );
}

/** Sends one step's change; says what became of it, and loads what it made old. */
function useSending(): readonly [boolean, string | null, (done: string, send: () => Promise<unknown>) => void] {
  const { voice, announce, cache } = useApp();
  const [busy, run] = useBusy();
  const [fault, setFault] = useState<string | null>(null);
  return [
    busy,
    fault,
    (done, send) =>
      run(async () => {
        setFault(null);
        try {
          await send();
          announce(done);
          cache.ageAll();
        } catch (error) {
          setFault(faultText(voice, error));
        }
      }),
  ];
}

const Fault = ({ text }: { readonly text: string | null }) => (
  <div role="alert">{text === null ? null : <Sign kind="now">{text}</Sign>}</div>
);

function FirmStep({ firm }: { readonly firm: Firm }) {
  const { voice, client } = useApp();
  const [name, setName] = useState(firm.name);
  const [currency, setCurrency] = useState(firm.currency);
  const [price, setPrice] = useState(firm.waterPricePerM3 === null ? '' : String(firm.waterPricePerM3));
  const [busy, fault, send] = useSending();
  const waterPricePerM3 = price.trim() === '' ? null : typedNumber(price);
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        send(voice.say('setup.kept'), () => client.send('PUT', '/firm', { ...firm, name, currency, waterPricePerM3 }));
      }}
    >
      <div class="sheet-fields">
        <TextField label={voice.say('setup.firm_name')} value={name} required onValue={setName} />
        <TextField label={voice.say('setup.currency')} value={currency} required onValue={setCurrency} />
        <TextField label={voice.say('setup.price')} value={price} onValue={setPrice} />
      </div>
      <p class="small soft">{voice.say('setup.price_text')}</p>
      <Fault text={fault} />
      <button type="submit" class="press" disabled={busy || (price.trim() !== '' && waterPricePerM3 === null)}>
        {voice.say('setup.keep')}
      </button>
    </form>
  );
}

function DepotStep({ taken }: { readonly taken: readonly string[] }) {
  const { voice, client } = useApp();
  const [name, setName] = useState('');
  const [truck, setTruck] = useState('');
  const [tank, setTank] = useState('');
  const place = usePlace();
  const [busy, fault, send] = useSending();
  const tankLitres = typedNumber(tank);
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        const { latitude, longitude } = place;
        if (latitude === null || longitude === null) return;
        const depotId = freeId(name, taken, 'depot');
        send(voice.say('setup.added', { name }), async () => {
          await client.send('POST', '/depots', { id: depotId, name, latitude, longitude });
          if (truck.trim() === '' || tankLitres === null) return;
          const id = freeId(truck, [...taken, depotId], 'truck');
          await client.send('POST', '/trucks', { id, name: truck, tankLitres, depotId });
        });
      }}
    >
      <p class="small soft">{voice.say('setup.depot_text')}</p>
      <div class="sheet-fields">
        <TextField label={voice.say('setup.depot_name')} value={name} required onValue={setName} />
        <PlaceFields place={place} />
        <TextField label={voice.say('setup.truck_name')} value={truck} onValue={setTruck} />
        <TextField label={voice.say('setup.tank')} value={tank} onValue={setTank} />
      </div>
      <Fault text={fault} />
      <button type="submit" class="press" disabled={busy || place.latitude === null || place.longitude === null}>
        {voice.say('setup.add')}
      </button>
    </form>
  );
}

const CREW_ROLES = ['technician', 'installer', 'dispatcher'] as const;

interface Added {
  readonly person: { readonly name: string };
  readonly password: string | null;
  readonly invitation: { readonly link: string } | null;
}

function PeopleStep({ firm }: { readonly firm: Firm }) {
  const { voice, client } = useApp();
  const [name, setName] = useState('');
  const [login, setLogin] = useState('');
  const [role, setRole] = useState<string>('technician');
  const [added, setAdded] = useState<Added | null>(null);
  const [busy, fault, send] = useSending();
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        const { language, units } = firm;
        send(voice.say('setup.added', { name }), async () => {
          const body = { name, login, role, language, units, invite: true };
          setAdded((await client.send('POST', '/people', body)) as unknown as Added);
          setName('');
          setLogin('');
        });
      }}
    >
      <p class="small soft">{voice.say('setup.people_text')}</p>
      <div class="sheet-fields">
        <TextField label={voice.say('setup.person_name')} value={name} required onValue={setName} />
        <TextField label={voice.say('setup.login')} value={login} required onValue={setLogin} />
        <SelectField
          label={voice.say('setup.role')}
          value={role}
          options={CREW_ROLES.map((value) => ({ value, words: voice.say(`role.${value}`) }))}
          onValue={setRole}
        />
      </div>
      <Fault text={fault} />
      {added === null ? null : (
        <div class="shown-once" role="status">
          <p>{voice.say('setup.hand_over', { name: added.person.name })}</p>
          <p class="shown-once-text">{added.invitation?.link ?? added.password}</p>
        </div>
      )}
      <button type="submit" class="press" disabled={busy}>
        {voice.say('setup.add')}
      </button>
    </form>
  );
}

function SiteStep({ taken }: { readonly taken: readonly string[] }) {
  const { voice, client } = useApp();
  const [account, setAccount] = useState('');
  const [name, setName] = useState('');
  const [zone, setZone] = useState(Intl.DateTimeFormat().resolvedOptions().timeZone);
  const [tap, setTap] = useState(true);
  const place = usePlace();
  const [busy, fault, send] = useSending();
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        const { latitude, longitude } = place;
        if (latitude === null || longitude === null) return;
        const accountId = freeId(account, taken, 'account');
        send(voice.say('setup.added', { name }), async () => {
          await client.send('POST', '/accounts', { id: accountId, name: account, dryRisk: USUAL_DRY_RISK });
          const id = freeId(name, [...taken, accountId], 'site');
          const where = { latitude, longitude, elevationM: place.elevationM ?? 0, timeZone: zone };
          await client.send('POST', '/sites', { id, accountId, name, tap, accessNotes: null, ...where });
        });
      }}
    >
      <p class="small soft">{voice.say('setup.site_text')}</p>
      <div class="sheet-fields">
        <TextField label={voice.say('setup.account_name')} value={account} required onValue={setAccount} />
        <TextField label={voice.say('setup.site_name')} value={name} required onValue={setName} />
        <PlaceFields place={place} />
        <TextField label={voice.say('setup.zone')} value={zone} required onValue={setZone} />
      </div>
      <CheckField label={voice.say('setup.tap')} checked={tap} onChecked={setTap} />
      <Fault text={fault} />
      <button type="submit" class="press" disabled={busy || place.latitude === null || place.longitude === null}>
        {voice.say('setup.add')}
      </button>
    </form>
  );
}

/** One visit in twenty may come too late; the account can be set otherwise. As the registry's other accounts begin. */
const USUAL_DRY_RISK = 0.05;
