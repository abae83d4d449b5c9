import type { AlarmView } from '../api/views.js';
import { AlarmLine, isHeld, isUnacknowledged } from './alarm-line.js';
import { useApp, useLive } from './app-context.js';
import { LoadState } from './fault.js';

type Group = 'unacknowledged' | 'acknowledged' | 'held';

const GROUPS: readonly Group[] = ['unacknowledged', 'acknowledged', 'held'];

function groupOf(view: AlarmView): Group {
  if (isHeld(view)) return 'held';
  return isUnacknowledged(view) ? 'unacknowledged' : 'acknowledged';
}

/** All alarms that stand, by state. */
export function AlarmsScreen() {
  const { voice, resources, cache } = useApp();
  const query = resources.alarms();
  const state = useLive(query);
  return (
    <>
      <h1>{voice.say('alarms.title')}</h1>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data !== null && state.data.length === 0 ? <p class="empty-line say">{voice.say('alarms.none')}</p> : null}
      {GROUPS.map((group) => {
        const own = state.data?.filter((view) => groupOf(view) === group) ?? [];
        return own.length === 0 ? null : (
          <section key={group} class="alarm-group" aria-labelledby={`alarms-${group}`}>
            <h2 id={`alarms-${group}`}>
              {voice.say(`alarms.group.${group}`)} <span class="soft">{own.length}</span>
            </h2>
            <ul class="alarm-lines">
              {own.map((view) => (
                <AlarmLine key={view.alarm.id} view={view} full />
              ))}
            </ul>
          </section>
        );
      })}
    </>
  );
}
