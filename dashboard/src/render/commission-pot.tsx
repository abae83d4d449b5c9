import type { ComponentChildren } from 'preact';
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { Commissioning, ContainerDetail } from '../api/views.js';
import { formatRoute } from '../state/route.js';
import { typedNumber } from '../state/typed.js';
import { litresOfText, typedLitres, volumeUnit } from '../state/typed-units.js';
import type { Voice } from '../state/voice.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { CommissionNode } from './commission-node.js';
import { CommissionPours } from './commission-pours.js';
import { type ShapedReservoir, ShapeFields } from './commission-shape.js';
import { faultText, LoadState } from './fault.js';
import { CheckField, SelectField, TextField } from './fields.js';
import { Sign, type SignKind } from './sign.js';

type Container = ContainerDetail['container'];

/** One pot, step by step: place, reservoir, node, pours, plants and weight, and the proof of its wick. */
export function CommissionPot({ containerId }: { readonly containerId: string }) {
  const { voice: home, resources, cache } = useApp();
  const query = resources.container(containerId);
  const state = useLive(query);
  const progress = useLive(resources.commissioning(containerId)).data;
  const detail = state.data;
  const zone = detail?.site.timeZone ?? null;
  const voice = useMemo(() => (zone === null ? home : home.at(zone)), [home, zone]);
  if (detail === null || progress === null) {
    return <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />;
  }
  const { container } = detail;
  const poured = progress.poured !== null;
  return (
    <div class="commission">
      <header>
        <h1>{container.name}</h1>
        <p class="soft">
          {detail.site.name} ·{' '}
          <a class="big-link" href={formatRoute({ screen: 'container', containerId })}>
            {voice.say('commission.to_page')}
          </a>
        </p>
      </header>
      <Step title={voice.say('commission.step.place')} kind="good" words={container.place ?? detail.site.name}>
        <PlaceStep container={container} />
      </Step>
      <Step
        title={voice.say('commission.step.node')}
        kind={progress.assignment === null ? 'soon' : 'good'}
        words={progress.assignment?.nodeId ?? voice.say('commission.lacks.node')}
        open={progress.assignment === null}
      >
        <CommissionNode detail={detail} progress={progress} voice={voice} />
      </Step>
      <Step
        title={voice.say('commission.step.table')}
        kind={poured ? 'good' : 'soon'}
        words={voice.say(poured ? 'commission.table_poured' : 'commission.lacks.table')}
        open={progress.assignment !== null && !poured}
      >
        <CommissionPours detail={detail} progress={progress} voice={voice} />
        <details class="fold">
          <summary>{voice.say('commission.by_shape')}</summary>
          <ReservoirStep container={container} />
        </details>
      </Step>
      <Step
        title={voice.say('commission.step.plants')}
        kind={container.plants.length > 0 && container.potKg !== null ? 'good' : 'soon'}
        words={
          container.plants.length === 0
            ? voice.say('commission.lacks.plants')
            : container.plants.map((plant) => plant.name).join(', ')
        }
      >
        <PlantsStep container={container} />
      </Step>
      <WickStep progress={progress} voice={voice} />
    </div>
  );
}

function Step({
  title,
  kind,
  words,
  open = false,
  children,
}: {
  readonly title: string;
  readonly kind: SignKind;
  readonly words: string;
  readonly open?: boolean;
  readonly children: ComponentChildren;
}) {
  // It opens when its turn comes, and never closes under somebody's hands.
  const [shown, setShown] = useState(open);
  useEffect(() => {
    if (open) setShown(true);
  }, [open]);
  return (
    <details class="fold commission-step" open={shown} onToggle={(event) => setShown(event.currentTarget.open)}>
      <summary>
        <strong>{title}</strong> <Sign kind={kind}>{words}</Sign>
      </summary>
      {children}
    </details>
  );
}

