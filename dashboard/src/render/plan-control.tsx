import { useRef } from 'preact/hooks';
import type { RoundView, StopView } from '../api/views.js';
import { sayWork } from '../state/words.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';
import { Sign } from './sign.js';

export interface Technician {
  readonly id: string;
  readonly name: string;
}

/** Who goes to a stop, and the way to put it on somebody's round, by mouse, touch and keyboard alike. */
export function PlanControl({
  stop,
  day,
  technicians,
  rounds,
}: {
  readonly stop: StopView;
  readonly day: string;
  /** Null while they are not yet known. */
  readonly technicians: readonly Technician[] | null;
  readonly rounds: readonly RoundView[];
}) {
  const { voice, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const fold = useRef<HTMLDetailsElement>(null);
  const plan = stop.plan;

  function close(): void {
    if (fold.current === null) return;
    fold.current.open = false;
    fold.current.querySelector('summary')?.focus();
  }

  async function settled(work: () => Promise<void>): Promise<boolean> {
    try {
      await work();
      await Promise.all([cache.refresh('today'), cache.refresh(`rounds/${day}/null`)]);
      return true;
    } catch (fault) {
      announce(voice.say('today.did_fail', { detail: faultText(voice, fault) }));
      return false;
    }
  }

  const put = (technicianId: string, position: number | null): Promise<void> =>
    client.send('POST', '/rounds/stops', { siteId: stop.siteId, technicianId, day, position }).then(() => {});

  const takeOff = (stopId: string): Promise<void> =>
    client.send('DELETE', `/rounds/stops/${encodeURIComponent(stopId)}`, null).then(() => {});

  async function planFor(technician: Technician): Promise<void> {
    const before = plan;
    let madeId: string | null = null;
    const ok = await settled(async () => {
      const made = await client.send<{ readonly id: string }>('POST', '/rounds/stops', {
        siteId: stop.siteId,
        technicianId: technician.id,
        day,
        position: null,
      });
      madeId = made.id;
    });
    if (!ok) return;
    close();
    announce(voice.say('today.did_plan', { site: stop.siteName, name: technician.name }), () => {
      void settled(async () => {
        if (before !== null) await put(before.technicianId, before.position);
        else if (madeId !== null) await takeOff(madeId);
      });
    });
  }

  async function unplan(stopId: string, technicianId: string, position: number): Promise<void> {
    if (!(await settled(() => takeOff(stopId)))) return;
    close();
    announce(voice.say('today.did_unplan', { site: stop.siteName }), () => {
      void settled(() => put(technicianId, position));
    });
  }

  return (
    <div class="plan">
      {plan === null ? (
        <Sign kind="plain">{voice.say('sign.not_planned')}</Sign>
      ) : (
        <Sign kind="good">
          {voice.say('today.planned', { name: plan.technicianName, position: plan.position + 1 })}
        </Sign>
      )}
      {plan !== null && plan.state !== 'planned' ? null : (
        <details
          ref={fold}
          class="plan-fold"
          onKeyDown={(event) => {
            if (event.key === 'Escape') close();
          }}
          onFocusOut={(event) => {
            const next = event.relatedTarget;
            if (fold.current !== null && next instanceof Node && !fold.current.contains(next))
              fold.current.open = false;
          }}
        >
          <summary
            class={plan === null ? 'press' : 'press press--plain'}
            aria-label={voice.say(plan === null ? 'today.plan_for' : 'today.plan_change_for', { site: stop.siteName })}
          >
            {voice.say(plan === null ? 'today.plan' : 'today.plan_change')}
          </summary>
          <div class="plan-choices">
            <p class="label">{voice.say('today.plan_whose')}</p>
            {technicians !== null && technicians.length === 0 ? (
              <p class="small">{voice.say('today.plan_nobody')}</p>
            ) : null}
            <ul>
              {technicians?.map((technician) => {
                const round = rounds.find((one) => one.technicianId === technician.id);
                return (
                  <li key={technician.id}>
                    <button
                      type="button"
                      class="press plan-choice"
                      disabled={busy || plan?.technicianId === technician.id}
                      onClick={() => run(() => planFor(technician))}
                    >
                      <span>{technician.name}</span>
                      <span class="soft smallest">
                        {round === undefined || round.stops.length === 0
                          ? voice.say('today.round_empty')
                          : voice.say('today.round_load', {
                              stops: round.stops.length,
                              litres: round.litres,
                              work: sayWork(voice, round.minutes),
                            })}
                      </span>
                    </button>
                  </li>
                );
              })}
            </ul>
            {plan === null ? null : (
              <button
                type="button"
                class="press"
                disabled={busy}
                onClick={() => run(() => unplan(plan.stopId, plan.technicianId, plan.position))}
              >
                {voice.say('today.plan_off')}
              </button>
            )}
          </div>
        </details>
      )}
    </div>
  );
}
