import { useState } from 'preact/hooks';
import type { Crew } from '../api/views.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText } from './fault.js';
import { SelectField, TextField } from './fields.js';

type Truck = Crew['trucks'][number];
type Depot = Crew['depots'][number];

/** An id of the name, with a number behind it where it is taken. */
function idFor(name: string, taken: readonly string[]): string {
  const base =
    name
      .normalize('NFD')
      .replace(/[^A-Za-z0-9]+/g, '-')
      .replace(/^-+|-+$/g, '')
      .slice(0, 40) || 'place';
  let id = base;
  for (let number = 2; taken.includes(id); number++) id = `${base}-${number}`;
  return id;
}

/** What the crew drives, and from where. */
export function PlacesSection() {
  const { voice, resources, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [open, setOpen] = useState<string | null>(null);
  const crew = useLive(resources.crew()).data;
  if (crew === null) return null;

  function save(method: 'POST' | 'PUT', path: string, body: object, name: string): void {
    run(async () => {
      try {
        await client.send(method, path, body);
        announce(voice.say('place.kept', { name }));
        setOpen(null);
      } catch (fault) {
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
      await cache.refresh('crew');
    });
  }

  const saveTruck = (truck: Truck, isNew: boolean): void => {
    const { id, ...rest } = truck;
    if (isNew) save('POST', '/trucks', truck, truck.name);
    else save('PUT', `/trucks/${encodeURIComponent(id)}`, rest, truck.name);
  };
  const saveDepot = (depot: Depot, isNew: boolean): void => {
    const { id, ...rest } = depot;
    if (isNew) save('POST', '/depots', depot, depot.name);
    else save('PUT', `/depots/${encodeURIComponent(id)}`, rest, depot.name);
  };
  const change = (key: string, name: string) => (
    <button
      type="button"
      class="press"
      aria-label={voice.say('place.change_for', { name })}
      onClick={() => setOpen(key)}
    >
      {voice.say('crew.change')}
    </button>
  );

  return (
    <section class="settings-part" aria-labelledby="trucks-title">
      <h2 id="trucks-title">{voice.say('trucks.title')}</h2>
      {crew.trucks.length === 0 ? <p class="small">{voice.say('trucks.none')}</p> : null}
      <ul class="actors">
        {crew.trucks.map((truck) => (
          <li key={truck.id} class={open === `truck ${truck.id}` ? 'actor actor--open' : 'actor'}>
            <p>
              <strong>{truck.name}</strong> {voice.say('trucks.tank', { litres: truck.tankLitres })}
              <span class="soft">
                {' '}
                · {crew.depots.find((one) => one.id === truck.depotId)?.name ?? voice.say('trucks.depot_none')}
              </span>
            </p>
            {open === `truck ${truck.id}` ? (
              <TruckForm
                truck={truck}
                depots={crew.depots}
                busy={busy}
                onSave={(row) => saveTruck(row, false)}
                onCancel={() => setOpen(null)}
              />
            ) : (
              change(`truck ${truck.id}`, truck.name)
            )}
          </li>
        ))}
      </ul>
      {open === 'new truck' ? (
        <TruckForm
          truck={{ id: '', name: '', tankLitres: 500, depotId: crew.depots[0]?.id ?? null }}
          depots={crew.depots}
          busy={busy}
          onSave={(row) =>
            saveTruck(
              {
                ...row,
                id: idFor(
                  row.name,
                  crew.trucks.map((one) => one.id),
                ),
              },
              true,
            )
          }
          onCancel={() => setOpen(null)}
        />
      ) : (
        <button type="button" class="press" onClick={() => setOpen('new truck')}>
          {voice.say('trucks.add')} …
        </button>
      )}
      {crew.depots.length === 0 ? <p class="small">{voice.say('depots.none')}</p> : null}
      <ul class="actors">
        {crew.depots.map((depot) => (
          <li key={depot.id} class={open === `depot ${depot.id}` ? 'actor actor--open' : 'actor'}>
            <p>
              <strong>{depot.name}</strong>
              <span class="soft small">
                {' '}
                {depot.latitude.toFixed(4)}, {depot.longitude.toFixed(4)}
              </span>
            </p>
            {open === `depot ${depot.id}` ? (
              <DepotForm
                depot={depot}
                busy={busy}
                onSave={(row) => saveDepot(row, false)}
                onCancel={() => setOpen(null)}
              />
            ) : (
              change(`depot ${depot.id}`, depot.name)
            )}
          </li>
        ))}
      </ul>
      {open === 'new depot' ? (
        <DepotForm
          depot={{ id: '', name: '', latitude: Number.NaN, longitude: Number.NaN }}
          busy={busy}
          onSave={(row) =>
            saveDepot(
              {
                ...row,
                id: idFor(
                  row.name,
                  crew.depots.map((one) => one.id),
                ),
              },
              true,
            )
          }
          onCancel={() => setOpen(null)}
        />
      ) : (
        <button type="button" class="press" onClick={() => setOpen('new depot')}>
          {voice.say('depots.add')} …
        </button>
      )}
    </section>
  );
}

function TruckForm({
  truck,
  depots,
  busy,
  onSave,
  onCancel,
}: {
  readonly truck: Truck;
  readonly depots: readonly Depot[];
  readonly busy: boolean;
  readonly onSave: (truck: Truck) => void;
  readonly onCancel: () => void;
}) {
  const { voice } = useApp();
  const [draft, setDraft] = useState(truck);
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        onSave(draft);
      }}
    >
      <div class="sheet-fields">
        <TextField
          label={voice.say('trucks.name')}
          value={draft.name}
          required
          onValue={(name) => setDraft({ ...draft, name })}
        />
        <TextField
          label={voice.say('trucks.tank_in')}
          type="number"
          min="0"
          step="any"
          required
          value={String(draft.tankLitres)}
          onValue={(text) => setDraft({ ...draft, tankLitres: Number(text) })}
        />
        <SelectField
          label={voice.say('trucks.depot')}
          value={draft.depotId ?? ''}
          options={[
            { value: '', words: voice.say('trucks.depot_none') },
            ...depots.map((depot) => ({ value: depot.id, words: depot.name })),
          ]}
          onValue={(value) => setDraft({ ...draft, depotId: value === '' ? null : value })}
        />
      </div>
      <PlaceActs busy={busy} onCancel={onCancel} />
    </form>
  );
}

