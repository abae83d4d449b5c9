import { useEffect, useState } from 'preact/hooks';
import type { TableOfShape } from '../api/views.js';
import { lengthUnit, mmOfTyped, type TypedUnits } from '../state/typed-units.js';
import { useApp } from './app-context.js';
import { faultText } from './fault.js';
import { SelectField, TextField } from './fields.js';
import { Sign } from './sign.js';

export interface ShapedReservoir {
  readonly strapping: readonly (readonly [number, number])[];
  readonly overflowMm: number;
  readonly wickFootMm: number;
}

const ROUND = ['bottomDiameter', 'topDiameter'] as const;
const BOX = ['bottomLength', 'bottomWidth', 'topLength', 'topWidth'] as const;
const HEIGHTS = ['height', 'overflow', 'wickFoot'] as const;
/** Often all the same or none at all, so they may be left empty. */
const PARTS = ['feetCount', 'feetSide', 'wickSide'] as const;
type Field = (typeof ROUND)[number] | (typeof BOX)[number] | (typeof HEIGHTS)[number] | (typeof PARTS)[number];

const AFTER_TYPING_MS = 400;

/** Shape and size of the reservoir, inside, for a first table; the server computes it, and says what cannot be. */
export function ShapeFields({ onReservoir }: { readonly onReservoir: (reservoir: ShapedReservoir | null) => void }) {
  const { voice, client, me } = useApp();
  const { units } = me.person;
  const [kind, setKind] = useState<'round' | 'box'>('round');
  const [typed, setTyped] = useState<Partial<Record<Field, string>>>({});
  const [answer, setAnswer] = useState<TableOfShape | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const body = bodyOf(kind, typed, units);
  const asked = JSON.stringify(body);

  useEffect(() => {
    setAnswer(null);
    onReservoir(null);
    if (body === null) return undefined;
    let wanted = true;
    const timer = setTimeout(async () => {
      try {
        const found = (await client.send('POST', '/first-table', body)) as unknown as TableOfShape;
        if (!wanted) return;
        setFault(null);
        setAnswer(found);
        if (found.kind === 'table') {
          const { overflowMm, wickFootMm } = body.size;
          onReservoir({ strapping: found.strapping as ShapedReservoir['strapping'], overflowMm, wickFootMm });
        }
      } catch (error) {
        if (wanted) setFault(faultText(voice, error));
      }
    }, AFTER_TYPING_MS);
    return () => {
      wanted = false;
      clearTimeout(timer);
    };
  }, [asked]);

  const fieldsOf = (names: readonly Field[]) =>
    names.map((name) => (
      <TextField
        key={name}
        label={
          name === 'feetCount' ? voice.say('shape.feetCount') : `${voice.say(`shape.${name}`)} (${lengthUnit(units)})`
        }
        value={typed[name] ?? ''}
        required={!(PARTS as readonly string[]).includes(name)}
        onValue={(text) => setTyped({ ...typed, [name]: text })}
      />
    ));
  const top = answer?.kind === 'table' ? answer.strapping[answer.strapping.length - 1] : undefined;
  return (
    <fieldset class="rows rows--wide">
      <legend class="label">{voice.say('shape.title')}</legend>
      <p class="small soft">{voice.say('shape.text')}</p>
      <div class="sheet-fields">
        <SelectField
          label={voice.say('shape.kind')}
          value={kind}
          options={(['round', 'box'] as const).map((value) => ({ value, words: voice.say(`shape.kind.${value}`) }))}
          onValue={(value) => setKind(value === 'box' ? 'box' : 'round')}
        />
        {fieldsOf(kind === 'round' ? ROUND : BOX)}
        {fieldsOf(HEIGHTS)}
        {fieldsOf(PARTS)}
      </div>
      <div role="status">
        {fault === null ? null : <Sign kind="now">{fault}</Sign>}
        {answer?.kind === 'refused'
          ? answer.faults.map((one) => (
              <p key={one.pointer}>
                <Sign kind="now">
                  {nameOf(one.pointer) === null ? '' : `${voice.say(`shape.${nameOf(one.pointer) as Field}`)}: `}
                  {voice.tell(one.message)}
                </Sign>
              </p>
            ))
          : null}
        {top === undefined ? null : (
          <p>{voice.say('shape.holds', { litres: Number(top[1]), overflowMm: Number(top[0]) })}</p>
        )}
      </div>
    </fieldset>
  );
}

/** The field that a pointer such as `/size/overflowMm` means. */
function nameOf(pointer: string): Field | null {
  const name = pointer.split('/').at(-1)?.replace(/Mm$/, '') ?? '';
  return ([...ROUND, ...BOX, ...HEIGHTS] as readonly string[]).includes(name) ? (name as Field) : null;
}

function bodyOf(kind: 'round' | 'box', typed: Partial<Record<Field, string>>, units: TypedUnits) {
  const mm = (name: Field): number => mmOfTyped(typed[name] ?? '', units) ?? Number.NaN;
  const optional = (name: Field): number => ((typed[name] ?? '').trim() === '' ? 0 : mm(name));
  const count = Number((typed.feetCount ?? '').trim() === '' ? 0 : typed.feetCount);
  const shape =
    kind === 'round'
      ? { kind, bottomDiameterMm: mm('bottomDiameter'), topDiameterMm: mm('topDiameter') }
      : {
          kind,
          bottomLengthMm: mm('bottomLength'),
          bottomWidthMm: mm('bottomWidth'),
          topLengthMm: mm('topLength'),
          topWidthMm: mm('topWidth'),
        };
  const size = {
    heightMm: mm('height'),
    overflowMm: mm('overflow'),
    wickFootMm: mm('wickFoot'),
    feetAreaMm2: count * optional('feetSide') ** 2,
    wickAreaMm2: optional('wickSide') ** 2,
  };
  const numbers = [...Object.values(shape), ...Object.values(size)].filter((value) => typeof value === 'number');
  return numbers.every(Number.isFinite) ? { shape, size } : null;
}
