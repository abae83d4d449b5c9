import { useEffect } from 'preact/hooks';
import { useApp } from './app-context.js';

export interface ToastWords {
  readonly text: string;
  readonly undo: (() => void) | null;
  readonly shownMs: number;
}

/** Long enough to read and to reach the button by keyboard. */
const STAYS_MS = 12_000;

/** What was just done, at the foot of the screen, with a way back. */
export function Toast({ words, onGone }: { readonly words: ToastWords | null; readonly onGone: () => void }) {
  const { voice } = useApp();
  useEffect(() => {
    if (words === null) return undefined;
    const timer = setTimeout(onGone, STAYS_MS);
    return () => clearTimeout(timer);
  }, [words]);
  return (
    <div class="toast" role="status">
      {words === null ? null : (
        <div key={words.shownMs} class="toast-words">
          <span>{words.text}</span>
          {words.undo === null ? null : (
            <button
              type="button"
              class="press"
              onClick={() => {
                words.undo?.();
                onGone();
              }}
            >
              {voice.say('today.undo')}
            </button>
          )}
        </div>
      )}
    </div>
  );
}