/** Changes the pot's row; says what became of it. */
function useChange(container: Container): readonly [boolean, string | null, (change: Partial<Container>) => void] {
  const { voice, client, announce, cache } = useApp();
  const [busy, run] = useBusy();
  const [fault, setFault] = useState<string | null>(null);
  return [
    busy,
    fault,
    (change) =>
      run(async () => {
        setFault(null);
        const { id, ...row } = { ...container, ...change };
        try {
          await client.send('PUT', `/containers/${encodeURIComponent(id)}`, row);
          announce(voice.say('setup.kept'));
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

function PlaceStep({ container }: { readonly container: Container }) {
  const { voice } = useApp();
  const [name, setName] = useState(container.name);
  const [place, setPlace] = useState(container.place ?? '');
  const [covered, setCovered] = useState(container.covered);
  const [installedOn, setInstalledOn] = useState(container.installedOn);
  const [busy, fault, change] = useChange(container);
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        change({ name, place: place.trim() === '' ? null : place.trim(), covered, installedOn });
      }}
    >
      <div class="sheet-fields">
        <TextField label={voice.say('commission.name')} value={name} required onValue={setName} />
        <TextField label={voice.say('commission.place')} value={place} onValue={setPlace} />
        <TextField
          label={voice.say('commission.installed')}
          type="date"
          value={installedOn}
          required
          onValue={setInstalledOn}
        />
      </div>
      <CheckField label={voice.say('commission.covered')} checked={covered} onChecked={setCovered} />
      <Fault text={fault} />
      <button type="submit" class="press" disabled={busy}>
        {voice.say('setup.keep')}
      </button>
    </form>
  );
}

function ReservoirStep({ container }: { readonly container: Container }) {
  const { voice } = useApp();
  const [reservoir, setReservoir] = useState<ShapedReservoir | null>(null);
  const [busy, fault, change] = useChange(container);
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        if (reservoir !== null) change({ reservoir });
      }}
    >
      <ShapeFields onReservoir={setReservoir} />
      <Fault text={fault} />
      <button type="submit" class="press" disabled={busy || reservoir === null}>
        {voice.say('commission.take_table')}
      </button>
    </form>
  );
}

const DEMANDS = ['low', 'moderate', 'high'] as const;

function PlantsStep({ container }: { readonly container: Container }) {
  const { voice, me } = useApp();
  const { units } = me.person;
  const first = container.plants[0];
  const [name, setName] = useState(first?.name ?? '');
  const [demandClass, setDemandClass] = useState<string>(first?.demandClass ?? 'moderate');
  const [plantedOn, setPlantedOn] = useState(first?.plantedOn ?? container.installedOn);
  const [potKg, setPotKg] = useState(container.potKg === null ? '' : String(container.potKg));
  const [soil, setSoil] = useState(container.soil === null ? '' : typedLitres(container.soil.litres, units));
  const [surface, setSurface] = useState(container.soil === null ? '' : String(container.soil.surfaceM2));
  const [busy, fault, change] = useChange(container);
  const soilLitres = litresOfText(soil, units);
  const surfaceM2 = typedNumber(surface);
  return (
    <form
      class="sheet"
      onSubmit={(event) => {
        event.preventDefault();
        const plant = {
          name,
          demandClass: DEMANDS.find((one) => one === demandClass) ?? 'moderate',
          plantedOn: plantedOn === '' ? null : plantedOn,
        };
        change({
          plants: [plant, ...container.plants.slice(1)],
          potKg: typedNumber(potKg),
          soil: soilLitres === null || surfaceM2 === null ? null : { litres: soilLitres, surfaceM2 },
        });
      }}
    >
      <div class="sheet-fields">
        <TextField label={voice.say('commission.plants')} value={name} required onValue={setName} />
        <SelectField
          label={voice.say('commission.demand')}
          value={demandClass}
          options={DEMANDS.map((value) => ({ value, words: voice.say(`commission.demand.${value}`) }))}
          onValue={setDemandClass}
        />
        <TextField label={voice.say('commission.planted')} type="date" value={plantedOn} onValue={setPlantedOn} />
        <TextField label={voice.say('commission.pot_kg')} value={potKg} onValue={setPotKg} />
        <TextField label={`${voice.say('commission.soil')} (${volumeUnit(units)})`} value={soil} onValue={setSoil} />
        <TextField label={voice.say('commission.surface')} value={surface} onValue={setSurface} />
      </div>
      <p class="small soft">{voice.say('commission.plants_text')}</p>
      <Fault text={fault} />
      <button type="submit" class="press" disabled={busy}>
        {voice.say('setup.keep')}
      </button>
    </form>
  );
}

function WickStep({ progress, voice }: { readonly progress: Commissioning; readonly voice: Voice }) {
  const { proof, sinceMs } = progress.wick;
  const kind: SignKind = proof.kind === 'proved' ? 'good' : proof.kind === 'disproved' ? 'now' : 'unknown';
  return (
    <section class="commission-step" aria-labelledby="wick-title">
      <h2 id="wick-title">
        {voice.say('commission.step.wick')} <Sign kind={kind}>{voice.say(`commission.wick.${proof.kind}`)}</Sign>
      </h2>
      <p>
        {proof.kind === 'proved'
          ? voice.say('wick.proved', {
              days: proof.days,
              drawnLitres: proof.drawnLitres,
              lowFraction: Math.min(proof.moistureFrom, proof.moistureTo),
              highFraction: Math.max(proof.moistureFrom, proof.moistureTo),
            })
          : proof.kind === 'disproved'
            ? voice.say('wick.disproved', { fromFraction: proof.moistureFrom, toFraction: proof.moistureTo })
            : `${voice.say('wick.not_yet', { days: proof.days })} ${voice.say(`wick.lack.${proof.missing}`)}`}
      </p>
      <p class="small soft">{voice.say('commission.wick_text', { sinceMs })}</p>
    </section>
  );
}
