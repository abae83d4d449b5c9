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
export function BalanceBars({ figures, voice }: { readonly figures: LedgerFigures; readonly voice: Voice }) {
  const balance = waterBalance(figures);
  if (balance.totalLitres <= 0) return null;
  return (
    <div class="balance">
      <Beam
        title={voice.say('water.from')}
        parts={balance.sources}
        total={balance.totalLitres}
        words={(kind: SourceKind) => voice.say(`water.source.${kind}`)}
        voice={voice}
      />
      <Beam
        title={voice.say('water.to')}
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
  parts,
  total,
  words,
  voice,
}: {
  readonly title: string;
  readonly parts: readonly BalancePart<Kind>[];
  readonly total: number;
  readonly words: (kind: Kind) => string;
  readonly voice: Voice;
}) {
  return (
    <section class="beam-block">
      <h3>{title}</h3>
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
