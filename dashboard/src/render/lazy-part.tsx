import { type ComponentType, createContext } from 'preact';
import { useContext, useEffect, useState } from 'preact/hooks';
import type { Voice } from '../state/voice.js';
import { Sign } from './sign.js';

/** The voice of the whole page; null only outside of it. */
export const VoiceSlot = createContext<Voice | null>(null);

/**
 * A part of the page that is fetched when it is first shown, and stays. Until it and all its texts are there, the place
 * says that it loads; where they cannot be fetched, it says so and offers to try again.
 */
export function lazyPart<Props extends object>(load: () => Promise<ComponentType<Props>>): ComponentType<Props> {
  let Part: ComponentType<Props> | null = null;
  return function LazyPart(props: Props) {
    const voice = useContext(VoiceSlot);
    const [, redraw] = useState(0);
    const [failed, setFailed] = useState(false);
    const [attempt, setAttempt] = useState(0);
    useEffect(() => {
      if (Part !== null) return undefined;
      let wanted = true;
      load()
        .then((made) => {
          Part = made;
          if (wanted) redraw((count) => count + 1);
        })
        .catch((fault: unknown) => {
          console.warn('a part of the page could not be fetched', fault);
          if (wanted) setFailed(true);
        });
      return () => {
        wanted = false;
      };
    }, [attempt]);
    if (voice === null) throw new Error('a part of the page was rendered outside of it');
    if (Part !== null && voice.complete) return <Part {...props} />;
    if (!failed) {
      return (
        <p class="soft load" role="status">
          {voice.say('load.loading')}
        </p>
      );
    }
    return (
      <div class="notice" role="status">
        <Sign kind="soon">{voice.say('load.failed_title')}</Sign>
        <p>{voice.say('load.no_connection_empty')}</p>
        <button
          type="button"
          class="press"
          onClick={() => {
            setFailed(false);
            setAttempt(attempt + 1);
          }}
        >
          {voice.say('load.again')}
        </button>
      </div>
    );
  };
}
