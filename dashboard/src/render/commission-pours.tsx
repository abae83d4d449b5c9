import { useEffect, useRef, useState } from 'preact/hooks';
import type { Commissioning, ContainerDetail, PourResult } from '../api/views.js';
import { lengthUnit, litresOfText, mmOfTyped, typedLength, volumeUnit } from '../state/typed-units.js';
import type { Voice } from '../state/voice.js';
import { useApp, useBusy } from './app-context.js';
import { BandDrawing } from './band-drawing.js';
import { faultText } from './fault.js';
import { TextField } from './fields.js';
import { LiveLevel } from './live-level.js';
import { Sign } from './sign.js';

interface Pour {
  readonly litres: string;
  readonly level: string;
}

const KEPT = (containerId: string): string => `pours/${containerId}`;

/** Jug by jug: litres in, the level that settles; a table as soon as there are enough, and the reason where there is none. */
export function CommissionPours({
  detail,
  progress,
  voice,
}: {
  readonly detail: ContainerDetail;
  readonly progress: Commissioning;
  readonly voice: Voice;
}) {
  const { client, me, storage, cache, announce } = useApp();
  const { units } = me.person;
  const { id } = detail.container;
  const [pours, setPours] = useState<readonly Pour[]>([]);
  const [litres, setLitres] = useState('');
  const [level, setLevel] = useState('');
  const [sensed, setSensed] = useState<number | null>(null);
  const [result, setResult] = useState<PourResult | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [busy, run] = useBusy();
  /** Jugs come faster than answers; only the last question counts. */
  const looks = useRef(0);

  // Half an hour of pouring must outlive a phone that goes to sleep.
  useEffect(() => {
    storage
      .kept(KEPT(id))
      .then((kept) => {
        if (Array.isArray(kept) && kept.length > 0) change(kept as readonly Pour[], false);
      })
      .catch((error: unknown) => console.warn('the device keeps nothing', error));
  }, [id]);

  function change(next: readonly Pour[], keep = true): void {
    setPours(next);
    if (keep) {
      storage.keep(KEPT(id), next).catch((error: unknown) => console.warn('the device keeps nothing', error));
    }
    setResult(null);
    looks.current++;
    if (next.length >= LEAST_POURS) void look(next, false);
  }

  async function look(wanted: readonly Pour[], keep: boolean): Promise<void> {
    const look = looks.current;
    setFault(null);
    try {
      const body = {
        pours: wanted.map((pour) => ({
          litres: litresOfText(pour.litres, units),
          levelMm: mmOfTyped(pour.level, units),
        })),
        keep,
      };
      const found = (await client.send('POST', `/containers/${encodeURIComponent(id)}/pours`, body)) as PourResult;
      if (look !== looks.current) return;
      setResult(found);
      if (found.kind === 'table' && found.kept) {
        setPours([]);
        await storage.keep(KEPT(id), []);
        announce(voice.say('commission.table_kept'));
        cache.ageAll();
      }
    } catch (error) {
      setFault(faultText(voice, error));
    }
  }

  const ready = litresOfText(litres, units) !== null && mmOfTyped(level, units) !== null;
  const refusedAt = (index: number): readonly string[] =>
    result?.kind === 'refused'
      ? result.faults.filter((one) => one.pointer === `/pours/${index}`).map((one) => voice.tell(one.message))
      : [];
  const general = result?.kind === 'refused' ? result.faults.filter((one) => one.pointer === '/pours') : [];
  const { poured } = progress;
  return (
    <div class="pours">
      {poured === null || pours.length > 0 ? null : (
        <>
          <p class="small soft">
            {voice.say('commission.poured_at', { atMs: poured.atMs, pours: poured.pours.length })}
          </p>
          <BandDrawing band={poured.band} pours={totals(poured.pours)} voice={voice} />
        </>
      )}
      <p class="small">{voice.say('commission.pours_text')}</p>
      {progress.assignment === null ? null : (
        <LiveLevel
          containerId={id}
          voice={voice}
          filling={null}
          onReading={(levelMm) => {
            setSensed(levelMm);
          }}
        />
      )}
      <ol class="pour-lines">
        {pours.map((pour, index) => (
          // Two pours may be alike; their place is what tells them apart.
          <li key={`${index} ${pours.length}`}>
            <span>
              {voice.say('commission.pour_line', {
                pour: index + 1,
                addedLitres: litresOfText(pour.litres, units),
                levelMm: mmOfTyped(pour.level, units),
              })}
            </span>
            <button
              type="button"
              class="press press--plain"
              aria-label={voice.say('commission.pour_remove_for', { pour: index + 1 })}
              onClick={() => change(pours.filter((_, i) => i !== index))}
            >
              {voice.say('commission.pour_remove')}
            </button>
            {result?.kind === 'table' && result.ranOver.includes(index) ? (
              <Sign kind="plain">{voice.say('commission.ran_over')}</Sign>
            ) : null}
            {refusedAt(index).map((text) => (
              <p key={text}>
                <Sign kind="now">{text}</Sign>
              </p>
            ))}
          </li>
        ))}
      </ol>
      <form
        class="row"
        onSubmit={(event) => {
          event.preventDefault();
          if (!ready) return;
          change([...pours, { litres, level }]);
          setLevel('');
        }}
      >
        <TextField
          label={`${voice.say('commission.pour_litres')} (${volumeUnit(units)})`}
          value={litres}
          onValue={setLitres}
        />
        <TextField
          label={`${voice.say('commission.pour_level')} (${lengthUnit(units)})`}
          value={level}
          onValue={setLevel}
        />
        {sensed === null ? null : (
          <button type="button" class="press" onClick={() => setLevel(typedLength(sensed, units))}>
            {voice.say('commission.take_level', { levelMm: sensed })}
          </button>
        )}
        <button type="submit" class="press press--first" disabled={!ready}>
          {voice.say('commission.pour_add')}
        </button>
      </form>
      <div role="status">
        {fault === null ? null : <Sign kind="now">{fault}</Sign>}
        {general.map((one) => (
          <p key={one.message.code}>
            <Sign kind="now">{voice.tell(one.message)}</Sign>
          </p>
        ))}
      </div>
      {result?.kind === 'table' && pours.length > 0 ? (
        <>
          <BandDrawing
            band={result.band}
            pours={totals(
              pours.map((pour) => ({
                litres: litresOfText(pour.litres, units) ?? 0,
                levelMm: mmOfTyped(pour.level, units) ?? 0,
              })),
            )}
            voice={voice}
          />
          <p>
            {result.overflowMm === null ? (
              <Sign kind="soon">{voice.say('commission.port_not_reached')}</Sign>
            ) : (
              voice.say('commission.port_at', { overflowMm: result.overflowMm })
            )}
          </p>
          <button
            type="button"
            class="press press--first press--large"
            disabled={busy}
            onClick={() => run(() => look(pours, true))}
          >
            {voice.say('commission.take_table')}
          </button>
        </>
      ) : null}
    </div>
  );
}

const LEAST_POURS = 3;

function totals(pours: readonly { readonly litres: number; readonly levelMm: number }[]) {
  let totalLitres = 0;
  return pours.map((pour) => {
    totalLitres += pour.litres;
    return { totalLitres, levelMm: pour.levelMm };
  });
}
