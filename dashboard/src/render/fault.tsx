import { ApiRefusal, NoConnection } from '../api/client.js';
import type { LiveState } from '../state/live-cache.js';
import type { Voice } from '../state/voice.js';
import { useApp } from './app-context.js';
import { Sign } from './sign.js';

/** What went wrong, in words for a person. */
export function faultText(voice: Voice, fault: unknown): string {
  if (fault instanceof NoConnection) return voice.say('load.no_connection');
  if (fault instanceof ApiRefusal) {
    const { detail, faults } = fault.problem;
    return voice.say('load.refused', {
      detail: [detail, ...faults.map((one) => `${one.pointer}: ${one.detail}`)].join(' '),
    });
  }
  return fault instanceof Error ? fault.message : String(fault);
}

/** Stands where a view should be while it is not there; nothing while it is. */
export function LoadState({ state, onAgain }: { readonly state: LiveState<unknown>; readonly onAgain: () => void }) {
  const { voice } = useApp();
  if (state.fault === null) {
    return state.data === null ? (
      <p class="soft load" role="status">
        {voice.say('load.loading')}
      </p>
    ) : null;
  }
  const text =
    state.data === null && state.fault instanceof NoConnection
      ? voice.say('load.no_connection_empty')
      : faultText(voice, state.fault);
  return (
    <div class="notice" role="status">
      <Sign kind="soon">{voice.say('load.failed_title')}</Sign>
      <p>{text}</p>
      <button type="button" class="press" onClick={onAgain}>
        {voice.say('load.again')}
      </button>
    </div>
  );
}
