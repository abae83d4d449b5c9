import { formatLength, formatVolume } from '../../../src/domain/texts/render.js';
import type { Voice } from '../state/voice.js';

export interface BandPoint {
  readonly levelMm: number;
  readonly litres: number;
  readonly lowLitres: number;
  readonly highLitres: number;
}

const WIDTH = 340;
const HEIGHT = 220;
const LEFT = 52;
const BOTTOM = 30;
const TOP = 10;
const RIGHT = 16;

/** Litres against level with the band in which the truth lies nine times in ten, and the pours behind it. */
export function BandDrawing({
  band,
  pours,
  voice,
}: {
  readonly band: readonly BandPoint[];
  readonly pours: readonly { readonly totalLitres: number; readonly levelMm: number }[];
  readonly voice: Voice;
}) {
  const top = band[band.length - 1];
  if (top === undefined) return null;
  const mostMm = Math.max(top.levelMm, ...pours.map((pour) => pour.levelMm));
  const mostLitres = Math.max(...band.map((point) => point.highLitres), ...pours.map((pour) => pour.totalLitres));
  const x = (mm: number): string => (LEFT + ((WIDTH - LEFT - RIGHT) * mm) / mostMm).toFixed(1);
  const y = (litres: number): string => (HEIGHT - BOTTOM - ((HEIGHT - BOTTOM - TOP) * litres) / mostLitres).toFixed(1);
  const line = (pick: (point: BandPoint) => number, points = band): string =>
    points.map((point) => `${x(point.levelMm)} ${y(pick(point))}`).join(' L');
  const widest = Math.max(...band.map((point) => (point.highLitres - point.lowLitres) / 2));
  const ticks = [0.5, 1];
  return (
    <figure class="band">
      <svg
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        role="img"
        aria-label={voice.say('commission.band_alt', { levelMm: top.levelMm, litres: top.litres, halfLitres: widest })}
      >
        <path
          class="band-fill"
          d={`M${line((point) => point.lowLitres)} L${line((point) => point.highLitres, band.toReversed())} Z`}
        />
        <path class="band-line" d={`M${line((point) => point.litres)}`} />
        {pours.map((pour) => (
          <circle key={pour.totalLitres} class="band-pour" cx={x(pour.levelMm)} cy={y(pour.totalLitres)} r="4" />
        ))}
        <path class="band-axis" d={`M${LEFT} ${TOP} V${HEIGHT - BOTTOM} H${WIDTH - RIGHT}`} />
        {ticks.map((share) => (
          <g key={share} class="band-tick">
            <text x={LEFT - 6} y={Number(y(mostLitres * share)) + 4} text-anchor="end">
              {formatVolume(mostLitres * share, voice.reader)}
            </text>
            <text x={x(mostMm * share)} y={HEIGHT - BOTTOM + 18} text-anchor={share === 1 ? 'end' : 'middle'}>
              {formatLength(mostMm * share, voice.reader)}
            </text>
          </g>
        ))}
      </svg>
      <figcaption class="smallest soft">
        {voice.say('commission.band_words', { halfLitres: widest, shareFraction: widest / top.litres })}
      </figcaption>
    </figure>
  );
}
