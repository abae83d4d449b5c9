import type { Voice } from '../state/voice.js';
import {
  type BalancePart,
  type FateKind,
  type LedgerFigures,
  type SourceKind,
  waterBalance,
} from '../state/water-balance.js';

const percent = (share: number): string => `${(share * 100).toFixed(3)}%`;

/**
 * The account of a period as two beams of equal length: what came in over what went out. They end flush because every
 * litre is accounted for; what cannot be attributed is drawn as such.
 */
export function BalanceBars({
  figures,
  voice,
  heading,
}: {
  readonly figures: LedgerFigures;
  readonly voice: Voice;
  /** One below the heading that it stands under. */
  readonly heading: 'h2' | 'h3';
}) {
  const balance = waterBalance(figures);
  if (balance.totalLitres <= 0) return null;
  return (
    <div class="balance">
      <Beam
        title={voice.say('water.from')}
        heading={heading}
        parts={balance.sources}
        total={balance.totalLitres}
        words={(kind: SourceKind) => voice.say(`water.source.${kind}`)}
        voice={voice}
      />
      <Beam
        title={voice.say('water.to')}
        heading={heading}
        parts={balance.fates}
        total={balance.totalLitres}
        words={(kind: FateKind) => voice.say(`water.fate.${kind}`)}
        voice={voice}
      />
    </div>
  );
}

function Beam<Kind extends string>({
  title,
  heading: Heading,
  parts,
  total,
  words,
  voice,
}: {
  readonly title: string;
  readonly heading: 'h2' | 'h3';
  readonly parts: readonly BalancePart<Kind>[];
  readonly total: number;
  readonly words: (kind: Kind) => string;
  readonly voice: Voice;
}) {
  return (
    <section class="beam-block">
      <Heading>{title}</Heading>
      <div class="beam" aria-hidden="true">
        {parts.map((part) => (
          <i
            key={part.kind}
            class={`beam-part beam-part--${part.kind}`}
            style={{ width: percent(part.litres / total) }}
          />
        ))}
      </div>
      <ul class="beam-words">
        {parts.map((part) => (
          <li key={part.kind}>
            <i class={`beam-key beam-part--${part.kind}`} aria-hidden="true" />
            <span>{words(part.kind)}</span>
            <strong>{voice.say('quantity.litres', { litres: part.litres })}</strong>
          </li>
        ))}
      </ul>
    </section>
  );
}
