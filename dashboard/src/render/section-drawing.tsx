import { formatLength } from '../../../src/domain/texts/render.js';
import { majorTick, type SectionInput, sectionLayout, spreadLabels } from '../state/section-layout.js';
import type { Voice } from '../state/voice.js';

const LABEL_GAP = 17;

interface Label {
  readonly kind: 'water' | 'overflow' | 'wick' | 'leak';
  readonly words: string;
  readonly y: number;
  readonly fromX: number;
}

/** This very reservoir in section: staff, water, wick, port, and where a leak is suspected. */
export function SectionDrawing({
  input,
  voice,
}: {
  readonly input: Omit<SectionInput, 'majorTickMm'>;
  readonly voice: Voice;
}) {
  const { strapping } = input;
  const spanMm = strapping[strapping.length - 1]![0] - strapping[0]![0];
  const layout = sectionLayout({ ...input, majorTickMm: majorTick(spanMm, voice.reader.units.length) });
  const { axisX, labelX } = layout;
  const labels: Label[] = [
    {
      kind: 'overflow',
      words: voice.say('pot.section_overflow', { overflowMm: input.overflowMm }),
      y: layout.invertY,
      fromX: axisX + layout.invertHalf + 16,
    },
    {
      kind: 'wick',
      words: voice.say('pot.section_wick', { wickFootMm: input.wickFootMm }),
      y: layout.wickFootY,
      fromX: axisX + layout.wickHalf,
    },
  ];
  if (layout.levelY !== null) {
    labels.push({
      kind: 'water',
      words: voice.say('pot.section_water', { levelMm: input.levelMm }),
      y: layout.levelY,
      fromX: axisX + layout.levelHalf,
    });
  }
  if (layout.leakY !== null) {
    labels.push({
      kind: 'leak',
      words: voice.say('pot.section_leak', { heightMm: input.leakMm }),
      y: layout.leakY,
      fromX: axisX + layout.leakHalf + 12,
    });
  }
  const placed = spreadLabels(
    labels.map((label) => label.y),
    LABEL_GAP,
    layout.soilTopY,
    layout.floorY + 6,
  );
  const staffX = 40;
  const alt =
    input.levelMm === null
      ? voice.say('pot.section_alt_unknown', { overflowMm: input.overflowMm, wickFootMm: input.wickFootMm })
      : voice.say('pot.section_alt', {
          levelMm: input.levelMm,
          overflowMm: input.overflowMm,
          wickFootMm: input.wickFootMm,
        });
  const tubeX = axisX - layout.plateHalf * 0.62;
  return (
    <figure class="section-drawing">
      <svg viewBox={`0 0 ${layout.width} ${layout.height.toFixed(0)}`} role="img" aria-label={alt}>
        <rect
          class="section-soil"
          x={axisX - layout.plateHalf}
          y={layout.soilTopY}
          width={layout.plateHalf * 2}
          height={layout.plateY - layout.soilTopY}
        />
        <path class="section-hollow" d={layout.vesselPath} />
        <path class="section-water" d={layout.waterPath} />
        <rect
          class="section-wick"
          x={axisX - layout.wickHalf}
          y={layout.plateY}
          width={layout.wickHalf * 2}
          height={layout.wickFootY - layout.plateY}
        />
        <path
          class="section-tube"
          d={`M${tubeX - 4} ${layout.soilTopY - 14} V${layout.floorY - 8} M${tubeX + 4} ${layout.soilTopY - 14} V${layout.floorY - 8}`}
        />
        <path
          class="section-plate"
          d={`M${axisX - layout.plateHalf} ${layout.plateY} H${axisX - layout.wickHalf} M${axisX + layout.wickHalf} ${layout.plateY} H${axisX + layout.plateHalf}`}
        />
        <path class="section-pot" d={layout.potPath} />
        <path
          class="section-port"
          d={`M${axisX + layout.invertHalf - 2} ${layout.invertY} h16 v6 M${axisX + layout.invertHalf - 2} ${layout.invertY - 7} h16`}
        />
        <path
          class="section-foot"
          d={`M${axisX - layout.wickHalf - 10} ${layout.wickFootY} H${axisX + layout.wickHalf + 10}`}
        />
        {layout.levelY === null ? null : (
          <path
            class="section-level"
            d={`M${axisX - layout.levelHalf} ${layout.levelY} H${axisX + layout.levelHalf}`}
          />
        )}
        {layout.leakY === null ? null : (
          <path
            class="section-leak"
            d={`M${axisX + layout.leakHalf - 3} ${layout.leakY} l12 -3 m-12 3 l12 5 M${axisX + layout.leakHalf + 11} ${layout.leakY + 5} q4 7 0 9 q-4 -2 0 -9`}
          />
        )}
        <g class="section-staff">
          <path d={`M${staffX} ${layout.floorY} V${layout.plateY}`} />
          {layout.ticks.map((tick) => (
            <path key={tick.levelMm} d={`M${staffX} ${tick.y} h${tick.major ? -10 : -5}`} />
          ))}
          {layout.ticks
            .filter((tick) => tick.major)
            .map((tick) => (
              <text key={tick.levelMm} x={staffX - 13} y={tick.y + 4} text-anchor="end">
                {formatLength(tick.levelMm, voice.reader).replace(/\s.*$/, '')}
              </text>
            ))}
        </g>
        <g>
          {labels.map((label, i) => (
            <g key={label.kind} class={`section-label section-label--${label.kind}`}>
              <path d={`M${label.fromX + 2} ${label.y} L${labelX - 6} ${placed[i]}`} />
              <text x={labelX} y={placed[i]! + 4}>
                {label.words}
              </text>
            </g>
          ))}
        </g>
      </svg>
      <figcaption class="smallest soft">
        {layout.stretch < 1.05
          ? voice.say('pot.section_note')
          : voice.say('pot.section_note_stretched', { times: Math.round(layout.stretch * 10) / 10 })}
      </figcaption>
    </figure>
  );
}
