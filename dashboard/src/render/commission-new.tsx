import { useState } from 'preact/hooks';
import { formatRoute } from '../state/route.js';
import { freeId } from '../state/typed.js';
import { dayOf } from '../state/zone.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { type ShapedReservoir, ShapeFields } from './commission-shape.js';
import { faultText } from './fault.js';
import { CheckField, SelectField, TextField } from './fields.js';
import { Sign } from './sign.js';

/** A pot that is not there yet: where it stands, and what its reservoir holds at first sight. The rest follows on its page. */
export function NewPot() {
  const { voice, resources, client, nowMs, cache } = useApp();
  const sites = useLive(resources.sites()).data;
  const containers = useLive(resources.containers()).data;
  const [siteId, setSiteId] = useState('');
  const [name, setName] = useState('');
  const [place, setPlace] = useState('');
  const [covered, setCovered] = useState(false);
  const [reservoir, setReservoir] = useState<ShapedReservoir | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [busy, run] = useBusy();
  if (sites === null || containers === null) return <p class="soft load">{voice.say('load.loading')}</p>;
  const site = sites.find((one) => one.id === siteId) ?? sites[0];
  if (site === undefined) {
    return (
      <div class="empty">
        <h1>{voice.say('commission.new_title')}</h1>
        <p class="say">{voice.say('commission.no_site')}</p>
      </div>
    );
  }

  function add(): void {
    if (site === undefined || reservoir === null) return;
    run(async () => {
      const id = freeId(
        name,
        (containers ?? []).map((one) => one.id),
        'pot',
      );
      try {
        await client.send('POST', '/containers', {
          id,
          siteId: site.id,
          name,
          place: place.trim() === '' ? null : place.trim(),
          covered,
          installedOn: dayOf(nowMs(), site.timeZone),
          removedOn: null,
          reservoir,
          soil: null,
          potKg: null,
          plants: [],
        });
        cache.ageAll();
        location.hash = formatRoute({ screen: 'commission', containerId: id });
      } catch (error) {
        setFault(faultText(voice, error));
      }
    });
  }

  return (
    <form
      class="commission"
      onSubmit={(event) => {
        event.preventDefault();
        add();
      }}
    >
      <h1>{voice.say('commission.new_title')}</h1>
      <div class="sheet">
        <div class="sheet-fields">
          <SelectField
            label={voice.say('commission.site')}
            value={site.id}
            options={sites.map((one) => ({ value: one.id, words: one.name }))}
            onValue={setSiteId}
          />
          <TextField label={voice.say('commission.name')} value={name} required onValue={setName} />
          <TextField label={voice.say('commission.place')} value={place} onValue={setPlace} />
        </div>
        <CheckField label={voice.say('commission.covered')} checked={covered} onChecked={setCovered} />
        <ShapeFields onReservoir={setReservoir} />
        <div role="alert">{fault === null ? null : <Sign kind="now">{fault}</Sign>}</div>
        <button type="submit" class="press press--first press--large" disabled={busy || reservoir === null}>
          {voice.say('commission.create')}
        </button>
      </div>
    </form>
  );
}
