import { useState } from 'preact/hooks';
import type { AlarmView } from '../api/views.js';
import { AlarmHealth } from './alarm-health.js';
import { AlarmLine, isHeld, isUnacknowledged } from './alarm-line.js';
import { AlarmNumbers, type OverridePlace } from './alarm-numbers.js';
import { useApp, useLive } from './app-context.js';
import { LoadState } from './fault.js';
import { UndeliveredList } from './undelivered.js';

type Group = 'unacknowledged' | 'acknowledged' | 'held';

const GROUPS: readonly Group[] = ['unacknowledged', 'acknowledged', 'held'];

function groupOf(view: AlarmView): Group {
  if (isHeld(view)) return 'held';
  return isUnacknowledged(view) ? 'unacknowledged' : 'acknowledged';
}

/** All alarms that stand, by state; below, for those who answer for them, how they do and how they are set. */
export function AlarmsScreen() {
  const { voice, me, resources, cache } = useApp();
  const [setting, setSetting] = useState<OverridePlace | null>(null);
  const query = resources.alarms();
  const state = useLive(query);
  return (
    <div class="alarms">
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
      {me.permissions['undelivered.act'] === 'none' ? null : <UndeliveredList />}
      {me.permissions['alarms.act'] === 'none' ? null : (
        <>
          <AlarmHealth onSet={setSetting} />
          <AlarmNumbers setting={setting} onSetting={setSetting} />
        </>
      )}
    </div>
  );
}
