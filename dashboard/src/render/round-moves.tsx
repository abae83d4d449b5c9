import { useRef } from 'preact/hooks';
import type { RoundStopView, RoundView } from '../api/views.js';
import { sayWork } from '../state/words.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';

interface Place {
  readonly technicianId: string;
  readonly position: number;
}

interface StopMove {
  readonly stopId: string;
  readonly from: Place;
  readonly to: Place;
}

/** What the dispatcher may do to planned stops; each way says what it did and can be undone. */
function useMoves(roundsKey: string) {
  const { voice, client, cache, announce } = useApp();
  const [busy, run] = useBusy();

  /** @returns the id that the stop has then: on another round it is another stop */
  const move = async (stopId: string, place: Place): Promise<string> => {
    const address = `/rounds/stops/${encodeURIComponent(stopId)}`;
    return (await client.send<{ readonly id: string }>('PUT', address, { ...place, day: null })).id;
  };

  const shown = async (): Promise<void> => {
    await Promise.all([cache.refresh(roundsKey), cache.refresh('today')]);
  };

  async function back(moved: readonly { readonly stopId: string; readonly from: Place }[]): Promise<void> {
    try {
      // Last first, so that each finds its place as it was.
      for (const one of moved.toReversed()) await move(one.stopId, one.from);
    } catch (fault) {
      announce(voice.say('today.did_fail', { detail: faultText(voice, fault) }));
    }
    await shown();
  }

  function apply(moves: readonly StopMove[], done: string): void {
    run(async () => {
      const moved: { stopId: string; from: Place }[] = [];
      try {
        for (const one of moves) moved.push({ stopId: await move(one.stopId, one.to), from: one.from });
        announce(done, () => void back(moved));
      } catch (fault) {
        announce(voice.say('today.did_fail', { detail: faultText(voice, fault) }));
      }
      await shown();
    });
  }

  return { busy, apply };
}

const placeOf = (view: RoundStopView): Place => ({
  technicianId: view.stop.technicianId,
  position: view.stop.position,
});

function Load({
  round,
  moreStops,
  moreLitres,
  moreMinutes,
}: {
  readonly round: RoundView;
  readonly moreStops: number;
  readonly moreLitres: number;
  readonly moreMinutes: number;
}) {
  const { voice } = useApp();
  return (
    <span class="soft smallest">
      {voice.say('moves.then_has', {
        stops: round.stops.length + moreStops,
        litres: round.litres + moreLitres,
        work: sayWork(voice, round.minutes + moreMinutes),
      })}
    </span>
  );
}

/** Order and owner of one planned stop. */
export function StopMoves({
  view,
  round,
  rounds,
  roundsKey,
}: {
  readonly view: RoundStopView;
  readonly round: RoundView;
  readonly rounds: readonly RoundView[];
  readonly roundsKey: string;
}) {
  const { voice } = useApp();
  const { busy, apply } = useMoves(roundsKey);
  const fold = useRef<HTMLDetailsElement>(null);
  const site = view.site.siteName;
  const index = round.stops.indexOf(view);
  const others = rounds.filter((one) => one.technicianId !== round.technicianId);
  if (view.stop.state !== 'planned') return null;

  function reorder(by: 1 | -1): void {
    const to = { technicianId: round.technicianId, position: index + by };
    apply(
      [{ stopId: view.stop.id, from: { ...placeOf(view), position: index }, to }],
      voice.say('moves.did_order', { site, position: index + by + 1 }),
    );
  }

  return (
    <details ref={fold} class="moves no-print">
      <summary class="press" aria-label={voice.say('moves.title_for', { site })}>
        {voice.say('moves.title')}
      </summary>
      <div class="moves-choices">
        <button
          type="button"
          class="press"
          disabled={busy || index <= 0}
          aria-label={voice.say('moves.earlier_for', { site })}
          onClick={() => reorder(-1)}
        >
          {voice.say('moves.earlier')}
        </button>
        <button
          type="button"
          class="press"
          disabled={busy || index >= round.stops.length - 1}
          aria-label={voice.say('moves.later_for', { site })}
          onClick={() => reorder(1)}
        >
          {voice.say('moves.later')}
        </button>
        {others.length === 0 ? null : <p class="label">{voice.say('moves.give')}</p>}
        {others.map((other) => (
          <button
            key={other.technicianId}
            type="button"
            class="press plan-choice"
            disabled={busy}
            onClick={() =>
              apply(
                [
                  {
                    stopId: view.stop.id,
                    from: { ...placeOf(view), position: index },
                    to: { technicianId: other.technicianId, position: other.stops.length },
                  },
                ],
                voice.say('moves.did_give', { site, name: other.technicianName }),
              )
            }
          >
            <span>{other.technicianName}</span>
            <Load round={other} moreStops={1} moreLitres={view.site.litres} moreMinutes={view.site.minutes} />
          </button>
        ))}
      </div>
    </details>
  );
}

/** A technician is off: what is not done goes to somebody else as a whole. */
export function WholeRoundMove({
  round,
  rounds,
  roundsKey,
}: {
  readonly round: RoundView;
  readonly rounds: readonly RoundView[];
  readonly roundsKey: string;
}) {
  const { voice } = useApp();
  const { busy, apply } = useMoves(roundsKey);
  const open = round.stops.filter((view) => view.stop.state === 'planned');
  const others = rounds.filter((one) => one.technicianId !== round.technicianId);
  if (open.length === 0) return null;
  return (
    <details class="moves no-print">
      <summary class="press">{voice.say('moves.whole')}</summary>
      <div class="moves-choices">
        <p class="small">{voice.say(others.length === 0 ? 'moves.nobody_else' : 'moves.whole_why')}</p>
        {others.map((other) => (
          <button
            key={other.technicianId}
            type="button"
            class="press plan-choice"
            disabled={busy}
            onClick={() =>
              apply(
                open.map((view, i) => ({
                  stopId: view.stop.id,
                  from: { ...placeOf(view), position: round.stops.indexOf(view) },
                  to: { technicianId: other.technicianId, position: other.stops.length + i },
                })),
                voice.say('moves.did_whole', { stops: open.length, name: other.technicianName }),
              )
            }
          >
            <span>{other.technicianName}</span>
            <Load
              round={other}
              moreStops={open.length}
              moreLitres={open.reduce((sum, view) => sum + view.site.litres, 0)}
              moreMinutes={open.reduce((sum, view) => sum + view.site.minutes, 0)}
            />
          </button>
        ))}
      </div>
    </details>
  );
}