function DepotForm({
  depot,
  busy,
  onSave,
  onCancel,
}: {
  readonly depot: Depot;
  readonly busy: boolean;
  readonly onSave: (depot: Depot) => void;
  readonly onCancel: () => void;
}) {
  const { voice } = useApp();
  const shown = (degrees: number): string => (Number.isNaN(degrees) ? '' : String(degrees));
  const [name, setName] = useState(depot.name);
  const [latitude, setLatitude] = useState(shown(depot.latitude));
  const [longitude, setLongitude] = useState(shown(depot.longitude));
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        onSave({ id: depot.id, name, latitude: Number(latitude), longitude: Number(longitude) });
      }}
    >
      <div class="sheet-fields">
        <TextField label={voice.say('trucks.name')} value={name} required onValue={setName} />
        <TextField
          label={voice.say('depots.latitude')}
          type="number"
          min="-90"
          max="90"
          step="any"
          required
          value={latitude}
          onValue={setLatitude}
        />
        <TextField
          label={voice.say('depots.longitude')}
          type="number"
          min="-180"
          max="180"
          step="any"
          required
          value={longitude}
          onValue={setLongitude}
        />
      </div>
      <PlaceActs busy={busy} onCancel={onCancel} />
    </form>
  );
}

function PlaceActs({ busy, onCancel }: { readonly busy: boolean; readonly onCancel: () => void }) {
  const { voice } = useApp();
  return (
    <div class="alarm-acts">
      <button type="submit" class="press press--first" disabled={busy}>
        {voice.say('place.save')}
      </button>
      <button type="button" class="press press--plain" onClick={onCancel}>
        {voice.say('place.cancel')}
      </button>
    </div>
  );
}
