import { ApiRefusal, NoConnection } from '../api/client.js';
import type { LiveState } from '../state/live-cache.js';
import type { Voice } from '../state/voice.js';
import { useApp } from './app-context.js';
import { Sign } from './sign.js';

/** What went wrong, in words for a person. */
export function faultText(voice: Voice, fault: unknown): string {
  if (fault instanceof NoConnection) return voice.say('load.no_connection');
  if (fault instanceof ApiRefusal) {
    const { code, detail, faults } = fault.problem;
    const words = [detail, ...faults.map((one) => `${one.pointer}: ${one.detail}`)].join(' ');
    // The server says the particulars in English alone; for others the kind of refusal comes first.
    const reason = code === null || speaksEnglish(voice) ? '' : voice.tell({ code: `error.${code}`, params: {} });
    return reason === ''
      ? voice.say('load.refused', { detail: words })
      : voice.say('load.refused_in_english', { reason, detail: words });
  }
  return fault instanceof Error ? fault.message : String(fault);
}

const speaksEnglish = (voice: Voice): boolean => voice.reader.locale.startsWith('en');

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
